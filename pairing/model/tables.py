"""What a rule sees: recipes, or additions, as read-only columns."""

from __future__ import annotations

from copy import copy
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pairing.errors import TableError
from pairing.model.arrays import Bools, Floats, Ints
from pairing.model.facts import Facts, unchangeable
from pairing.model.recipes import Recipes
from pairing.model.served import SERVED_COLUMNS, Served

__all__ = ["AdditionTable", "RecipeTable", "backwards"]


def _frozen(array: Any, dtype: Any) -> NDArray[Any]:
    return unchangeable(np.asarray(array, dtype=dtype))


class _Table:
    """Look-up shared by both tables: ``base_…`` columns of the base, the others of the flavouring."""

    _bases: Facts
    _flavourings: Facts
    base_index: Ints
    flavouring_index: Ints

    def __len__(self) -> int:
        return len(self.base_index)

    def _facts(self, column: str) -> tuple[Facts, str, Ints]:
        name = column.removeprefix("base_")
        if name not in {column, "id"}:
            return self._bases, name, self.base_index
        return self._flavourings, column, self.flavouring_index

    def __getitem__(self, column: str) -> Floats:
        """Return a numeric column in its own unit, NaN where it is unknown or the slot is empty."""
        facts, name, index = self._facts(column)
        return facts.numbers(name)[index]

    def __getattr__(self, column: str) -> Floats:
        if column.startswith("_"):
            raise AttributeError(column)
        try:
            return self[column]
        except TableError as error:
            raise AttributeError(str(error)) from None

    def has(self, column: str, word: str) -> Bools:
        """Return where a text column is, or a list of words or amounts holds, a word; unknown and empty are False.

        Parameters
        ----------
        column : str
            Such as ``tags``, ``solubility``, ``carrier`` or ``base_allergens``.
        word : str
            Case does not matter.
        """
        facts, name, index = self._facts(column)
        return facts.has(name, word)[index]

    def described(self, *words: str) -> Bools:
        """Return where a flavouring's tags or family hold one of the words, such as ``bitter`` or ``citrus``."""
        found = [self.has(column, word) for column in ("tags", "family") for word in words]
        return np.asarray(np.logical_or.reduce(found))

    def speaks_of(self, *words: str) -> Bools:
        """Return where a flavouring's name, family, tags or wheel hold one of the words, inside longer ones too.

        Such as ``nut``, which ``hazelnut`` and ``nutty`` hold. Since 1.1.
        """
        found = [self._flavourings.speaks_of(word)[self.flavouring_index] for word in words]
        return np.asarray(np.logical_or.reduce(found))

    def amount(self, column: str, part: str) -> Floats:
        """Return how much of a part the column states, in the column's unit: 0 if not listed, NaN if unknown."""
        facts, name, index = self._facts(column)
        return facts.amounts(name, part)[index]

    def known(self, column: str) -> Bools:
        """Return per row whether the column is known for all that the row holds, shape (n,)."""
        facts, name, index = self._facts(column)
        found: Bools = facts.known(name)[index]
        return found if found.ndim == 1 else np.logical_and.reduce(np.ascontiguousarray(found.T))

    def unknown_ids(self, column: str) -> tuple[str, ...]:
        """Return the ids, sorted, of the items on this table for which the column is unknown."""
        facts, name, index = self._facts(column)
        used = np.unique(index)
        return tuple(sorted(facts.ids[i] for i in used if i >= 0 and not facts.known(name)[i]))


