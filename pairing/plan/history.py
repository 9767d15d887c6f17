"""What was tried: one line per combination of base and flavourings, from the log."""

from __future__ import annotations

import math
import weakref
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from pairing.learning.log import Log
    from pairing.model.shelf import Shelf

__all__ = ["Combination", "History", "history", "tried_combinations"]

Key = tuple[str, tuple[str, ...]]
_KEPT: weakref.WeakKeyDictionary[Any, History] = weakref.WeakKeyDictionary()


@dataclass(frozen=True)
class Combination:
    """One combination that was tried.

    Attributes
    ----------
    cups, liked : int
        Trials, and trials with a liking.
    poured : int
        Trials read at a dose that was poured straight, not stepped up to.
    doses : mapping of flavouring_id to float
        Last dose of the latest trial, g/kg.
    strengths : mapping of flavouring_id to int or None
        How strong it read there.
    liking : float
        Mean of the trials' last likings; NaN if none.
    """

    cups: int
    liked: int
    poured: int
    doses: Mapping[str, float]
    strengths: Mapping[str, int | None]
    liking: float


@dataclass(frozen=True)
class History:
    """Everything that was tried, by (base_id, sorted flavouring_ids); ``trials`` one row per trial, in order."""

    combinations: Mapping[Key, Combination]
    trials: tuple[tuple[str, Key], ...]

    def cups_with(self, flavouring_ids: set[str], base_id: str | None = None) -> int:
        """Count the trials that held all of these flavourings (in one base, if given)."""
        return sum(
            c.cups
            for (base, ids), c in self.combinations.items()
            if base_id in (None, base) and flavouring_ids <= set(ids)
        )


def history(model: Any) -> History:
    """Return what a learned model's log holds; read once per model (a model never changes)."""
    kept = _KEPT.get(model)
    if kept is None:
        kept = tried_combinations(model.log, model.shelf)
        _KEPT[model] = kept
    return kept


def tried_combinations(log: Log, shelf: Shelf) -> History:
    """Sum a log up by combination, each trial by its last reading; plain cups are left aside."""
    rows = np.flatnonzero(log.recipes.count > 0)
    cups, backwards = np.unique(log.cup[rows][::-1], return_index=True)
    last = rows[::-1][backwards]
    liking = np.full(len(log.trials), np.nan)
    told = rows[~np.isnan(log.liking[rows])]
    liking[log.cup[told]] = log.liking[told]
    bases, flavourings = tuple(shelf.bases), tuple(shelf.flavourings)
    trials: list[tuple[str, Key]] = []
    groups: dict[Key, list[int]] = {}
    for cup, row in sorted(zip(cups.tolist(), last.tolist(), strict=True), key=lambda pair: log.order[pair[1]]):
        slots = log.recipes.flavouring[row]
        key = (bases[log.recipes.base[row]], tuple(sorted(flavourings[f] for f in slots[slots >= 0])))
        trials.append((log.trials[cup], key))
        groups.setdefault(key, []).append(row)
    found = {key: _sum_up(rows_of, log, liking, flavourings) for key, rows_of in groups.items()}
    return History(found, tuple(trials))


def _sum_up(rows: list[int], log: Log, liking: np.ndarray, flavourings: tuple[str, ...]) -> Combination:
    scores = liking[log.cup[rows]]
    told = scores[~np.isnan(scores)]
    doses: dict[str, float] = {}
    strengths: dict[str, int | None] = {}
    for slot, place in enumerate(log.recipes.flavouring[rows[-1]].tolist()):
        if place >= 0:
            word = log.strength[rows[-1], slot]
            doses[flavourings[place]] = math.exp(log.recipes.log_dose[rows[-1], slot])
            strengths[flavourings[place]] = None if np.isnan(word) else int(word)
    return Combination(
        cups=len(rows),
        liked=len(told),
        poured=int((~log.stepped[rows]).sum()),
        doses=doses,
        strengths=strengths,
        liking=float(told.mean()) if len(told) else math.nan,
    )
