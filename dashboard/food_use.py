"""What is never suggested because nobody said that it is meant for food: named, and answered by tapping it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing_dashboard import parts, session
from pairing_dashboard.wording import count, md

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["ask"]


def ask(bench: Bench) -> bool:
    """Ask whose label says that it is meant for food; return whether anything is left that may be suggested."""
    shelf = session.shelf(bench)
    unstated = {i: f.name for i, f in shelf.flavourings.items() if f.food_use in (None, "unknown")}
    left = any(f.suggestable for f in shelf.flavourings.values())
    if not unstated:
        return left
    what = f"{count(len(unstated), 'flavouring')} not suggested: for food?"
    with st.expander(what, icon=":material/label:", expanded=not left, key="food-use"):
        st.write("Only what is meant for food is suggested. Read the labels, and tap those that say so.")
        chosen = st.pills(
            "For food, by its label",
            list(unstated),
            selection_mode="multi",
            format_func=lambda i: md(unstated[i]),
            key=f"for-food-{bench.revision}",
        )
        if st.button("These are for food", type="primary", disabled=not chosen):
            if parts.attempt(bench.declare_food_use, "yes", chosen):
                parts.remember("Noted. They may be suggested now; Log takes it back.")
            st.rerun()
    return left