class RecipeTable(_Table):
    """Recipes, one per row, for rules that act on liking and for cautions. Read-only.

    ``table.base_fat_g_per_100g`` is a column of the bases, shape (n,). ``table.fat_loving`` is a column of the
    flavourings, shape (n, k): one entry per slot of the recipe, NaN in an empty slot and where it is unknown.

    Attributes
    ----------
    base_index : array of int, shape (n,)
        Place of the base on the shelf.
    flavouring_index : array of int, shape (n, k)
        Place of the flavouring on the shelf; −1 is an empty slot.
    present : array of bool, shape (n, k)
    n_flavourings : array of int, shape (n,)
    dose_g_per_kg : array, shape (n, k)
        g per kg of finished drink: 0 in an empty slot, NaN where the dose is left open.
    temperature_c, minutes_since_addition : array, shape (n,)
        Of the cup as it is served, NaN where it is not known: when planning, unless the brief says so.
    lot_age_days : array, shape (n,)
        Days since the oldest bottle that was poured from was opened; NaN where it is not known, and when planning.
    """

    def __init__(self, bases: Facts, flavourings: Facts, recipes: Recipes) -> None:
        self._bases, self._flavourings = bases, flavourings
        self.base_index = _frozen(recipes.base, np.int64)
        self.flavouring_index = _frozen(recipes.flavouring, np.int64)
        self.present: Bools = _frozen(recipes.present, np.bool_)
        self.n_flavourings: Ints = _frozen(recipes.count, np.int64)
        self.dose_g_per_kg: Floats = _frozen(np.where(self.present, recipes.dose_g_per_kg, 0.0), np.float64)
        served = recipes.served or Served.known(len(recipes))
        self.temperature_c: Floats = _frozen(served.temperature_c, np.float64)
        self.minutes_since_addition: Floats = _frozen(served.minutes_since_addition, np.float64)
        self.lot_age_days: Floats = _frozen(served.lot_age_days, np.float64)
        self._mixing = _frozen(served.mixing, object)

    def __getitem__(self, column: str) -> Floats:
        """Return a numeric column in its own unit; ``dose_g_per_kg`` and how the cup is served, too."""
        if column in ("dose_g_per_kg", *SERVED_COLUMNS):
            found: Floats = vars(self)[column]
            return found
        return super().__getitem__(column)

    def mixed(self, word: str) -> Bools:
        """Return per recipe whether it was mixed in a way that has this word in it, shape (n,); unknown is False."""
        word = word.casefold()
        return np.array([text is not None and word in str(text).casefold() for text in self._mixing], dtype=bool)

    def known(self, column: str) -> Bools:
        """Return per row whether the column is known for all that the recipe holds, shape (n,)."""
        if column in SERVED_COLUMNS:
            return ~np.isnan(self[column])
        if column == "dose_g_per_kg":
            return np.asarray(np.logical_and.reduce(~np.isnan(np.ascontiguousarray(self.dose_g_per_kg.T))))
        return super().known(column)

    def unknown_ids(self, column: str) -> tuple[str, ...]:
        """Return the ids, sorted, of what lacks the column; for doses of the flavourings whose dose is open."""
        if column in SERVED_COLUMNS:
            return ()
        if column != "dose_g_per_kg":
            return super().unknown_ids(column)
        used = np.unique(self.flavouring_index[np.isnan(self.dose_g_per_kg)])
        return tuple(sorted(self._flavourings.ids[i] for i in used))

    @cached_property
    def incidence(self) -> Bools:
        """Whether a flavouring is in a recipe, shape (n, flavourings on the shelf)."""
        out = np.zeros((len(self), len(self._flavourings) + 1), dtype=np.bool_)
        np.put_along_axis(out, self.flavouring_index % out.shape[1], True, axis=1)
        return _frozen(out[:, :-1], np.bool_)

    @property
    def flavouring_ids(self) -> tuple[str, ...]:
        """Ids of the flavourings on the shelf, in the order of ``flavouring_index`` and ``incidence``."""
        return self._flavourings.ids

    @property
    def base_fraction(self) -> Floats:
        """Share of the base in the finished drink, g per g, shape (n,); NaN where a dose is open."""
        return np.asarray(1.0 - self.dose_g_per_kg.sum(axis=1) / 1000.0)

    def total(self, per_slot: Any) -> Floats:
        """Add a quantity up over the flavourings of each recipe, empty slots left out.

        Parameters
        ----------
        per_slot : array, shape (n, k)

        Returns
        -------
        array, shape (n,)
            NaN where a flavouring's quantity is unknown.
        """
        return np.asarray(np.where(self.present, per_slot, 0.0).sum(axis=1))

    def any(self, per_slot: Any) -> Bools:
        """Return per recipe whether a condition holds for one of its flavourings, shape (n,)."""
        return np.asarray(np.logical_or.reduce(self.present & np.asarray(per_slot, dtype=np.bool_), axis=1))


