"""What was tried: one entry per combination of base and flavourings, from the log."""

from __future__ import annotations

import math
import weakref
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from pairing.learning.log import Log
    from pairing.model.shelf import Shelf

__all__ = ["Combination", "History", "Key", "history", "tried_combinations"]

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
        Trials whose last reading was at a dose that was poured straight, not stepped up to.
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


class History(Mapping[Key, Combination]):
    """Everything that was tried, by base and sorted flavourings; an entry is made when it is asked for.

    Parameters
    ----------
    log : Log
    shelf : Shelf
    last : int array
        Last reading of every trial with a flavouring in it, in order of time.
    """

    def __init__(self, log: Log, shelf: Shelf, last: np.ndarray) -> None:
        self._log, self._last = log, last
        self._bases, self._flavourings = tuple(shelf.bases), tuple(shelf.flavourings)
        cells = np.column_stack([log.recipes.base[last], np.sort(log.recipes.flavouring[last], axis=1)])
        self._cells, self._group = np.unique(cells, axis=0, return_inverse=True)
        self._group = self._group.reshape(-1)
        n = len(self._cells)
        liking = _last_likings(log)[log.cup[last]]
        told = ~np.isnan(liking)
        self._cups = np.bincount(self._group, minlength=n)
        self._liked = np.bincount(self._group[told], minlength=n)
        self._points = np.bincount(self._group[told], liking[told], minlength=n)
        self._poured = np.bincount(self._group[~log.stepped[last]], minlength=n)
        self._latest = np.zeros(n, np.int64)
        self._latest[self._group] = last

    @cached_property
    def _places(self) -> dict[Key, int]:
        return {self._key(row): i for i, row in enumerate(self._cells.tolist())}

    def _key(self, cell: list[int]) -> Key:
        return self._bases[cell[0]], tuple(sorted(self._flavourings[f] for f in cell[1:] if f >= 0))

    def __len__(self) -> int:
        return len(self._cells)

    def __iter__(self) -> Iterator[Key]:
        return iter(self._places)

    def __contains__(self, key: object) -> bool:
        return key in self._places

    def __getitem__(self, key: Key) -> Combination:
        i = self._places[key]
        row = int(self._latest[i])
        doses: dict[str, float] = {}
        strengths: dict[str, int | None] = {}
        for slot, place in enumerate(self._log.recipes.flavouring[row].tolist()):
            if place >= 0:
                word = self._log.strength[row, slot]
                doses[self._flavourings[place]] = math.exp(self._log.recipes.log_dose[row, slot])
                strengths[self._flavourings[place]] = None if np.isnan(word) else int(word)
        return Combination(
            cups=int(self._cups[i]),
            liked=int(self._liked[i]),
            poured=int(self._poured[i]),
            doses=doses,
            strengths=strengths,
            liking=float(self._points[i] / self._liked[i]) if self._liked[i] else math.nan,
        )

    @cached_property
    def trials(self) -> tuple[tuple[str, Key], ...]:
        """Trial ids with what was in the cup, in order of time."""
        keys = list(self._places)
        ids = self._log.trials
        return tuple((ids[c], keys[g]) for c, g in zip(self._log.cup[self._last], self._group, strict=True))

    def cups_with(self, flavouring_ids: set[str], base_id: str | None = None) -> int:
        """Count the trials that held all of these flavourings (in one base, if given)."""
        held = np.ones(len(self), dtype=bool)
        if base_id is not None:
            held &= self._cells[:, 0] == self._bases.index(base_id)
        for flavouring_id in flavouring_ids:
            held &= (self._cells[:, 1:] == self._flavourings.index(flavouring_id)).any(axis=1)
        return int(self._cups[held].sum())


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
    rows = rows[np.argsort(log.order[rows], kind="stable")]
    _, backwards = np.unique(log.cup[rows][::-1], return_index=True)
    return History(log, shelf, rows[np.sort(len(rows) - 1 - backwards)])


def _last_likings(log: Log) -> np.ndarray:
    """Last liking of every trial, NaN where there is none."""
    liking = np.full(len(log.trials), np.nan)
    told = np.flatnonzero(~np.isnan(log.liking))
    told = told[np.argsort(log.order[told], kind="stable")]
    liking[log.cup[told]] = log.liking[told]
    return liking
