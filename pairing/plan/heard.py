"""What a cup's readings say about one flavouring's strength, in order."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from pairing.errors import CupError
from pairing.plan.belief import Heard

if TYPE_CHECKING:
    from pairing.model.cup import Cup

__all__ = ["heard"]


def heard(cup: Cup, flavouring_id: str) -> list[Heard]:
    """Collect the strength readings of one flavouring in a cup.

    The first dose that was read counts as poured, later ones as stepped up to. Readings of the cup before the
    flavouring went in say nothing about its needed dose and are left aside.

    Raises
    ------
    CupError
        When the readings are not in the order in which they were taken.
    """
    found: list[Heard] = []
    last_number, last_at, doses = 0, None, set()
    for reading in cup.readings:
        number, at = getattr(reading, "reading", None), getattr(reading, "at", None)
        if number is not None and number < last_number:
            raise CupError(
                f"reading {number} of cup {cup.trial_id} comes after reading {last_number}",
                "give the readings in the order in which they were taken",
            )
        if at is not None and last_at is not None and str(at) < str(last_at):
            raise CupError(
                f"a reading of cup {cup.trial_id} at {at} comes after one at {last_at}",
                "give the readings in the order in which they were taken, or correct the time",
            )
        last_number, last_at = number or last_number, at or last_at
        dose = reading.dose_g_per_kg.get(flavouring_id, 0.0)
        strength = (reading.strength or {}).get(flavouring_id)
        if strength is None or dose <= 0:
            continue
        doses.add(round(dose, 9))
        found.append(Heard(math.log(dose), int(strength), stepped=len(doses) > 1))
    return found