class AdditionTable(_Table):
    """Additions, one flavouring of one recipe per row, for rules on dose. Read-only; needed doses are not known yet.

    Rows come recipe by recipe, within a recipe in the order of its slots. ``table.base_fat_g_per_100g`` and
    ``table.fat_loving`` both have shape (m,).

    Attributes
    ----------
    recipe : array of int, shape (m,)
        Row of the recipe that the addition belongs to.
    base_index, flavouring_index : array of int, shape (m,)
        Places on the shelf.
    companion_index : array of int, shape (m, k)
        The other flavourings in the same recipe; −1 is an empty slot.
    companions : array of int, shape (m,)
        How many others there are.
    companion_dose_g_per_kg : array, shape (m, k)
        Their doses; where one is open, its label direction's; NaN where there is none and in empty slots.
    dose_g_per_kg : array, shape (m,)
        The addition's own dose as it was tasted; where it is open, its label direction's; NaN where there is none.
    """

    def __init__(
        self, bases: Facts, flavourings: Facts, recipes: Recipes, label_dose_g_per_kg: Floats | None = None
    ) -> None:
        self._bases, self._flavourings = bases, flavourings
        slots, dose = recipes.flavouring, recipes.dose_g_per_kg
        if label_dose_g_per_kg is not None:
            dose = np.where(np.isnan(dose), label_dose_g_per_kg[recipes.base[:, None], slots], dose)
        rows, places = np.nonzero(recipes.present)
        others = slots[rows]
        others[np.arange(len(rows)), places] = -1
        self.recipe = _frozen(rows, np.int64)
        self.base_index = _frozen(recipes.base[rows], np.int64)
        self.flavouring_index = _frozen(slots[rows, places], np.int64)
        self.companion_index = _frozen(others, np.int64)
        self.companions: Ints = _frozen((others >= 0).sum(axis=1), np.int64)
        self.companion_dose_g_per_kg: Floats = _frozen(np.where(others >= 0, dose[rows], np.nan), np.float64)
        self.dose_g_per_kg: Floats = _frozen(dose[rows, places], np.float64)

    def __getitem__(self, column: str) -> Floats:
        """Return a numeric column in its own unit; ``dose_g_per_kg``, too."""
        return self.dose_g_per_kg if column == "dose_g_per_kg" else super().__getitem__(column)

    def known(self, column: str) -> Bools:
        """Return per addition whether the column is known, shape (m,)."""
        return ~np.isnan(self.dose_g_per_kg) if column == "dose_g_per_kg" else super().known(column)

    def unknown_ids(self, column: str) -> tuple[str, ...]:
        """Return the ids, sorted, of what lacks the column; for doses of the flavourings without a direction."""
        if column != "dose_g_per_kg":
            return super().unknown_ids(column)
        used = np.unique(self.flavouring_index[np.isnan(self.dose_g_per_kg)])
        return tuple(sorted(self._flavourings.ids[i] for i in used))

    def companion(self, column: str) -> Floats:
        """Return a numeric flavouring column of the companions, shape (m, k), NaN in empty slots."""
        return np.asarray(self._flavourings.numbers(column)[self.companion_index])

    def companion_has(self, column: str, word: str) -> Bools:
        """Return where a companion's text, words or amounts hold a word, shape (m, k)."""
        return np.asarray(self._flavourings.has(column, word)[self.companion_index])


def backwards(table: RecipeTable | AdditionTable, most: int) -> tuple[RecipeTable | AdditionTable, Ints]:
    """Return a table of some of the same recipes in another order, and which row of the table each of its rows is.

    Parameters
    ----------
    table : RecipeTable or AdditionTable
    most : int
        Recipes, spread over the table.
    """
    rows = np.arange(len(table)) if len(table) <= most else np.linspace(0, len(table) - 1, most).astype(np.int64)
    rows = recipe = rows[::-1]
    if isinstance(table, AdditionTable):  # all additions of a recipe, or none
        chosen = np.unique(table.recipe[rows])[::-1]
        first, end = (np.searchsorted(table.recipe, chosen, side) for side in ("left", "right"))
        rows = np.concatenate([np.arange(a, b) for a, b in zip(first, end, strict=True)])
        recipe = np.repeat(np.arange(len(chosen)), end - first)
    other = copy(table)
    for name, values in vars(table).items():
        if isinstance(values, np.ndarray):
            vars(other)[name] = _frozen(values[rows], values.dtype)
    if isinstance(other, AdditionTable):
        other.recipe = _frozen(recipe, np.int64)
    return other, rows
