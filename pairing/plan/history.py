"""What was tried: one entry per combination of base and flavourings, from the log."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from pairing.model.cache import IdentityCache

if TYPE_CHECKING:
    from pairing.learning.answers import Answers
    from pairing.learning.log import Log
    from pairing.model.recipes import Recipes
    from pairing.model.shelf import Shelf

__all__ = ["Combination", "History", "Key", "history"]

Key = tuple[str, tuple[str, ...]]
_LARGEST = 2**62
_CACHE: IdentityCache[History] = IdentityCache()


@dataclass(frozen=True)
class Combination:
    """One combination that was tried.

    Attributes
    ----------
    cups, liked : int
        Trials in which it was read, and those in which it was liked.
    poured : int
        Trials whose last reading of it was at a dose that was poured straight, not stepped up to.
    doses : mapping of flavouring_id to float
        Last dose of the latest trial, g/kg.
    strengths : mapping of flavouring_id to int or None
        How strong it read there.
    liking : float
        Mean over the trials of what its tasters said of it last; NaN if nobody did.
    """

    cups: int
    liked: int
    poured: int
    doses: Mapping[str, float]
    strengths: Mapping[str, int | None]
    liking: float


class History(Mapping[Key, Combination]):
    """Everything that was tried, by base and sorted flavourings; an entry is made when it is asked for.

    A cup that was read with one set of flavourings, then with more, was a try of each set.

    Parameters
    ----------
    log : Log
    shelf : Shelf

    Attributes
    ----------
    tries : int array (n readings,)
        Which try every reading belongs to, a try being one trial with one set of flavourings, numbered in order of
        their last readings; -1 for a plain cup.
    """

    def __init__(self, log: Log, shelf: Shelf) -> None:
        self._log = log
        self._bases, self._flavourings = tuple(shelf.bases), tuple(shelf.flavourings)
        rows = np.flatnonzero(log.recipes.count > 0)
        rows = rows[np.argsort(log.order[rows], kind="stable")]
        cells = _cells(log.recipes.take(rows))
        _, first, group = np.unique(_numbered(cells), return_index=True, return_inverse=True)
        self._cells = cells[first]
        n = len(self._cells)
        one_try = log.cup[rows] * max(n, 1) + group
        last = _last(one_try)
        self._cup, self._group = log.cup[rows[last]], group[last]
        self.tries = np.full(len(log), -1, np.int64)
        by_key = np.argsort(one_try[last])
        self.tries[rows] = by_key[np.searchsorted(one_try[last], one_try, sorter=by_key)]
        self._told = np.flatnonzero(~np.isnan(log.liking) & (self.tries >= 0))
        liking = self._last_likings(self._told)
        told = self._scored = ~np.isnan(liking)
        self._cups = np.bincount(self._group, minlength=n)
        self._liked = np.bincount(self._group[told], minlength=n)
        self._points = np.bincount(self._group[told], liking[told], minlength=n)
        self._poured = np.bincount(self._group[~log.stepped[rows[last]]], minlength=n)
        self._latest = np.zeros(n, np.int64)
        self._latest[self._group] = rows[last]

    def _last_likings(self, readings: np.ndarray) -> np.ndarray:
        """Mean of what each taster said last of every try, in these readings; NaN where nobody said anything."""
        log = self._log
        told = readings[np.argsort(log.order[readings], kind="stable")]
        told = told[_last(self.tries[told] * len(log.tasters) + log.taster[told])]
        points = np.bincount(self.tries[told], log.liking[told], minlength=len(self._cup))
        count = np.bincount(self.tries[told], minlength=len(self._cup))
        return np.asarray(np.divide(points, count, out=np.full(len(points), np.nan), where=count > 0))

    @cached_property
    def _places(self) -> dict[Key, int]:
        return {self._key(row): i for i, row in enumerate(self._cells.tolist())}

    def _key(self, cell: list[int]) -> Key:
        return self._bases[cell[0]], tuple(sorted(self._flavourings[f] for f in cell[1:] if f >= 0))

    def _place(self, key: object) -> int:
        """Return the place of a combination, -1 for one that was not tried; all keys are made to list them only."""
        if "_places" in self.__dict__:
            return self._places.get(key, -1)  # type: ignore[call-overload, no-any-return]
        wanted: list[int] = []
        match key:
            case (str(base_id), tuple(ids)) if base_id in self._bases and set(ids) <= set(self._flavourings):
                wanted = [self._bases.index(base_id), *sorted(map(self._flavourings.index, ids))]
        empty = self._cells.shape[1] - len(wanted)
        if not wanted or empty < 0:
            return -1
        found = np.flatnonzero((self._cells == [wanted[0], *[-1] * empty, *wanted[1:]]).all(axis=1))
        return int(found[0]) if len(found) and self._key(self._cells[found[0]].tolist()) == key else -1

    def held(self, recipes: Recipes) -> np.ndarray:
        """Tell which recipes over the shelf were tried, at whatever dose."""
        asked = _cells(recipes)
        width = max(asked.shape[1], self._cells.shape[1])
        numbers = _numbered(np.concatenate([_wide(self._cells, width), _wide(asked, width)]))
        tried, wanted = numbers[: len(self)], numbers[len(self) :]  # as the cells ascend, so do their numbers
        return np.asarray(np.append(tried, -1)[np.searchsorted(tried, wanted)] == wanted)

    def __len__(self) -> int:
        return len(self._cells)

    def __iter__(self) -> Iterator[Key]:
        return iter(self._places)

    def __contains__(self, key: object) -> bool:
        return self._place(key) >= 0

    def __getitem__(self, key: Key) -> Combination:
        if (i := self._place(key)) < 0:
            raise KeyError(key)
        row = int(self._latest[i])
        doses: dict[str, float] = {}
        strengths: dict[str, int | None] = {}
        for slot, place in enumerate(self._log.recipes.flavouring[row].tolist()):
            if place >= 0:
                word = self._log.strength[row, slot]
                doses[self._flavourings[place]] = float(self._log.recipes.dose_g_per_kg[row, slot])
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
        """Trial ids with what was in the cup, one for every try, in order of time."""
        keys = list(self._places)
        ids = self._log.trials
        return tuple((ids[c], keys[g]) for c, g in zip(self._cup, self._group, strict=True))

    def liking(self, key: Key, tasters: Collection[str] | None = None) -> float:
        """Return how a combination was liked by these tasters (all, if none are named); NaN where they did not say."""
        if tasters is None:
            return self[key].liking
        asked = np.array([name in tasters for name in self._log.tasters], dtype=bool)
        about = self._group == self._place(key)
        told = self._told[asked[self._log.taster[self._told]] & about[self.tries[self._told]]]
        return float(np.nanmean(self._last_likings(told)[about])) if len(told) else math.nan

    def cups_with(self, *groups: Collection[str], base_id: str | None = None, scored: bool = False) -> int:
        """Count the trials that held one of each of these groups of flavourings: two, of a group that is given twice.

        Only those in one base or with a score, if wanted. Without a group plain cups count, too.
        """
        if not groups:
            return self._cups_in(base_id, scored)
        held = np.ones(len(self), dtype=bool)
        if base_id is not None:
            held &= self._cells[:, 0] == self._bases.index(base_id)
        for group, least in Counter(map(frozenset, groups)).items():
            meant = np.array([*(name in group for name in self._flavourings), False])  # -1 is an empty slot
            held &= sum(meant[slot].astype(np.int8) for slot in self._cells[:, 1:].T) >= least  # few slots, many rows
        return _distinct(self._cup[held[self._group] & (self._scored if scored else True)])

    def _cups_in(self, base_id: str | None, scored: bool) -> int:
        log = self._log
        rows = np.ones(len(log), dtype=bool) if base_id is None else log.recipes.base == self._bases.index(base_id)
        return _distinct(log.cup[rows & ~np.isnan(log.liking)] if scored else log.cup[rows])


def history(model: Answers, target_id: str | None = None) -> History:
    """Return what a learned model's log holds, or only what was held against a target, likeness in place of liking.

    It is read once per model (a model never changes).
    """
    return _CACHE.of((model,), lambda: _read(model, target_id), target_id)


def _read(model: Answers, target_id: str | None) -> History:
    log = model.log
    if target_id is not None:
        told = np.flatnonzero((log.target == log.targets.index(target_id)) & ~np.isnan(log.likeness))
        log = replace(log.take(told), liking=log.likeness[told])
    return History(log, model.shelf)


def _cells(recipes: Recipes) -> np.ndarray:
    """Return base and flavourings of every recipe as places, ascending, empty slots (-1) first."""
    return np.column_stack([recipes.base, np.sort(recipes.flavouring, axis=1)])


def _wide(cells: np.ndarray, width: int) -> np.ndarray:
    """Put empty slots before the flavourings."""
    return np.insert(cells, [1] * (width - cells.shape[1]), -1, axis=1)


def _numbered(cells: np.ndarray) -> np.ndarray:
    """Give equal rows the same number, and others numbers in the order of their cells: one sort, not one by row."""
    out = np.zeros(len(cells), np.int64)
    for column in cells.T:
        n = int(column.max(initial=-1)) + 2
        if len(out) and int(out.max()) >= _LARGEST // n:
            out = np.unique(out, return_inverse=True)[1]
        out = out * n + column + 1
    return out


def _distinct(places: np.ndarray) -> int:
    """Count the different places."""
    return int(np.count_nonzero(np.bincount(places)))


def _last(key: np.ndarray) -> np.ndarray:
    """Return the place of the last of each key, in order."""
    _, backwards = np.unique(key[::-1], return_index=True)
    return np.sort(len(key) - 1 - backwards)
