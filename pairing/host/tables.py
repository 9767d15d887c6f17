"""Making the tables that rules see, from a shelf and recipes given by id or by place on the shelf."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from pairing.errors import TableError
from pairing.model.base import Base
from pairing.model.columns import BASES, FLAVOURINGS
from pairing.model.facts import Facts
from pairing.model.remembered import Remembered
from pairing.model.shelf import Shelf
from pairing.model.tables import AdditionTable, RecipeTable
from pairing.nutrition.composition import compose

__all__ = ["addition_table", "addition_table_from_index", "facts_of", "recipe_table", "recipe_table_from_index"]

_KNOWN: Remembered[tuple[Facts, Facts]] = Remembered()


def facts_of(shelf: Shelf) -> tuple[Facts, Facts]:
    """Return the facts of a shelf's bases and flavourings, made once per shelf (a shelf never changes)."""
    return _KNOWN.of((shelf,), lambda: (_base_facts(shelf), Facts(shelf.flavourings.values(), FLAVOURINGS)))


def _base_facts(shelf: Shelf) -> Facts:
    """Return the facts of the bases, those made from parts composed; where a part is missing they stay unknown."""
    return Facts((_composed(base, shelf) for base in shelf.bases.values()), BASES)


def _composed(base: Base, shelf: Shelf) -> Base:
    try:
        return compose(base, shelf)
    except TableError:
        return base


def recipe_table_from_index(shelf: Shelf, base_index: Any, flavouring_index: Any, dose: Any = None) -> RecipeTable:
    """Make the table of recipes from places on the shelf.

    Parameters
    ----------
    shelf : Shelf
    base_index : array of int, shape (n,)
    flavouring_index : array of int, shape (n, k)
        −1 is an empty slot.
    dose : array, shape (n, k), optional
        g/kg of finished drink; NaN is an open dose. None leaves all open.

    Raises
    ------
    TableError
        When shapes disagree or an index is off the shelf.
    """
    bases, flavourings = facts_of(shelf)
    base, slots = _checked(bases, flavourings, base_index, flavouring_index)
    doses = np.full(slots.shape, np.nan) if dose is None else np.asarray(dose, dtype=np.float64)
    if doses.shape != slots.shape:
        raise TableError(f"doses have shape {doses.shape}, flavourings {slots.shape}", "give one dose per slot")
    return RecipeTable(bases, flavourings, base, slots, doses)


def addition_table_from_index(shelf: Shelf, base_index: Any, flavouring_index: Any) -> AdditionTable:
    """Make the table of additions from places on the shelf; parameters as in `recipe_table_from_index`."""
    bases, flavourings = facts_of(shelf)
    return AdditionTable(bases, flavourings, *_checked(bases, flavourings, base_index, flavouring_index))


def recipe_table(
    shelf: Shelf,
    base_ids: Sequence[str],
    flavouring_ids: Sequence[Sequence[str]],
    doses: Sequence[Sequence[float | None]] | None = None,
) -> RecipeTable:
    """Make the table of recipes from ids.

    Parameters
    ----------
    shelf : Shelf
    base_ids : sequence of str, length n
    flavouring_ids : sequence of tuples of str, length n
    doses : sequence of tuples of float, length n, optional
        g/kg in the order of the ids; None or NaN leaves a dose open.

    Raises
    ------
    UnknownIdError
        When the shelf lacks an id.
    """
    base, slots = _encoded(shelf, base_ids, flavouring_ids)
    if doses is None:
        return recipe_table_from_index(shelf, base, slots)
    filled = np.full(slots.shape, np.nan)
    counts = np.fromiter(map(len, doses), dtype=np.int64, count=len(doses))
    if len(doses) != len(slots) or not np.array_equal(counts, (slots >= 0).sum(axis=1)):
        raise TableError("doses and flavouring ids differ in number", "give one dose, or None, per flavouring")
    filled[slots >= 0] = np.array([d for row in doses for d in row], dtype=np.float64)
    return recipe_table_from_index(shelf, base, slots, filled)


def addition_table(shelf: Shelf, base_ids: Sequence[str], flavouring_ids: Sequence[Sequence[str]]) -> AdditionTable:
    """Make the table of additions from ids; parameters as in `recipe_table`."""
    return addition_table_from_index(shelf, *_encoded(shelf, base_ids, flavouring_ids))


def _encoded(shelf: Shelf, base_ids: Sequence[str], flavouring_ids: Sequence[Sequence[str]]) -> tuple[Any, Any]:
    bases, flavourings = facts_of(shelf)
    if len(base_ids) != len(flavouring_ids):
        raise TableError(
            f"{len(base_ids)} base ids and {len(flavouring_ids)} lists of flavourings", "give one list per base id"
        )
    try:
        base = np.fromiter((bases.index[b] for b in base_ids), dtype=np.int64, count=len(base_ids))
        flat = np.array([flavourings.index[f] for row in flavouring_ids for f in row], dtype=np.int64)
    except KeyError:
        for b, row in zip(base_ids, flavouring_ids, strict=True):
            shelf.base(b)
            for f in row:
                shelf.flavouring(f)
        raise
    counts = np.fromiter(map(len, flavouring_ids), dtype=np.int64, count=len(flavouring_ids))
    slots = np.full((len(counts), int(counts.max(initial=0))), -1, dtype=np.int64)
    slots[np.arange(slots.shape[1]) < counts[:, None]] = flat
    return base, slots


def _checked(bases: Facts, flavourings: Facts, base_index: Any, flavouring_index: Any) -> tuple[Any, Any]:
    base, slots = np.asarray(base_index, dtype=np.int64), np.asarray(flavouring_index, dtype=np.int64)
    if base.ndim != 1 or slots.ndim != 2 or len(base) != len(slots):
        raise TableError(
            f"base indices have shape {base.shape}, flavouring indices {slots.shape}", "give (n,) and (n, k)"
        )
    if base.size and (base.min() < 0 or base.max() >= len(bases)):
        raise TableError(f"a base index is outside 0 to {len(bases) - 1}", "use places on this shelf")
    if slots.size and (slots.min() < -1 or slots.max() >= len(flavourings)):
        raise TableError(f"a flavouring index is outside −1 to {len(flavourings) - 1}", "use places on this shelf")
    return base, slots
