"""Rows of the database as columns and back: many at a time, and no object per row."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from math import isnan
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import StoreError
from pairing.model.columns import TableSchema

if TYPE_CHECKING:
    import pandas as pd
    from sqlalchemy import Select
    from sqlalchemy import Table as SqlTable

    from pairing.store.database import Transaction

__all__ = ["CHUNK", "DAMAGED", "Columns", "cells", "columns", "fetch", "insert", "insert_columns"]

Columns = Mapping[str, np.ndarray]
"""A table as arrays by column: what needs no more than that need not load pandas."""

CHUNK = 20_000
"""Rows that are held as Python objects at a time (our choice)."""
_FIXED = ("place", "batch", "gone")
DAMAGED = "the bench is damaged, or was changed by hand: go back to a copy, or save it with pairing export --salvage"


def columns(
    tx: Transaction, spec: TableSchema, query: Select[Any], names: Sequence[str], empty: Collection[str] = ()
) -> Columns:
    """Run a query of some columns, and return them as arrays.

    Text comes as an object array in which equal cells are one object, None where empty; numbers as float64.

    Parameters
    ----------
    names : sequence of str
        The columns in their order: those of the query, and those that are known to be ``empty``.
    """
    numeric = {c.name for c in spec.columns if c.kind in ("number", "integer")}
    asked = [name for name in names if name not in empty]
    readers: list[Any] = [
        _Numbers(f"{spec.name}.{name}", np.float64 if name in numeric else np.int64)
        if name in numeric or name in _FIXED
        else _Texts()
        for name in asked
    ]
    with tx.execute(query) as result:
        while rows := result.cursor.fetchmany(CHUNK):
            for reader, cells in zip(readers, zip(*rows, strict=True), strict=True):
                reader.take(cells)
    found = {name: reader.array() for name, reader in zip(asked, readers, strict=True)}
    n = len(found[asked[0]])
    return {name: found[name] if name in found else _nothing(name in numeric, n) for name in names}


def _nothing(number: bool, n: int) -> np.ndarray:
    """Make a column without any cell: one value that stands for all takes no memory."""
    return np.broadcast_to(np.array(np.nan) if number else np.array(None, dtype=object), (n,))


def fetch(
    tx: Transaction, spec: TableSchema, query: Select[Any], names: Sequence[str], empty: Collection[str] = ()
) -> pd.DataFrame:
    """Run a query of some columns, and return them as a frame; cells and parameters as in `columns`."""
    import pandas as pd

    arrays = columns(tx, spec, query, names, empty)
    index = pd.RangeIndex(len(next(iter(arrays.values()), ())))
    data = {name: pd.Series(a, index=index, dtype=a.dtype, copy=False) for name, a in arrays.items()}
    return pd.DataFrame(data, index=index, copy=False)


class _Numbers:
    def __init__(self, name: str, kind: Any) -> None:
        self._name, self._kind, self._parts = name, kind, [np.empty(0, kind)]

    def take(self, cells: Sequence[Any]) -> None:
        try:
            self._parts.append(np.array(cells, dtype=self._kind))
        except (TypeError, ValueError):
            odd = next(cell for cell in cells if not isinstance(cell, (int, float, type(None))))
            raise StoreError(f"{self._name} holds {odd!r}, which is no number", DAMAGED) from None

    def array(self) -> np.ndarray:
        return np.concatenate(self._parts)


class _Texts:
    """Text by the number of its first appearance: a million cells hold a few hundred ids."""

    def __init__(self) -> None:
        self._number: dict[Any, int] = {}
        self._parts = [np.empty(0, np.int32)]

    def take(self, cells: Sequence[Any]) -> None:
        number = self._number
        try:
            codes = [number[cell] for cell in cells]
        except KeyError:
            codes = [number.setdefault(cell, len(number)) for cell in cells]
        self._parts.append(np.array(codes, dtype=np.int32))

    def array(self) -> np.ndarray:
        texts = np.empty(len(self._number), dtype=object)
        texts[:] = list(self._number)
        return texts[np.concatenate(self._parts)]


def insert(
    tx: Transaction,
    sql: SqlTable,
    frame: pd.DataFrame,
    names: Sequence[str],
    batch: int | Iterable[int],
    keys: Callable[[pd.DataFrame], list[str]],
) -> None:
    """Insert rows, a chunk at a time; columns without any cell are left out.

    Parameters
    ----------
    names : sequence of str
        Columns of the frame that are kept; ``row_key, place, gone`` too where it has them.
    batch : int or iterable of int
        Of all rows, or of each.
    keys : callable
        Makes the row keys of a part of the frame that has none.
    """
    n = len(frame)
    if not n:
        return
    filled = [name for name in names if frame[name].notna().any()]
    batches = [batch] * n if isinstance(batch, int) else [int(b) for b in batch]
    next_place = _next_place(tx, sql) if "place" not in frame or bool((frame["place"] < 0).any()) else 0
    columns = ["row_key", "place", "batch", "gone", *filled]
    for start in range(0, n, CHUNK):
        part = frame if n <= CHUNK else frame.iloc[start : start + CHUNK]
        m = len(part)
        places = np.array(part["place"], dtype=np.int64) if "place" in frame else np.full(m, -1, dtype=np.int64)
        fresh = places < 0
        places[fresh] = next_place + np.arange(fresh.sum())
        next_place += int(fresh.sum())
        kept = [
            part["row_key"].tolist() if "row_key" in frame else keys(part),
            places.tolist(),
            batches[start : start + m],
            [int(g) for g in part["gone"]] if "gone" in frame else [0] * m,
            *(cells(part[name]) for name in filled),
        ]
        insert_columns(tx, sql, dict(zip(columns, kept, strict=True)))


def cells(column: pd.Series | np.ndarray) -> list[Any]:
    """Return the cells of a column as the database keeps them: None where empty."""
    found = column.tolist()
    return [None if isnan(cell) else cell for cell in found] if column.dtype.kind == "f" else found


def _next_place(tx: Transaction, sql: SqlTable) -> int:
    from sqlalchemy import func, select

    last = tx.execute(select(func.max(sql.c.place))).scalar()
    return 0 if last is None else last + 1


def insert_columns(tx: Transaction, sql: SqlTable, columns: Mapping[str, Sequence[Any]]) -> None:
    """Hand rows to the driver as they are: its own loop is the fastest there is."""
    rows = list(zip(*columns.values(), strict=True))
    quote = tx.connection.dialect.identifier_preparer.quote
    into = f"{quote(sql.name)} ({', '.join(map(quote, columns))})"
    if tx.db.is_file:
        marks = ", ".join("?" * len(columns))
        tx.connection.exec_driver_sql(f"INSERT INTO {into} VALUES ({marks})", rows)
        return
    with tx.connection.connection.cursor() as cursor, cursor.copy(f"COPY {into} FROM STDIN") as copy:  # type: ignore[attr-defined]
        for row in rows:
            copy.write_row(row)
