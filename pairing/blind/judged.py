"""Which readings count for a cup: the last liking of each taster, and which cups are the same recipe."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.constants import IN_RANGE_LOG
from pairing.model.recipe import Recipe

if TYPE_CHECKING:
    from pairing.learning.log import Log
    from pairing.model.recipes import Recipes
    from pairing.model.shelf import Shelf

__all__ = ["cups_of", "distance", "last_judged", "last_moments", "recipe_at", "recipe_keys"]


def last_judged(log: Log) -> Any:
    """Return the rows of the last liking that each taster gave each cup, in the order of the log."""
    rows = np.flatnonzero(~np.isnan(log.liking))
    cup = log.cup[rows] * len(log.tasters) + log.taster[rows]
    order = np.lexsort((log.source[rows], log.order[rows], cup))
    last = np.r_[cup[order][1:] != cup[order][:-1], True] if len(order) else np.empty(0, bool)
    return np.sort(rows[order[last]])


def recipe_keys(recipes: Recipes, step: float = 0.02) -> list[tuple[int, tuple[tuple[int, int], ...]]]:
    """Return a key for each recipe: equal for the same base and flavourings at doses alike to the nearest ``step``."""
    base = recipes.base.tolist()
    place = np.where(np.isnan(recipes.log_dose), 0, np.round(recipes.log_dose / step)).astype(int).tolist()
    return [
        (base[i], tuple(sorted((f, place[i][k]) for k, f in enumerate(row) if f >= 0)))
        for i, row in enumerate(recipes.flavouring.tolist())
    ]


def cups_of(log: Log, shelf: Shelf, recipe: Recipe) -> Any:
    """Return the rows of the last likings of cups of one recipe, every dose within e^±0.2 of it."""
    wanted = {shelf.flavouring_places[f]: d for f, d in recipe.doses.items() if d is None or d > 0}
    rows = last_judged(log)
    rows = rows[log.recipes.base[rows] == shelf.base_places[recipe.base_id]]
    rows = rows[log.recipes.count[rows] == len(wanted)]
    for item, dose in wanted.items():
        here = log.recipes.flavouring[rows] == item
        with np.errstate(invalid="ignore"):
            near = here if dose is None else here & (np.abs(log.recipes.log_dose[rows] - np.log(dose)) <= IN_RANGE_LOG)
        rows = rows[near.any(axis=1)]
    return rows


def recipe_at(log: Log, shelf: Shelf, row: int) -> Recipe:
    """Return what was in the cup at one reading, doses to six digits."""
    slots = zip(log.recipes.flavouring[row].tolist(), log.recipes.log_dose[row].tolist(), strict=True)
    flavourings = list(shelf.flavourings)
    doses = {flavourings[f]: float(f"{math.exp(d):.6g}") for f, d in slots if f >= 0}
    return Recipe(list(shelf.bases)[int(log.recipes.base[row])], doses)


def last_moments(log: Log) -> dict[int, int]:
    """Return the row of the last reading of each cup, by the cup's place in ``trials``."""
    order = np.lexsort((log.source, log.order))
    return {int(cup): int(row) for cup, row in zip(log.cup[order], order, strict=True)}


def distance(one: Recipe, other: Recipe) -> float:
    """Return how far two recipes are apart: the largest log ratio of their doses; infinite when the parts differ.

    Examples
    --------
    >>> from pairing.model.recipe import Recipe
    >>> round(distance(Recipe("oat", {"plum": 1.0}), Recipe("oat", {"plum": 1.1})), 3)
    0.095
    """
    if one.base_id != other.base_id or one.flavouring_ids != other.flavouring_ids:
        return math.inf
    pairs = [(a, other.doses[f]) for f, a in one.doses.items()]
    if any((a == 0) != (b == 0) for a, b in pairs if a is not None and b is not None):
        return math.inf
    return max((abs(math.log(a / b)) for a, b in pairs if a and b), default=0.0)
