"""Lots on the screen: what is left, what can be done with a bottle, and what a batch of recipes lacks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.report.lots import FLAGS, about_g, called, left, lot_lines
from pairing_dashboard import parts, session
from pairing_dashboard.wording import cell, entered, md, number

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.stock.reckon import Held

__all__ = ["show"]

MOST_LITRES = 1000


def show(bench: Bench) -> None:
    """Draw what is left, what a bottle asks for, and the shopping list."""
    names, lots = session.shelf(bench).names, _lots(session.bench_path(), bench.revision, bench)
    here = [one for one in lots if one.lot.emptied_at is None]
    if here:
        rows = [(names.get(one.lot.item_id, one.lot.item_id), called(one), left(one), _until(one)) for one in here]
        parts.table(rows, ("What", "Lot", "Left>", "Until"), "As cups drew on it and the scale settled it")
    else:
        st.write("No bottle is entered. Cups are counted against a bottle from the day on which it was bought.")
    for one in here:
        for flag in one.flags:
            st.warning(f"{md(names.get(one.lot.item_id, one.lot.item_id))}, lot {md(one.lot.lot)}: {md(FLAGS[flag])}.")
    if bench.holds("readings", "lot") and (lines := lot_lines(session.model(bench))):
        st.markdown("\n".join(f"- {md(line)}" for line in lines))
    if here:
        with st.expander("Open, weigh or empty one", icon=":material/scale:", key="handle"):
            _handle(bench, here, names)
    with st.expander("Enter one as bought", icon=":material/add:", key="buy"):
        _buy(bench, names)
    with st.expander("What to buy for a batch", icon=":material/shopping_cart:", key="shop"):
        _shop(bench)


@st.cache_resource(show_spinner=False, max_entries=2)
def _lots(path: str, revision: int, _bench: Bench) -> tuple[Held, ...]:
    return _bench.lots()


def _until(one: Held) -> str:
    if one.lot.use_by:
        return f"use by {one.lot.use_by}"
    return f"best before {one.lot.best_before}" if one.lot.best_before else "–"


def _handle(bench: Bench, here: list[Held], names: Any) -> None:
    place = st.selectbox(
        "Which",
        range(len(here)),
        format_func=lambda n: f"{names.get(here[n].lot.item_id, here[n].lot.item_id)}, lot {called(here[n])}",
        key="lot",
    )
    if place is None:
        return
    one = here[place].lot
    gross = st.text_input("Bottle and what is in it, g", max_chars=20, key=f"gross-{one.item_id}-{one.lot}").strip()
    with st.container(horizontal=True):
        if st.button("Weigh", type="primary", disabled=not gross):
            _do(f"Lot {one.lot} is weighed: it is the one in use.",
                lambda: bench.weigh(one.item_id, entered(gross, 0, 1e6), one.lot))  # fmt: skip
        if one.opened_at is None and st.button("It is open now"):
            _do(f"Lot {one.lot} is open.", lambda: bench.mark_lot(one.item_id, "opened_at", one.lot))
        if st.button("It is empty"):
            _do(f"Lot {one.lot} is empty.", lambda: bench.mark_lot(one.item_id, "emptied_at", one.lot))
    st.html('<p class="quiet">Of several open ones the one weighed or named last is in use.</p>')


def _buy(bench: Bench, names: Any) -> None:
    with st.form("buy-lot", border=False):
        item = st.selectbox("What", list(names), format_func=names.__getitem__, index=None, placeholder="choose one")
        size = st.text_input("Size, as sold: 30 ml, 1 kg", max_chars=40)
        facts = {
            "lot": st.text_input("Lot, numbered if empty", max_chars=80),
            "price": st.text_input(f"Price, {bench.settings['currency']}", max_chars=20),
            "tare_g": st.text_input("The empty bottle, g", max_chars=20),
            "bought_at": st.text_input("Bought", cell(date.today().isoformat()), max_chars=20),
            "opened_at": st.text_input("Opened, empty if not yet", max_chars=20),
            "best_before": st.text_input("Best before", max_chars=20),
            "use_by": st.text_input("Use by: past that day it is stopped", max_chars=20),
        }
        if not st.form_submit_button("Enter it", type="primary"):
            return
    given: dict[str, Any] = {name: text.strip() for name, text in facts.items() if text.strip()}
    if item is None or not size.strip():
        st.info("Say what was bought, and how much.")
        return

    def buy() -> None:
        for name in ("price", "tare_g"):
            if name in given:
                given[name] = entered(given[name], 0, 1e6, "", name)
        bench.buy(item, size.strip(), **given)

    _do(f"{names[item]} is entered.", buy)


def _do(said: str, action: Callable[[], Any]) -> None:
    def act() -> bool:
        action()
        parts.remember(said)
        return True

    parts.attempt(act)
    st.rerun()


def _shop(bench: Bench) -> None:
    kept = sorted(set(session.table(bench, "recipes")["recipe_id"]))
    chosen = st.multiselect("Recipes that are kept", kept, key="shop-recipes", placeholder="none chosen")
    text = st.text_input("Or one written out: base|flavouring=g/kg;…", max_chars=400, key="shop-text").strip()
    litres = st.text_input("Litres of base, of each", "1", max_chars=10, key="shop-litres")
    if not chosen and not text:
        return
    try:
        needs = bench.shopping_list([*chosen, *([text] if text else [])], entered(litres, 0, MOST_LITRES, "l"))
    except PairingError as error:
        parts.problem(error)
        return
    currency = bench.settings["currency"]
    rows = [
        (
            need.name,
            f"{number(need.need_g)} g",
            about_g(need.held_g),
            "–" if need.buy_g == 0 else f"{number(need.need_g if need.buy_g is None else need.buy_g)} g"
            + (f" ({need.bottles} × {need.size})" if need.bottles else ""),
            f"{number(need.cost)} {currency}" if need.cost is not None else "unknown",
        )
        for need in needs
    ]  # fmt: skip
    parts.table(rows, ("What", "Needs>", "There>", "Buy>", "Cost>"), f"For {litres} litres of base of each")
