"""What a model has to beat: guesses that need no model."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from pairing.api import Scores
from pairing.host.tables import recipe_table_of
from pairing.learning.log import Log
from pairing.model.arrays import Floats
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf

__all__ = ["BASELINES", "Rows"]

RIDGE_PENALTIES = np.logspace(-2, 3, 16)


@dataclass(frozen=True)
class Rows:
    """Scores with what was in the cup and who said it."""

    recipes: Recipes
    taster: Any
    score: Floats
    n_tasters: int

    @classmethod
    def of(cls, log: Log, rows: Any) -> Rows:
        """Take rows of a log."""
        return cls(log.recipes.take(rows), log.taster[rows], log.liking[rows], len(log.tasters))

    def scores(self, shelf: Shelf) -> Scores:
        """Return them as plugins see them."""
        return Scores(
            table=recipe_table_of(shelf, self.recipes), taster=self.taster, n_tasters=self.n_tasters, liking=self.score
        )


def average(train: Rows, asked: Rows) -> Floats:
    """Guess the average score."""
    return np.full(len(asked.score), train.score.mean())


def flavouring_mean(train: Rows, asked: Rows) -> Floats:
    """Guess the mean score of cups with the same flavourings, one flavouring at a time."""
    n = int(max(train.recipes.flavouring.max(initial=-1), asked.recipes.flavouring.max(initial=-1))) + 1
    row, slot = np.nonzero(train.recipes.present)
    item = train.recipes.flavouring[row, slot]
    total = np.bincount(item, train.score[row], minlength=n)
    count = np.bincount(item, minlength=n)
    mean = np.where(count > 0, total / np.maximum(count, 1), train.score.mean())
    slots = asked.recipes.flavouring
    guess = np.where(slots >= 0, np.append(mean, 0.0)[slots], 0.0).sum(axis=1)
    size = asked.recipes.count
    return np.asarray(np.where(size > 0, guess / np.maximum(size, 1), train.score.mean()))


def additive_ridge(train: Rows, asked: Rows) -> Floats:
    """Guess by ridge regression on base, flavourings and taster, the penalty chosen by leave-one-out."""
    from sklearn.linear_model import RidgeCV

    width = [
        int(max(train.recipes.base.max(initial=0), asked.recipes.base.max(initial=0))) + 1,
        int(max(train.recipes.flavouring.max(initial=-1), asked.recipes.flavouring.max(initial=-1))) + 1,
        train.n_tasters,
    ]
    if len(train.score) < 3:
        return average(train, asked)
    model = RidgeCV(RIDGE_PENALTIES).fit(_dummies(train, width), train.score)
    return np.asarray(model.predict(_dummies(asked, width)))


def _dummies(rows: Rows, width: list[int]) -> Floats:
    x = np.zeros((len(rows.score), sum(width)))
    at = np.arange(len(x))
    x[at, rows.recipes.base] = 1.0
    row, slot = np.nonzero(rows.recipes.present)
    x[row, width[0] + rows.recipes.flavouring[row, slot]] = 1.0
    x[at, width[0] + width[1] + rows.taster] = 1.0
    return x


BASELINES: Mapping[str, Callable[[Rows, Rows], Floats]] = {
    "average": average,
    "flavouring mean": flavouring_mean,
    "additive ridge": additive_ridge,
}
"""Guesses of liking; the fourth baseline, following the label, is about dose."""
