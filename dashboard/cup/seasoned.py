"""Keeping a cup's sweetener, salt and acid as a version of its base: balance first, aroma after."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing.model.recipe import Recipe
from pairing.nutrition.seasoning import seasoned
from pairing_dashboard import parts, session
from pairing_dashboard.wording import joined, md

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.cup import Cup

__all__ = ["ask"]


def ask(bench: Bench, made: Cup) -> None:
    """Offer to keep the seasonings of a cup as a base; nothing where it holds none."""
    shelf = session.shelf(bench)
    inside = {i: d for i, d in made.dose_g_per_kg.items() if shelf.flavouring(i).role == "seasoning"}
    if not inside or bench.read_only:
        return
    names = joined(shelf.flavouring(i).name for i in inside)
    with st.expander("Keep its seasoning as a base", icon=":material/grain:"):
        st.markdown(f"The {md(shelf.base(made.base_id).name)} with {md(names)} as in this cup, without any aroma.")
        name = st.text_input("Name of the base", f"{shelf.base(made.base_id).name}, seasoned", max_chars=100)
        if st.button("Keep the seasoned base", width="stretch"):
            kept = parts.attempt(seasoned, Recipe(made.base_id, inside), shelf, name)
            if kept is not None and parts.attempt(bench.keep, kept) is not None:
                parts.remember(f"{kept.name} is on the shelf, and starts from what is known of the plain one.")
                st.rerun()
