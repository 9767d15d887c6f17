"""Doses that are probably slips of the pen: a unit mixed up, a decimal point in the wrong place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from pairing.learning.design import Traits, additions_of
from pairing.learning.log import Log, read_log
from pairing.nutrition.dose_limit import MOST_G_PER_KG

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["CHECK", "improbable_doses", "improbable_in"]

CHECK = "check the unit and the decimal point"
"""What to do about an improbable dose."""

TIMES_LABEL = 50.0
"""So many times the label direction, or so small a part of it, is improbable (our choice, no source)."""
MOST_NOTES = 5


def improbable_doses(log: Log, traits: Traits, flavouring_ids: Sequence[str]) -> list[str]:
    """Name the readings whose dose is far from all sense, up to five; they are learned from all the same.

    Parameters
    ----------
    log : Log
    traits : Traits
        Whose label directions doses are held against.
    flavouring_ids : sequence of str
        Ids by place on the shelf.
    """
    adds = additions_of(log.recipes)
    log_dose, log_label = log.recipes.log_dose[adds.row, adds.slot], traits.log_label[adds.base, adds.flavouring]
    far = np.abs(log_dose - log_label) > np.log(TIMES_LABEL)
    far |= log_dose > np.log(MOST_G_PER_KG)
    found = np.flatnonzero(far)
    notes = []
    for i in found[:MOST_NOTES]:
        row, label, item = adds.row[i], np.exp(log_label[i]), flavouring_ids[adds.flavouring[i]]
        held = f"the label says {label:.3g}" if np.isfinite(label) else f"most are under {MOST_G_PER_KG:g}"
        notes.append(
            f"trial {log.trials[log.cup[row]]!r} ({log.tasters[log.taster[row]]}) has "
            f"{np.exp(log_dose[i]):.6g} g/kg of {item!r}, {held} g/kg"
        )
    if len(found) > MOST_NOTES:
        notes.append(f"{len(found) - MOST_NOTES} more readings have improbable doses")
    return notes


def improbable_in(shelf: Shelf, readings: pd.DataFrame) -> list[str]:
    """Name the improbable doses of a bench's readings."""
    return improbable_doses(read_log(shelf, readings), Traits.of(shelf), list(shelf.flavourings))
