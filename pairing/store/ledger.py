"""Append-only tables: every change is a new revision, nothing is overwritten.

A row is known by its key; its latest revision counts, unless that says that it is gone.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import ConflictError, StoreError
from pairing.model.columns import TABLES, Table
from pairing.store.exchange import REFERS

if TYPE_CHECKING:
    import pandas as pd
    from sqlalchemy import ColumnElement
    from sqlalchemy import Table as SqlTable

    from pairing.store.database import Transaction

__all__ = [
    "KEPT",
    "Revision",
    "append",
    "begin_revision",
    "current",
    "ids",
    "latest",
    "log_revision",
    "now",
    "revisions",
    "row_keys",
    "undo",
    "versions",
    "written",
]

KEPT = ("row_key", "place", "revision", "gone")
_SEPARATOR = "\x1f"
_LONGEST_KEY = 800
_MANY = 500


@dataclass(frozen=True, kw_only=True)
class Revision:
    """One change of the bench: number, time (ISO 8601, UTC), author, what was done and to what."""

    revision: int
    at: str
    author: str
    action: str
    about: str | None = None
    write_id: str | None = None
    digest: str | None = None
    undoes: int | None = None


def now() -> str:
    """Return the time in UTC as ISO text."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="microseconds")


def row_keys(table: Table, frame: pd.DataFrame) -> list[str]:
    """Return one text per row that tells it from all others of its table."""
    parts = []
    for name in table.key:
        cells = frame[name].tolist()
        if table.by_name[name].kind in ("number", "integer"):
            parts.append(["" if isnan(c) else f"{c:.17g}" for c in cells])
        else:
            parts.append(["" if c is None else c for c in cells])
    keys = map(_SEPARATOR.join, zip(*parts, strict=True))
    return [k if len(k) <= _LONGEST_KEY else "sha256:" + hashlib.sha256(k.encode()).hexdigest() for k in keys]


def log_revision(tx: Transaction) -> int:
    """Return the number of the last revision."""
    meta = tx.table("meta")
    return int(tx.execute(meta.select().where(meta.c.name == "revision")).one().value)


def begin_revision(tx: Transaction, action: str, **more: Any) -> int:
    """Begin the next revision and return its number."""
    meta, table = tx.table("meta"), tx.table("revisions")
    number = log_revision(tx) + 1
    tx.execute(meta.update().where(meta.c.name == "revision").values(value=number))
    row = {"revision": number, "at": now(), "author": tx.author, "action": action, **more}
    tx.execute(table.insert(), row)
    return number


def revisions(tx: Transaction) -> list[Revision]:
    """Return all revisions, first to last."""
    table = tx.table("revisions")
    return [Revision(**row._mapping) for row in tx.execute(table.select().order_by(table.c.revision))]


