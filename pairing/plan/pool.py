"""A pool of candidates: recipes as arrays over the shelf, with their doses and what a serving of each comes to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.constants import LABEL_MULTIPLE
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.nutrition.dose_limit import MOST_G_PER_KG
from pairing.nutrition.maximum import maximum_of
from pairing.plan.history import history

if TYPE_CHECKING:
    from pairing.learning.answers import Answers, TableAnswers
    from pairing.model.brief import Brief
    from pairing.model.shelf import Shelf

__all__ = ["Pool", "most_unasked", "with_doses"]

_MOST_G_PER_KG = 998.0
_WHOLE_DROPS = 0.95
"""A dose keeps so far below a pause: made up in whole drops it stays there (our choice)."""


@dataclass(frozen=True, eq=False)
class Pool:
    """Candidate recipes over one shelf.

    Attributes
    ----------
    shelf : Shelf
    recipes : Recipes
        Flavourings ascending by place, empty slots last; doses are open until `with_doses` has given them.
    log_sd : array, shape (n, k)
        Sd of the log needed dose; NaN where that is not known yet and in empty slots.
    eased : array, shape (n,)
        By what factor doses were lowered to meet a limit; 1 is not at all.
    """

    shelf: Shelf
    recipes: Recipes
    log_sd: np.ndarray
    eased: np.ndarray

    @classmethod
    def of(cls, shelf: Shelf, recipes: Recipes) -> Pool:
        """Make a pool of recipes of whose doses nothing is known."""
        return cls(shelf, recipes, np.full(recipes.flavouring.shape, np.nan), np.ones(len(recipes)))

    def __len__(self) -> int:
        return len(self.recipes)

    def take(self, rows: Any) -> Pool:
        """Return some of the candidates."""
        return Pool(self.shelf, self.recipes.take(rows), self.log_sd[rows], self.eased[rows])

    @cached_property
    def base_ids(self) -> list[str]:
        """Base of every candidate."""
        names = list(self.shelf.bases)
        return [names[b] for b in self.recipes.base.tolist()]

    @cached_property
    def flavouring_ids(self) -> list[tuple[str, ...]]:
        """Flavourings of every candidate, in the order of its slots."""
        names = list(self.shelf.flavourings)
        return [tuple(names[f] for f in row if f >= 0) for row in self.recipes.flavouring.tolist()]

    @cached_property
    def doses(self) -> list[tuple[float, ...]]:
        """Doses of every candidate, g/kg, in the order of its slots."""
        rows = zip(self.recipes.dose_g_per_kg.tolist(), self.flavouring_ids, strict=True)
        return [tuple(row[: len(ids)]) for row, ids in rows]

    def recipe(self, i: int) -> Recipe:
        """Return one candidate as a recipe with numeric doses."""
        return Recipe(self.base_ids[i], dict(zip(self.flavouring_ids[i], self.doses[i], strict=True)))

    def key(self, i: int) -> tuple[str, tuple[str, ...]]:
        """Return base and sorted flavourings of one candidate."""
        return self.base_ids[i], tuple(sorted(self.flavouring_ids[i]))

    def serving_g(self, brief: Brief) -> np.ndarray:
        """Return the base poured for one serving of each candidate, g."""
        per_base = [b.serving(brief.serving_g) for b in self.shelf.bases.values()]
        return np.array(per_base, dtype=float)[self.recipes.base]

    def grams(self, brief: Brief) -> np.ndarray:
        """Mass of each flavouring in one serving, g, shape (n, k); 0 in empty slots."""
        dose = np.nan_to_num(self.recipes.dose_g_per_kg)
        finished = self.serving_g(brief) / (1.0 - dose.sum(axis=1) / 1000.0)
        return np.asarray(finished[:, None] * dose / 1000.0)

    @staticmethod
    def stack(parts: Sequence[Pool]) -> Pool:
        """Put pools over one shelf together."""
        recipes = Recipes.stack([p.recipes for p in parts])
        width = recipes.flavouring.shape[1]
        wide = [np.pad(p.log_sd, ((0, 0), (0, width - p.log_sd.shape[1])), constant_values=np.nan) for p in parts]
        return Pool(parts[0].shelf, recipes, np.concatenate(wide), np.concatenate([p.eased for p in parts]))


def with_doses(pool: Pool, model: Answers, tasters: Iterable[str] | None = None) -> Pool:
    """Give every candidate the doses that are expected to read 'just right' to these tasters, or to all who logged.

    No dose is above what `most_unasked` returns, but for what was tried already and just right in that base.
    """
    log_mean, sd = model.strength.needed(pool.recipes.open(), model.response.among(len(pool), tasters))
    dose = np.exp(np.minimum(log_mean, np.log(_MOST_G_PER_KG)))
    shelf, at = pool.shelf, (pool.recipes.base[:, None], pool.recipes.flavouring)
    stated = np.array([*(np.inf if m is None else m for m in _maxima(shelf)), np.inf])[at[1]]
    right = model.tally.right.at((at[0] * len(shelf.flavourings) + at[1]).ravel()).reshape(dose.shape) > 0
    heard = history(model).held(pool.recipes)[:, None] & right
    dose = np.minimum(dose, np.where(heard, stated, most_unasked(model)[at]))
    total = np.nansum(dose, axis=1)
    dose *= np.minimum(1.0, _MOST_G_PER_KG / np.maximum(total, 1e-9))[:, None]
    return Pool(pool.shelf, pool.recipes.at_doses(dose), sd, np.ones(len(pool)))


def most_unasked(model: TableAnswers) -> np.ndarray:
    """Return the most of every flavouring in every base that nobody is asked about, g/kg, by place on the shelf.

    That is the maximum dose, else a little below the pause at 3 × the label, or 3 × what its form makes expect. One
    column more is for empty slots.
    """
    shelf = model.shelf
    most = np.array([np.nan if m is None else m for m in _maxima(shelf)], float)
    cells = np.indices((len(shelf.bases), len(shelf.flavourings)))
    pause = np.minimum(LABEL_MULTIPLE * np.exp(model.strength.log_label(*cells)), MOST_G_PER_KG)
    most = np.where(np.isnan(most), _WHOLE_DROPS * pause, most)
    return np.pad(most, ((0, 0), (0, 1)), constant_values=np.inf)


def _maxima(shelf: Shelf) -> list[float | None]:
    return [maximum_of(f, shelf) for f in shelf.flavourings.values()]
