"""Doses that are probably slips of the pen: a unit mixed up, a decimal point in the wrong place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

import numpy as np

from pairing.learning.design import Traits, additions_of
from pairing.learning.log import Log, read_log
from pairing.model.arrays import Bools, Floats
from pairing.nutrition.dose_limit import MOST_G_PER_KG

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf
    from pairing.store.trials import DoseExtremes

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
    found = np.flatnonzero(_far(log_dose, log_label))
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


def _far(log_dose: Floats, log_label: Floats) -> Bools:
    return np.asarray((np.abs(log_dose - log_label) > np.log(TIMES_LABEL)) | (log_dose > np.log(MOST_G_PER_KG)))


class Doses(Protocol):
    """What is asked of a bench."""

    def dose_extremes(self) -> list[DoseExtremes]:
        """Return the lowest and the highest dose of every flavouring."""

    def readings_with(self, flavouring_ids: Sequence[str]) -> pd.DataFrame:
        """Return the readings of every trial that held one of them."""


def improbable_in(shelf: Shelf, bench: Doses) -> list[str]:
    """Name the improbable doses of a bench; only trials with flavourings that may have some are read."""
    traits, asked = Traits.of(shelf), []
    for one in bench.dose_extremes():
        labels = traits.log_label[:, shelf.flavouring_places[one.flavouring_id]]
        doses = np.log([dose for dose in (one.least, one.most) if dose])
        if one.by_amount or _far(doses[:, None], labels).any():
            asked.append(one.flavouring_id)
    if not asked:
        return []
    return improbable_doses(read_log(shelf, bench.readings_with(asked)), traits, list(shelf.flavourings))