def append(
    tx: Transaction,
    table: str,
    frame: pd.DataFrame,
    revision: int | Sequence[int],
) -> None:
    """Append rows to a table.

    Parameters
    ----------
    frame : DataFrame
        Canonical columns; ``row_key``, ``place`` (-1 or absent: at the end) and ``gone`` (absent: 0) where known.
    revision : int or sequence of int
        Of all rows, or of each.
    """
    if frame.empty:
        return
    from sqlalchemy import func, select

    spec, sql = TABLES[table], tx.table(table)
    n = len(frame)
    places = np.array(frame["place"] if "place" in frame else np.full(n, -1), dtype=np.int64)
    if (fresh := places < 0).any():
        last = tx.execute(select(func.max(sql.c.place))).scalar()
        places[fresh] = np.arange(fresh.sum()) + (0 if last is None else last + 1)
    columns: dict[str, list[Any]] = {
        "row_key": frame["row_key"].tolist() if "row_key" in frame else row_keys(spec, frame),
        "place": places.tolist(),
        "revision": [revision] * n if isinstance(revision, int) else [int(r) for r in revision],
        "gone": [int(g) for g in frame["gone"]] if "gone" in frame else [0] * n,
    }
    for name in spec.names:
        cells = frame[name].tolist()
        columns[name] = [None if isnan(c) else c for c in cells] if frame[name].dtype.kind == "f" else cells
    names = list(columns)
    rows = [dict(zip(names, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    tx.execute(sql.insert(), rows)


def latest(
    tx: Transaction,
    table: str,
    *,
    keys: Iterable[str] | None = None,
    trials: Iterable[str] | None = None,
) -> pd.DataFrame:
    """Return the latest revision of every row, gone ones too, in the order in which rows first came.

    Parameters
    ----------
    keys, trials : iterable of str, optional
        Only rows with these keys or trial ids.
    """
    sql = tx.table(table)
    query = sql.select().where(_is_latest(sql))
    for name, wanted in (("row_key", keys), ("trial_id", trials)):
        if wanted is not None and len(few := list(dict.fromkeys(wanted))) <= _MANY:
            query = query.where(sql.c[name].in_(few))
    return _frame(TABLES[table], tx.execute(query.order_by(sql.c.place)).all(), sql.c.keys())


def _is_latest(sql: SqlTable) -> ColumnElement[bool]:
    from sqlalchemy import exists

    newer = sql.alias("newer")
    return ~exists().where(newer.c.row_key == sql.c.row_key, newer.c.revision > sql.c.revision)


def ids(tx: Transaction, table: str) -> set[str]:
    """Return the ids in a table that count now."""
    sql = tx.table(table)
    query = sql.select().with_only_columns(sql.c[TABLES[table].key[0]]).where(sql.c.gone == 0, _is_latest(sql))
    return set(tx.execute(query).scalars())


def current(tx: Transaction, table: str) -> pd.DataFrame:
    """Return the rows that count now."""
    rows = latest(tx, table)
    return rows[rows["gone"] == 0].reset_index(drop=True)


def versions(tx: Transaction, table: str, **where: Any) -> pd.DataFrame:
    """Return all revisions of the rows whose columns have the given values, first to last."""
    sql = tx.table(table)
    query = sql.select()
    for name, value in where.items():
        query = query.where(sql.c[name] == value)
    return _frame(TABLES[table], tx.execute(query.order_by(sql.c.revision, sql.c.row_key)).all(), sql.c.keys())


def _frame(spec: Table, rows: Sequence[Any], names: Sequence[str]) -> pd.DataFrame:
    import pandas as pd

    cells = dict(zip(names, zip(*rows, strict=True), strict=True)) if rows else {}
    data: dict[str, pd.Series] = {}
    index = pd.RangeIndex(len(rows))
    for name in (*spec.names, *KEPT):
        column = spec.by_name.get(name)
        numeric = column is not None and column.kind in ("number", "integer")
        kind: Any = np.float64 if numeric else np.int64 if name in KEPT[1:] else object
        array = np.array(cells.get(name, ()), dtype=kind)
        data[name] = pd.Series(array, index=index, dtype=array.dtype, copy=False)
    return pd.DataFrame(data, index=index, copy=False)


def written(tx: Transaction, write_id: str) -> Revision | None:
    """Return the last revision with this id of its caller, unless it has been undone."""
    table = tx.table("revisions")
    if tx.execute(table.select().where(table.c.write_id == write_id)).first() is None:
        return None
    return next((r for r in active_revisions(tx) if r.write_id == write_id), None)


def active_revisions(tx: Transaction) -> list[Revision]:
    """Return the revisions that have not been undone, last first."""
    cancelled: set[int] = set()
    out = []
    for one in reversed(revisions(tx)):
        if one.revision in cancelled:
            continue
        if one.undoes is not None:
            cancelled.add(one.undoes)
        out.append(one)
    return out


def undo(tx: Transaction, revision: int | None = None) -> Revision:
    """Append a revision that takes one back; by default the last that is neither undone nor an undo.

    Raises
    ------
    StoreError
        When there is nothing to undo.
    ConflictError
        When later revisions build on it.
    """
    active = active_revisions(tx)
    candidates = [r for r in active if (r.undoes is None if revision is None else r.revision == revision)]
    if not candidates:
        what = "nothing" if revision is None else f"no revision {revision}"
        raise StoreError(
            f"there is {what} to undo", "pairing undo --history TRIAL (history() in Python) shows what was done"
        )
    target = candidates[0]
    about = f"{target.action} {target.about or ''}".strip()
    number = begin_revision(tx, "undo", about=about, undoes=target.revision)
    later = {r.revision for r in active if r.revision > target.revision and (r.undoes is None or target.undoes)}
    changed = {name: _take_back(tx, name, target.revision, number, later) for name in TABLES}
    if any(gone if name in ("bases", "flavourings", "targets") else back for name, (gone, back) in changed.items()):
        _check_no_orphans(tx)
    return target


def _take_back(tx: Transaction, table: str, revision: int, number: int, later: set[int]) -> tuple[bool, bool]:
    """Write the rows of a revision again as they were before it; refuse when later ones changed them.

    Returns
    -------
    gone, back : bool
        Whether rows are gone now, and whether rows count again as they were before.
    """
    rows = versions(tx, table, revision=revision)
    if rows.empty:
        return False, False
    newer = set(_with_keys(tx, table, rows["row_key"], after=revision)["revision"])
    if newer & later:
        raise ConflictError(
            f"{table} was changed after revision {revision}, in revision {min(newer & later)}",
            "undo the later revision first",
        )
    before = _with_keys(tx, table, rows["row_key"], before=revision)
    before = before.drop_duplicates("row_key", keep="last", ignore_index=True)
    known = rows["row_key"].isin(before["row_key"]).to_numpy()
    append(tx, table, before, number)
    append(tx, table, rows[~known].assign(gone=1), number)
    back = bool((before["gone"] == 0).any())
    return not known.all() or bool((before["gone"] == 1).any()), back


def _with_keys(
    tx: Transaction, table: str, keys: Iterable[str], *, after: int | None = None, before: int | None = None
) -> pd.DataFrame:
    """Return the revisions of rows after or before one, first to last."""
    import pandas as pd

    sql = tx.table(table)
    wanted = list(keys)
    frames = []
    for start in range(0, len(wanted), _MANY):
        query = sql.select().where(sql.c.row_key.in_(wanted[start : start + _MANY]))
        query = query.where(sql.c.revision > after) if after is not None else query.where(sql.c.revision < before)
        rows = tx.execute(query.order_by(sql.c.revision)).all()
        frames.append(_frame(TABLES[table], rows, sql.c.keys()))
    return pd.concat([f for f in frames if len(f)] or frames[:1], ignore_index=True)


def _check_no_orphans(tx: Transaction) -> None:
    """Refuse a change that leaves rows naming a base, flavouring or target that is gone."""
    for table, refers in REFERS.items():
        for column, targets in refers.items():
            known = {one for name in targets.split("+") for one in ids(tx, name)}
            used = set(current(tx, table)[column].dropna())
            if orphans := sorted(used - known):
                raise ConflictError(
                    f"{column} {orphans[0]!r} is still used in {table}, and would be described nowhere",
                    "take back what uses it first, or bring back what describes it",
                )
