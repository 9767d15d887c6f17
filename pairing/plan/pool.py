"""A pool of candidates: recipes as arrays over the shelf, with their doses and what a serving of each comes to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.learning.log import Recipes
from pairing.model.base import DEFAULT_SERVING_G
from pairing.model.recipe import Recipe
from pairing.nutrition.maximum import maximum_of

if TYPE_CHECKING:
    from pairing.model.brief import Brief
    from pairing.model.shelf import Shelf

__all__ = ["Pool", "with_doses"]

_MOST_G_PER_KG = 998.0


@dataclass(frozen=True)
class Pool:
    """Candidate recipes.

    Attributes
    ----------
    shelf : Shelf
    base : int array (n,)
        Place of the base on the shelf.
    slots : int array (n, k)
        Places of the flavourings, −1 for none; ascending, empty slots last.
    dose, log_sd : array (n, k) or None
        Dose in g/kg and sd of the log needed dose; NaN in empty slots.
    eased : array (n,) or None
        By what factor doses were lowered to meet a limit; 1 is not at all.
    """

    shelf: Shelf
    base: np.ndarray
    slots: np.ndarray
    dose: np.ndarray | None = None
    log_sd: np.ndarray | None = None
    eased: np.ndarray | None = None

    def __len__(self) -> int:
        return len(self.base)

    def take(self, rows: Any) -> Pool:
        """Return some of the candidates."""
        dose, log_sd, eased = (None if a is None else a[rows] for a in (self.dose, self.log_sd, self.eased))
        return Pool(self.shelf, self.base[rows], self.slots[rows], dose, log_sd, eased)

    @cached_property
    def base_ids(self) -> list[str]:
        """Base of every candidate."""
        names = list(self.shelf.bases)
        return [names[b] for b in self.base.tolist()]

    @cached_property
    def flavouring_ids(self) -> list[tuple[str, ...]]:
        """Flavourings of every candidate, in the order of its slots."""
        names = list(self.shelf.flavourings)
        return [tuple(names[f] for f in row if f >= 0) for row in self.slots.tolist()]

    @cached_property
    def recipes(self) -> Recipes:
        """The candidates as the learned model takes them; open where they have no doses yet."""
        log_dose = np.full(self.slots.shape, np.nan) if self.dose is None else np.log(self.dose)
        return Recipes(self.base.astype(np.int64), self.slots.astype(np.int64), log_dose)

    @cached_property
    def doses(self) -> list[tuple[float, ...]]:
        """Doses of every candidate, g/kg, in the order of its slots."""
        assert self.dose is not None
        return [tuple(row[: len(ids)]) for row, ids in zip(self.dose.tolist(), self.flavouring_ids, strict=True)]

    def recipe(self, i: int) -> Recipe:
        """Return one candidate as a recipe with numeric doses."""
        return Recipe(self.base_ids[i], dict(zip(self.flavouring_ids[i], self.doses[i], strict=True)))

    def key(self, i: int) -> tuple[str, tuple[str, ...]]:
        """Return base and sorted flavourings of one candidate."""
        return self.base_ids[i], tuple(sorted(self.flavouring_ids[i]))

    def serving_g(self, brief: Brief) -> np.ndarray:
        """Return the base poured for one serving of each candidate, g."""
        per_base = [brief.serving_g or b.serving_g or DEFAULT_SERVING_G for b in self.shelf.bases.values()]
        return np.array(per_base, dtype=float)[self.base]

    def grams(self, brief: Brief) -> np.ndarray:
        """Mass of each flavouring in one serving, g, shape (n, k); 0 in empty slots."""
        assert self.dose is not None
        dose = np.nan_to_num(self.dose)
        finished = self.serving_g(brief) / (1.0 - dose.sum(axis=1) / 1000.0)
        return finished[:, None] * dose / 1000.0

    @staticmethod
    def stack(parts: Sequence[Pool]) -> Pool:
        """Put pools over one shelf together; doses are kept where all have them."""
        width = max(p.slots.shape[1] for p in parts)

        def wide(array: np.ndarray, fill: float) -> np.ndarray:
            return np.pad(array, ((0, 0), (0, width - array.shape[1])), constant_values=fill)

        base, slots = np.concatenate([p.base for p in parts]), np.concatenate([wide(p.slots, -1) for p in parts])

        def both(name: str) -> np.ndarray | None:
            given = [getattr(p, name) for p in parts]
            return None if any(g is None for g in given) else np.concatenate([wide(g, np.nan) for g in given])

        eased = None if any(p.eased is None for p in parts) else np.concatenate([np.asarray(p.eased) for p in parts])
        return Pool(parts[0].shelf, base, slots, both("dose"), both("log_sd"), eased)


def with_doses(pool: Pool, model: Any, tasters: Iterable[str] | None = None) -> Pool:
    """Give every candidate the doses that are expected to read 'just right' to these tasters, or to all who logged.

    No dose is above a maximum dose.
    """
    log_mean, sd = model.strength.needed(pool.recipes.open(), model.response.among(len(pool), tasters))
    dose = np.exp(np.minimum(log_mean, np.log(_MOST_G_PER_KG)))
    stated = [maximum_of(f, pool.shelf) for f in pool.shelf.flavourings.values()]
    most = np.array([*(np.inf if m is None else m for m in stated), np.inf])
    dose = np.minimum(dose, most[pool.slots])
    total = np.nansum(dose, axis=1)
    dose *= np.minimum(1.0, _MOST_G_PER_KG / np.maximum(total, 1e-9))[:, None]
    return replace(pool, dose=dose, log_sd=sd, eased=np.ones(len(pool)))
