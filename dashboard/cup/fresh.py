"""After a ladder a fresh cup, after that a whole glass: what is stepped up to is neither drunk nor kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing.model.recipe import Recipe
from pairing.report.full_glass import full_glass
from pairing_dashboard.cup import start
from pairing_dashboard.wording import md

if TYPE_CHECKING:
    from pairing.learned import Learned
    from pairing.model.cup import Cup

__all__ = ["ask"]

_LIKED = 6
"""Liking from which a cup is worth pouring again: *like slightly* (our choice)."""


def ask(model: Learned, made: Cup) -> None:
    """Offer to pour a cup that was liked once more: fresh when it was stepped up to, else as a whole glass."""
    last = made.readings[-1] if made.readings else None
    liked = max((r.liking for r in made.readings if r.liking is not None), default=0.0)
    if last is None or not made.dose_g_per_kg or liked < _LIKED or last.glass == "full":
        return
    recipe = Recipe(made.base_id, {i: float(f"{dose:.4g}") for i, dose in made.dose_g_per_kg.items()})
    if last.stepped == "yes":
        st.markdown("Nobody drinks a cup that was stepped up to: the first sip of a fresh one scores.")
        start.link("Pour it fresh", recipe, purpose="confirm", stretch=True)
        return
    glass = full_glass(recipe, model)
    why = "" if glass is None else f" A sip overrates sweetness and strength: it is poured at {md(str(glass.share))}."
    st.markdown(f"A recipe is kept once a whole glass of it was drunk.{why}")
    start.link("Pour a whole glass", recipe if glass is None else glass.recipe, purpose="confirm", stretch=True)
