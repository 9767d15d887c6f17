"""Making the tables that rules see, from a shelf and recipes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pairing.errors import TableError
from pairing.model.arrays import Floats
from pairing.model.cache import IdentityCache
from pairing.model.columns import BASES, FLAVOURINGS
from pairing.model.facts import Facts
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.model.tables import AdditionTable, RecipeTable
from pairing.nutrition.composition import composed_or_stated
from pairing.quantities.directions import label_doses

__all__ = ["addition_table", "addition_table_of", "facts_of", "recipe_table", "recipe_table_of"]

_CACHE: IdentityCache[tuple[Facts, Facts]] = IdentityCache()
_LABELS: IdentityCache[Floats] = IdentityCache()


def facts_of(shelf: Shelf) -> tuple[Facts, Facts]:
    """Return the facts of a shelf's bases and flavourings, made once per shelf (a shelf never changes)."""
    return _CACHE.of((shelf,), lambda: (_base_facts(shelf), Facts(shelf.flavourings.values(), FLAVOURINGS)))


def _base_facts(shelf: Shelf) -> Facts:
    """Return the facts of the bases, those made from parts composed; where a part is missing they stay unknown."""
    return Facts((composed_or_stated(base, shelf) for base in shelf.bases.values()), BASES)


def recipe_table_of(shelf: Shelf, recipes: Recipes) -> RecipeTable:
    """Make the table of recipes.

    Raises
    ------
    TableError
        When a place is off the shelf.
    """
    return RecipeTable(*facts_of(shelf), _checked(shelf, recipes))


def addition_table_of(shelf: Shelf, recipes: Recipes) -> AdditionTable:
    """Make the table of the additions to recipes; see `recipe_table_of`."""
    labels = _LABELS.of((shelf,), lambda: _label_doses(shelf))
    return AdditionTable(*facts_of(shelf), _checked(shelf, recipes), labels)


def _label_doses(shelf: Shelf) -> Floats:
    """Return the label direction of each flavouring in each base, g/kg; a last column for empty slots."""
    bases = list(shelf.bases.values())
    found = [[np.nan if d is None else d.mid for d in label_doses(f, bases)] for f in shelf.flavourings.values()]
    table = np.array(found, dtype=float).reshape(len(found), len(bases)).T
    return np.column_stack([table, np.full(len(bases), np.nan)])


def recipe_table(
    shelf: Shelf,
    base_ids: Sequence[str],
    flavouring_ids: Sequence[Sequence[str]],
    doses: Sequence[Sequence[float | None] | None] | None = None,
) -> RecipeTable:
    """Make the table of recipes from ids; parameters and errors as of `Recipes.from_ids`."""
    return recipe_table_of(shelf, Recipes.from_ids(shelf, base_ids, flavouring_ids, doses))


def addition_table(shelf: Shelf, base_ids: Sequence[str], flavouring_ids: Sequence[Sequence[str]]) -> AdditionTable:
    """Make the table of additions from ids; parameters and errors as of `Recipes.from_ids`."""
    return addition_table_of(shelf, Recipes.from_ids(shelf, base_ids, flavouring_ids))


def _checked(shelf: Shelf, recipes: Recipes) -> Recipes:
    for what, places, least, n in (
        ("base", recipes.base, 0, len(shelf.bases)),
        ("flavouring", recipes.flavouring, -1, len(shelf.flavourings)),
    ):
        if places.size and (places.min() < least or places.max() >= n):
            raise TableError(f"a {what} index is outside {least} to {n - 1}", "use places on this shelf")
    return recipes
