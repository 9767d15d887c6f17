"""The first visit: an empty bench offers a demo, an import, or three questions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

import pairing_demo_data
from pairing.errors import StoreError
from pairing.quantities.directions import parse_direction
from pairing.store.rights import OWNER
from pairing_dashboard import importing, parts, people, session
from pairing_dashboard.shelf_form import new_id

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["needed"]


def needed() -> Bench:
    """Open a bench with something on its shelf; without one offer to begin, and stop the page there.

    Where nothing that is done on a page can be kept, it says so.
    """
    found = session.bench()
    if found is not None and found.read_only:
        st.info("This bench may be read only: ask and export as you like, nothing new is kept.", icon=":material/lock:")
    if found is None or not (session.shelf(found).bases and session.shelf(found).flavourings):
        _offer(found)
        st.stop()
    return found


def _offer(bench: Bench | None) -> None:
    """Offer three ways to begin."""
    st.subheader("This bench is empty. Three ways to begin", anchor=False)
    demo, tables, questions = st.tabs(["Look at a demo", "Import tables", "Three questions"])
    with demo:
        st.write(
            "An invented rowing club's kitchen with four plain bases, invented suppliers and a season of cups. "
            "It is copied into this bench; undo takes it out again."
        )
        if st.button("Fill the bench with the demo", type="primary", icon=":material/rowing:"):
            with st.spinner("Copying the demo …"):
                parts.attempt(_demo, bench)
            st.rerun()
    with tables:
        importing.show(bench, make=_made)
    with questions:
        _ask(bench)


def _made() -> Bench:
    from pairing.bench import Bench

    author, role = people.who()
    if role != OWNER:
        raise StoreError("there is no bench here yet", f"ask an owner to make it; you are a {role}")
    return Bench.create(session.bench_path(), author=author)


def _demo(bench: Bench | None) -> None:
    tables: dict[str, Any] = {**pairing_demo_data.files()}
    (bench or _made()).load(**tables)
    parts.remember("The demo is on the bench.")


def _ask(bench: Bench | None) -> None:
    """Name one base, one flavouring and its label direction: enough for the first cup."""
    with st.form("three", border=False):
        base = st.text_input("1. Which plain drink do you want to flavour?", placeholder="for example: oat drink")
        flavouring = st.text_input("2. Which flavouring is at hand?", placeholder="for example: plum drops")
        dose = st.text_input("3. How much does its label say?", placeholder="for example: 3 drops per 100 ml")
        for_food = st.checkbox("The label says that it is for food: only that is ever suggested")
        if not st.form_submit_button("Begin", type="primary"):
            return
    if not (base.strip() and flavouring.strip() and dose.strip()):
        st.warning("All three are needed: a base, a flavouring, and what its label says.")
        return
    if parts.attempt(_first, bench, base, flavouring, dose, for_food):
        st.rerun()
    parts.said()


def _first(bench: Bench | None, base: str, flavouring: str, dose: str, for_food: bool) -> bool:
    import pandas as pd

    direction = parse_direction(dose)  # refuse an unreadable direction before anything is written
    facts = {"name": flavouring.strip(), "label_dose": dose.strip(), "food_use": "yes" if for_food else None}
    session.taken(
        (bench or _made()).load(
            bases=pd.DataFrame([{"base_id": new_id(base, ()), "name": base.strip()}]),
            flavourings=pd.DataFrame([{"flavouring_id": new_id(flavouring, ()), **facts}]),
        )
    )
    parts.remember(
        f"{base.strip()} and {flavouring.strip()} are on the shelf; its label is read as {direction}. Start the first "
        "cup here, or put more on the Shelf, under More."
    )
    return True
