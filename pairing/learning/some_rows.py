"""Which rows of a huge log variances are learned from."""

from __future__ import annotations

import numpy as np

from pairing.model.arrays import Ints
from pairing.model.recipes import Recipes

__all__ = ["cut_off", "highest_places", "rows_up_to", "variance_rows"]

MANY_CUPS = 200_000
"""Cups that are enough (our choice)."""
LEAST_FLAVOURINGS = 30
"""Flavourings that they are of at least, so that there are pairs among them (our choice)."""


def variance_rows(recipes: Recipes, n_flavourings: int, many: int = MANY_CUPS) -> Ints | None:
    """Choose cups to learn variances from: all that hold only some of the flavourings; None where all are needed.

    Cups drawn at random would leave each cell with too few scores to tell its effect from noise. Only where so few
    flavourings are in very many cups an even part of them is taken.
    """
    if len(recipes) <= many:
        return None
    highest = highest_places(recipes, n_flavourings)
    counts = np.bincount(highest + 1, minlength=n_flavourings + 1)
    return rows_up_to(highest, *cut_off(counts, many))


def highest_places(recipes: Recipes, n_flavourings: int) -> Ints:
    """Place of each recipe's last flavouring in an order of all that is drawn at random; −1 for a plain cup."""
    place = np.random.default_rng(0).permutation(n_flavourings)
    return np.asarray(np.where(recipes.present, place[recipes.flavouring], -1).max(axis=1, initial=-1))


def cut_off(counts: Ints, many: int) -> tuple[int, int]:
    """Up to which place cups are taken, and one in how many, given how many have each place, plain cups first."""
    below = np.cumsum(counts)
    enough = int(np.searchsorted(below, many, side="right"))
    cut = min(max(enough, LEAST_FLAVOURINGS), len(below) - 1)
    return cut - 1, max(int(below[cut]) // many, 1)


def rows_up_to(highest: Ints, cut: int, step: int) -> Ints:
    """Return one in ``step`` of the rows up to a place."""
    return np.flatnonzero(highest <= cut)[::step]
