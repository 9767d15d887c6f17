"""Facts of many bases or flavourings as arrays: one entry per item, one array per column."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pairing.errors import TableError, nearest
from pairing.model.columns import Column, TableSchema

__all__ = ["Facts", "unchangeable"]


def unchangeable(array: NDArray[Any]) -> NDArray[Any]:
    """Return a copy that nobody can make writable again, as the flag of an array of its own could be."""
    if array.dtype == object:  # whose bytes are places in memory
        held = array.copy()
        held.flags.writeable = False
        return held
    return np.frombuffer(array.tobytes(), array.dtype).reshape(array.shape)


class Facts:
    """Columns of one table, read from value objects on first use and kept.

    Every array has one entry more than there are items. The last entry stands for an empty slot, so that index −1
    finds it: its number is NaN, it has no word, and nothing about it is unknown.

    Parameters
    ----------
    items : iterable of Base or Flavouring
    table : TableSchema
        The columns that the items have.

    Examples
    --------
    >>> from pairing.model.base import Base
    >>> from pairing.model.columns import BASES
    >>> Facts([Base(base_id="oat", name="Oat drink", fat_g_per_100g=1.5)], BASES).numbers("fat_g_per_100g")
    array([1.5, nan])
    """

    def __init__(self, items: Iterable[Any], table: TableSchema) -> None:
        self._items = tuple(items)
        self._table = table
        self._columns = table.by_name
        self._kept: dict[tuple[str, ...], NDArray[Any]] = {}
        self.ids: tuple[str, ...] = tuple(getattr(item, table.key[0]) for item in self._items)

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self._items, self._table)

    def __len__(self) -> int:
        return len(self._items)

    def column(self, name: str) -> Column:
        """Return the column's definition, or raise with the nearest names."""
        try:
            return self._columns[name]
        except KeyError:
            hint = nearest(name, self._columns)
            raise TableError(f"no column {name!r} in {self._table.name}", hint) from None

    def numbers(self, name: str) -> NDArray[np.float64]:
        """Return a numeric column in its own unit, NaN where unknown."""
        kind = self.column(name).kind
        if kind not in ("number", "integer"):
            raise TableError(f"{name} holds {kind}, not numbers", f"ask has({name!r}, …) for a word in it")
        return self._keep(("numbers", name), name, lambda v: math.nan if v is None else float(v), math.nan)

    def amounts(self, name: str, part: str) -> NDArray[np.float64]:
        """Return how much of one part an ``amounts`` column states, 0 where the part is not listed, NaN if unknown."""
        if self.column(name).kind != "amounts":
            raise TableError(f"{name} holds no amounts", f"use {name!r} by itself")
        key = part.casefold()

        def amount(value: Any) -> float:
            if value is None:
                return math.nan
            found = {k.casefold(): v for k, v in value.items()}.get(key, 0.0)
            return math.nan if found is None else found

        return self._keep(("amounts", name, key), name, amount, math.nan)

    def has(self, name: str, word: str) -> NDArray[np.bool_]:
        """Return whether a text, list of words or list of amounts holds a word; unknown is False."""
        key = word.casefold()
        if self.column(name).kind in ("words", "amounts"):
            return self._keep(("has", name, key), name, lambda v: bool(v) and key in {w.casefold() for w in v}, False)
        return self._keep(("has", name, key), name, lambda v: str(v).casefold() == key, False)

    def speaks_of(self, word: str) -> NDArray[np.bool_]:
        """Return whether the name, family, tags or wheel of a flavouring hold a word, inside a longer one too."""
        key = word.casefold()

        def speaks(item: Any) -> bool:
            texts = (item.name, item.family or "", *(item.tags or ()), *(item.wheel or ()))
            return any(key in text.casefold() for text in texts)

        if ("speaks of", key) not in self._kept:
            self._kept["speaks of", key] = unchangeable(np.array([*map(speaks, self._items), False], dtype=bool))
        return self._kept["speaks of", key]

    def known(self, name: str) -> NDArray[np.bool_]:
        """Return whether the cell is filled in."""
        self.column(name)
        return self._keep(("known", name), name, lambda v: v is not None, True)

    def _keep(self, key: tuple[str, ...], name: str, read: Callable[[Any], Any], empty: Any) -> NDArray[Any]:
        if key not in self._kept:
            array = np.array([*(read(getattr(item, name)) for item in self._items), empty], dtype=type(empty))
            self._kept[key] = unchangeable(array)
        return self._kept[key]
