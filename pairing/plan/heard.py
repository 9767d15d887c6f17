"""What a cup's readings say about one flavouring's strength, in order."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

from pairing.errors import CupError
from pairing.plan.belief import Heard

if TYPE_CHECKING:
    from pairing.model.cup import Cup

__all__ = ["heard"]

_ROUNDING = 1e-3


def heard(cup: Cup, flavouring_id: str, shares: Mapping[str, float]) -> list[Heard]:
    """Collect the strength readings of one flavouring in a cup.

    ``shares`` is how much of each item in the cup is that flavouring: 1 for itself, less for its pre-dilutions.

    Readings of the cup before the flavouring went in say nothing about its needed dose and are left aside.

    Raises
    ------
    CupError
        When the readings are not in the order in which they were taken.
    """
    found: list[Heard] = []
    last_at, last_dose = "", 0.0
    for number, reading in enumerate(cup.readings, start=1):
        at, dose = reading.tasted_at or "", sum(k * reading.dose_g_per_kg.get(f, 0.0) for f, k in shares.items())
        if at and at < last_at:
            raise _out_of_order(cup, f"reading {number} at {at} comes after one at {last_at}")
        if dose < last_dose * (1 - _ROUNDING) and not _may_fall(cup):
            raise _out_of_order(
                cup,
                f"reading {number} is at {dose:.4g} g/kg of {flavouring_id}, the one before at {last_dose:.4g} g/kg, "
                "and nothing was poured in",
            )
        last_at, last_dose = at or last_at, dose
        strength = next((reading.strength[f] for f in shares if f in reading.strength), None)
        if strength is not None and dose > 0:
            found.append(Heard(math.log(dose), int(strength), stepped=reading.stepped == "yes"))
    return found


def _may_fall(cup: Cup) -> bool:
    """Whether anything thinned the cup: more base, or another flavouring."""
    return sum(s.kind == "pour" for s in cup.steps) > 1 or len({s.item_id for s in cup.steps if s.kind == "add"}) > 1


def _out_of_order(cup: Cup, what: str) -> CupError:
    return CupError(f"cup {cup.trial_id}: {what}", "give the readings in the order in which they were taken")
