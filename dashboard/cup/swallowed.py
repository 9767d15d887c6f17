"""What each taster has swallowed today, over all cups of the day."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing.model.caution import together
from pairing_dashboard import parts, session
from pairing_dashboard.wording import amount, md, number

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.safety.swallowed import Tally

__all__ = ["show"]


def show(bench: Bench) -> None:
    """Write the day's tally of everybody who drank, whole glasses too, with the limits that it comes near."""
    if not (found := list(session.swallowed(bench).values())):
        return
    parts.table(
        (
            (t.taster, amount(t.drink_g, "g"), *(_known(t, name) for name in ("kcal", "caffeine_mg", "ethanol_g")))
            for t in found
        ),
        ("Taster", "Drink>", "Energy, kcal>", "Caffeine, mg>", "Ethanol, g>"),
        "Swallowed today, sip by sip",
    )
    names = session.shelf(bench).names
    for one in found:
        for caution in one.cautions:
            st.warning(f"{md(one.taster)}: {md(together([caution], names))}", icon=":material/warning:")


def _known(of: Tally, name: str) -> str:
    value = getattr(of, name)
    return number(value, 2) if value is not None else f"at least {number(of.at_least[name], 2)}"
