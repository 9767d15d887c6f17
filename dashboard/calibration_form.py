"""Drop calibration: count drops, weigh them, see what one drop weighs and how sure that is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.quantities.calibration import calibrate
from pairing.quantities.drops import drop_mass
from pairing_dashboard import parts, session
from pairing_dashboard.wording import entered, interval

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["show"]


def show(bench: Bench) -> None:
    """Ask for drops and grams, and say what follows before it is saved."""
    flavourings = session.shelf(bench).flavourings
    chosen = st.selectbox("Flavouring", list(flavourings), format_func=lambda i: flavourings[i].name, key="calibrate")
    if chosen is None:
        return
    now = drop_mass(flavourings[chosen])
    st.write(f"A drop is taken to weigh {interval(now.mg, now.low, now.high, 'mg')}: {now.source}.")
    drops = st.number_input("Drops counted", 1, 10_000, 50, help="Fifty or more make the scale's step count little.")
    weighed = st.text_input("What they weigh, g", max_chars=20)
    scale = st.segmented_control(
        "The scale shows", [0.1, 0.01, 0.001], default=0.01, required=True, format_func=lambda g: f"{g:g} g"
    )
    if not weighed.strip():
        return
    try:
        grams = entered(weighed, 0, 1000)
        found = calibrate(int(drops), grams, scale_g=scale)
    except PairingError as error:
        parts.problem(error)
        return
    parts.facts({"One drop": interval(found.mg, found.low, found.high, "mg")})
    if found.advice:
        st.info(found.advice)
    if st.button("Save this calibration", type="primary") and parts.attempt(_save, bench, chosen, int(drops), grams):
        st.rerun()
    parts.said()


def _save(bench: Bench, flavouring_id: str, drops: int, grams: float) -> bool:
    bench.calibrate(flavouring_id, drops, grams)
    parts.remember(f"Calibration of {flavouring_id} is saved.")
    return True
