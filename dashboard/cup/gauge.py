"""The dose of one flavouring as a gauge: what is needed, the cup now, the next step, and what each sip said."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import streamlit as st

from pairing.model.columns import STRENGTH_WORDS
from pairing_dashboard.parts import escape
from pairing_dashboard.wording import interval, number

if TYPE_CHECKING:
    from pairing.model.cup import Cup

__all__ = ["Needed", "Sips", "draw", "html", "sips"]

Needed = tuple[float, float, float]
"""Needed dose with the ends of its 80 % interval, g/kg."""
Sips = Sequence[tuple[float, int]]
"""Dose, g/kg, and word of each sip."""

MARGIN = 1.15
"""How far the gauge goes past the last mark on it."""


def sips(made: Cup, flavouring_id: str) -> list[tuple[float, int]]:
    """Return dose, g/kg, and word of each sip that judged a flavouring."""
    found = ((r.dose_g_per_kg.get(flavouring_id, 0.0), r.strength.get(flavouring_id)) for r in made.readings)
    return [(dose, int(word)) for dose, word in found if word is not None]


def html(needed: Needed, now: float, target: float | None, said: Sips) -> str:
    """Draw the gauge.

    Parameters
    ----------
    needed : tuple of float
    now, target : float
        Dose in the cup, and after the next step if there is one, g/kg.
    said : sequence of (float, int)

    Examples
    --------
    >>> "0.5 g/kg in the cup" in html((1.0, 0.8, 1.2), 0.5, None, [(0.5, 1)])
    True
    """
    mid, low, high = needed
    last = MARGIN * max(high, now, target or 0.0, *(dose for dose, _ in said))

    def at(dose: float) -> float:
        return round(100 * dose / last, 1)

    words = "; ".join(f"{number(dose, 2)} g/kg {STRENGTH_WORDS[word]}" for dose, word in said)
    told = f"{number(now, 2)} g/kg in the cup; needed {interval(mid, low, high, 'g/kg')}"
    told += f"; next step to {number(target, 2)}" if target else ""
    told += f". Sips: {words}" if words else ""
    ticks = "".join(
        f'<u style="left:{at(dose)}%"><span>{escape(STRENGTH_WORDS[word])}</span></u>' for dose, word in said[-1:]
    )
    ticks += "".join(f'<u style="left:{at(dose)}%"></u>' for dose, _ in said[:-1])
    following = f'<em style="left:{at(target)}%"></em>' if target else ""
    return (
        f'<div class="gauge" role="img" aria-label="{escape(told)}">'
        f'<i style="left:{at(low)}%;width:{at(high) - at(low):.1f}%">'
        f"<span>needed {number(low, 2)}–{number(high, 2)} g/kg</span></i>{ticks}{following}"
        f'<b style="left:{at(now)}%"></b></div>'
    )


def draw(needed: Needed, now: float, target: float | None, said: Sips) -> None:
    """Show the gauge on the page."""
    st.html(html(needed, now, target, said))
