"""Choosing several trials that do not all ask the same question."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pairing.plan.history import history
from pairing.plan.objective import Objective
from pairing.plan.wanted import wanted
from pairing.plan.worth import expected_improvement

if TYPE_CHECKING:
    from pairing.learning.answers import Answers
    from pairing.model.brief import Brief
    from pairing.plan.pool import Pool

__all__ = ["Choice", "choose"]

_SHORTLIST = 240
_REFERENCE = 160
_TIE = 1e-7
_FIVE, _OF_FIVE = 5, 3
"""So many of five choices hold the same flavouring, at most (our choice)."""
_NEAR = 0.5
"""Unless nothing else is expected to be liked within so many points of the best that is left (our choice)."""


@dataclass(frozen=True)
class Choice:
    """One candidate that was chosen: its row in the pool and what tasting it is worth, points."""

    row: int
    worth: float


def choose(model: Answers, brief: Brief, pool: Pool, n: int, rng: np.random.Generator) -> list[Choice]:
    """Choose ``n`` candidates, most worth first; each as if the earlier ones had been poured but not yet scored.

    The best cup may be any that the brief allows, tried or not; what a cup teaches about others counts through the
    joint covariance. Only candidates that could matter are looked at in full: the tried ones, those with the highest
    mean and those with the highest marginal expected improvement. What the goals of plugins find in a cup comes on top.
    A flavouring that is in three of five gives way to what is expected to be liked nearly as much.
    """
    objective = Objective.of(model, brief)
    mean, sd = objective.predict(pool)
    more = wanted(model, pool)
    tried = history(model).held(pool.recipes)
    rows = _shortlist(mean + more, sd, tried)
    joint = objective.joint(pool.take(rows), mean[rows])
    reference = _reference(joint.mean, np.sqrt(np.diag(joint.cov)), tried[rows])
    left = np.ones(len(rows), dtype=bool)
    tie = _TIE * rng.random(len(rows))
    chosen: list[Choice] = []
    while left.any() and len(chosen) < n:
        at = np.flatnonzero(left)
        worth = joint.worth(at, reference)
        value = worth + more[rows[at]] + tie[at]
        best = int(np.argmax(value))
        other = _various(pool, rows[at], chosen) & (joint.mean[at] >= joint.mean[at[best]] - _NEAR)
        if other.any():
            best = int(np.argmax(np.where(other, value, -np.inf)))
        x = int(at[best])
        chosen.append(Choice(int(rows[x]), float(worth[best])))
        left[x] = False
        joint = joint.tasted(x)
    return chosen


def _various(pool: Pool, rows: np.ndarray, chosen: list[Choice]) -> np.ndarray:
    """Mask the candidates that hold no flavouring of which there is enough among those that were chosen."""
    inside = pool.recipes.flavouring
    often = np.bincount(inside[[c.row for c in chosen]].ravel() + 1)[1:] >= _OF_FIVE * (1 + len(chosen) // _FIVE)
    return np.asarray(~np.isin(inside[rows], np.flatnonzero(often)).any(axis=1))


def _shortlist(mean: np.ndarray, sd: np.ndarray, tried: np.ndarray) -> np.ndarray:
    best = mean[tried].max() if tried.any() else mean.max()
    by_mean = np.argsort(-mean, kind="stable")[:_SHORTLIST]
    by_improvement = np.argsort(-expected_improvement(mean, sd, float(best)), kind="stable")[:_SHORTLIST]
    known = np.flatnonzero(tried)
    known = known[np.argsort(-mean[known], kind="stable")[:_SHORTLIST]]
    return np.unique(np.concatenate([by_mean, by_improvement, known]))


def _reference(mean: np.ndarray, sd: np.ndarray, tried: np.ndarray) -> np.ndarray:
    """Recipes that may turn out best: the tried ones, or what looks best where nothing was tried."""
    known = np.flatnonzero(tried)
    if len(known):
        return known
    return np.argsort(-(mean + sd), kind="stable")[:_REFERENCE]
