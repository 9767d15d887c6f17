"""Append-only tables: every change is a batch of rows with the next revision's number, nothing is overwritten.

A row is known by its key. Of its rows the one of the latest active batch counts, unless that says that it is gone. An
undo makes a batch inactive and writes no rows; see `pairing.store.undoing`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING, Any, NamedTuple

from pairing.errors import StoreError
from pairing.model.columns import TABLES, TableSchema
from pairing.store import frames
from pairing.store.rights import check
from pairing.store.schema import SCHEMA_VERSION

if TYPE_CHECKING:
    import pandas as pd
    from sqlalchemy import ColumnElement, Select
    from sqlalchemy import Table as SqlTable

    from pairing.store.database import Transaction

__all__ = [
    "KEPT",
    "MERGED",
    "Begun",
    "Revision",
    "append",
    "begin_revision",
    "but_for_case",
    "columns_of",
    "count",
    "counting",
    "current",
    "holds",
    "ids",
    "last_rows",
    "latest",
    "log_revision",
    "mark",
    "now",
    "numbers",
    "replaced",
    "revisions",
    "row_keys",
    "used",
    "versions",
    "written",
]

MERGED = "merged"
"""What revisions are called that came with the cups of another bench: they tell what was, and never count."""
KEPT = ("row_key", "place", "batch", "gone")
_SEPARATOR = "\x1f"
_LONGEST_KEY = 800
_MANY = 500
_CASES_ASKED = 1000


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


class Begun(NamedTuple):
    """A change that is under way: the batch of its rows, and its number."""

    batch: int
    revision: int


def now() -> str:
    """Return the time in UTC as ISO text."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="microseconds")


def row_keys(table: TableSchema, frame: pd.DataFrame | Mapping[str, Any]) -> list[str]:
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
    return tx.state()[1]


def mark(tx: Transaction) -> str:
    """Return number, time and author of the last revision: no two states of a log, and no two benches, share them."""
    table = tx.table("revisions")
    row = tx.execute(_revisions(table).where(table.c.revision == log_revision(tx))).first()
    return "" if row is None else f"{row.revision} {row.at} {row.author} {row.about}"


_BEGIN = """
INSERT INTO revisions (batch, revision, at, author, action, about, write_id, digest, undoes, active)
SELECT (SELECT coalesce(max(batch), 0) + 1 FROM revisions), {revision},
  :at, :author, :action, :about, :write_id, :digest, CAST(:undoes AS INTEGER), :active
FROM meta WHERE name = 'schema_version' AND value = :version RETURNING batch, revision
"""


def begin_revision(tx: Transaction, action: str, *, pending: bool = False, **more: Any) -> Begun:
    """Begin the next revision, and return the batch for its rows and its number.

    Parameters
    ----------
    pending : bool
        Whether the rows come in several transactions: the batch counts, and has its number, once it is published.

    Raises
    ------
    StoreError
        When another version of this program has changed the bench since it was opened, and when who writes may not.
    """
    from sqlalchemy import text

    check(tx, action)
    names = ("about", "write_id", "digest", "undoes")
    values = {"at": now(), "author": tx.author, "action": action, "active": int(not pending), "version": SCHEMA_VERSION}
    statement = text(
        _BEGIN.format(revision="NULL" if pending else "(SELECT coalesce(max(revision), 0) + 1 FROM revisions)")
    )
    found = tx.execute(statement, values | {name: more.get(name) for name in names}).first()
    if found is None:
        raise StoreError(
            f"{tx.db.name} was changed by another version of this program",
            "open it again, after updating pairing; nothing was changed",
        )
    return Begun(found.batch, found.revision or 0)


def revisions(tx: Transaction, most: int | None = None) -> list[Revision]:
    """Return all revisions, or the last so many, first to last."""
    table = tx.table("revisions")
    query = _revisions(table).where(table.c.revision.is_not(None)).order_by(table.c.revision.desc()).limit(most)
    return [Revision(**row._mapping) for row in tx.execute(query)][::-1]


def _revisions(table: SqlTable) -> Select[Any]:
    return table.select().with_only_columns(*(table.c[name] for name in Revision.__dataclass_fields__))


def numbers(tx: Transaction, batches: Iterable[int] | None = None) -> dict[int, int]:
    """Return the revision's number of each batch, or of some."""
    table = tx.table("revisions")
    query = table.select().with_only_columns(table.c.batch, table.c.revision).where(table.c.revision.is_not(None))
    if batches is not None and len(few := sorted({int(b) for b in batches})) <= _MANY:
        query = query.where(table.c.batch.in_(few))
    return {row.batch: row.revision for row in tx.execute(query)}


def written(tx: Transaction, write_id: str) -> Revision | None:
    """Return the last revision with this id of its caller, unless it has been undone."""
    table = tx.table("revisions")
    query = _revisions(table).where(table.c.write_id == write_id, table.c.active == 1)
    row = tx.execute(query.order_by(table.c.revision.desc()).limit(1)).first()
    return None if row is None else Revision(**row._mapping)


def append(tx: Transaction, table: str, frame: pd.DataFrame, batch: int | Iterable[int]) -> None:
    """Append rows to a table.

    Parameters
    ----------
    frame : DataFrame
        Canonical columns; ``row_key``, ``place`` (-1 or absent: at the end) and ``gone`` (absent: 0) where known.
    batch : int or iterable of int
        Of all rows, or of each.
    """
    frames.insert(tx, tx.table(table), frame, TABLES[table].names, batch, lambda part: row_keys(TABLES[table], part))


_OFF = "SELECT batch FROM revisions WHERE active = 0"
_OFF_TOGGLED = """
SELECT batch FROM revisions WHERE (active = 0 AND batch <> :toggled) OR (active = 1 AND batch = :toggled)
"""
_NOT_REPLACED = """
NOT EXISTS (SELECT 1 FROM {table} AS newer
WHERE newer.row_key = {table}.row_key AND newer.batch > {table}.batch AND newer.batch NOT IN ({off}))
"""
_NOT_AMONG_REPLACED = """
{table}.row_id NOT IN (SELECT older.row_id FROM {table} AS newer CROSS JOIN {table} AS older
WHERE newer.batch > (SELECT min(batch) FROM {table}) AND newer.batch NOT IN ({off})
AND older.row_key = newer.row_key AND older.batch < newer.batch)
"""


def counting(sql: SqlTable, toggled: int | None = None, *, all_rows: bool = False) -> ColumnElement[bool]:
    """Return what is true of the latest rows: of an active batch, and no later active batch has their key.

    A batch that was undone, or is not yet written whole, is not active; ``toggled`` is one of which the opposite holds.
    A few rows are looked at one by one. Of ``all_rows`` those that are replaced are found first: in a table of which
    most came in one batch that is much less work.
    """
    from sqlalchemy import text

    off = _OFF if toggled is None else _OFF_TOGGLED
    template = f"{{table}}.batch NOT IN ({{off}}) AND {_NOT_AMONG_REPLACED if all_rows else _NOT_REPLACED}"
    counts = text(template.format(table=sql.name, off=off))
    return counts if toggled is None else counts.bindparams(toggled=toggled)  # type: ignore[return-value]


def latest(
    tx: Transaction,
    table: str,
    *,
    keys: Iterable[str] | None = None,
    trials: Iterable[str] | None = None,
    columns: Iterable[str] | None = None,
    gone: bool = True,
) -> pd.DataFrame:
    """Return the latest row of every key in the order in which keys first came.

    Parameters
    ----------
    keys, trials : iterable of str, optional
        Only rows with these keys or trial ids.
    columns : iterable of str, optional
        Only these; else all of them and what is kept beside them.
    gone : bool
        Whether rows that say that they are gone are among them.
    """
    sql = tx.table(table)
    wanted: dict[str, Any] = {"row_key": keys, "trial_id": trials}
    conditions = [counting(sql, all_rows=keys is None and trials is None)]
    for name, values in wanted.items():
        if values is not None and len(few := list(dict.fromkeys(values))) <= _MANY:
            conditions.append(sql.c[name].in_(few))
    if not gone:
        conditions.append(sql.c.gone == 0)
    names = [*TABLES[table].names, *KEPT] if columns is None else list(columns)
    empty = _empty(tx, sql, names) if keys is None and trials is None else set()
    asked = _select(sql, [name for name in names if name not in empty]).where(*conditions)
    return frames.fetch(tx, TABLES[table], asked.order_by(sql.c.place), names, empty)


def _empty(tx: Transaction, sql: SqlTable, names: Sequence[str]) -> set[str]:
    """Return the columns, but for the first, of a large table in which nothing was ever written.

    Most columns of most logs are so, and to hand their cells over one by one takes most of the time.
    """
    from sqlalchemy import func, select

    if int(tx.execute(select(func.max(sql.c.row_id))).scalar() or 0) <= frames.CHUNK:
        return set()
    written = tx.execute(select(*(func.count(sql.c[name]) for name in names[1:]))).one() if names[1:] else ()
    return {name for name, cells in zip(names[1:], written, strict=True) if not cells}


def _select(sql: SqlTable, names: Iterable[str]) -> Select[Any]:
    return sql.select().with_only_columns(*(sql.c[name] for name in names))


def ids(tx: Transaction, table: str) -> set[str]:
    """Return the ids in a table that count now."""
    return set(used(tx, table, TABLES[table].key[0]))


def used(tx: Transaction, table: str, column: str, toggled: int | None = None) -> list[str]:
    """Return the distinct texts in a column of the rows that count; ``toggled`` is a batch that would, or would not."""
    sql = tx.table(table)
    conditions = [sql.c.gone == 0, sql.c[column].is_not(None), counting(sql, toggled, all_rows=True)]
    return sorted(tx.execute(_select(sql, [column]).where(*conditions).distinct()).scalars())


def but_for_case(tx: Transaction, table: str, column: str, texts: Collection[str]) -> list[str]:
    """Return the distinct texts of a column, in rows that count, that are some of these but for capitals.

    More than a thousand are not looked for (our choice).
    """
    from sqlalchemy import func

    if len(texts) > _CASES_ASKED:
        return []
    sql, plain = tx.table(table), sorted({text.lower() for text in texts})
    conditions = [sql.c.gone == 0, func.lower(sql.c[column]).in_(plain), counting(sql)]
    return sorted(tx.execute(_select(sql, [column]).where(*conditions).distinct()).scalars())


def count(tx: Transaction, table: str) -> int:
    """Return how many rows count now."""
    from sqlalchemy import func

    sql = tx.table(table)
    query = sql.select().with_only_columns(func.count()).where(sql.c.gone == 0, counting(sql, all_rows=True))
    return int(tx.execute(query).scalar_one())


def current(tx: Transaction, table: str, columns: Iterable[str] | None = None) -> pd.DataFrame:
    """Return the rows that count now, or some columns of them."""
    return latest(tx, table, columns=columns, gone=False)


def columns_of(tx: Transaction, table: str) -> frames.Columns:
    """Return the rows that count now as arrays by column, without pandas."""
    sql, names = tx.table(table), TABLES[table].names
    query = _select(sql, names).where(sql.c.gone == 0, counting(sql)).order_by(sql.c.place)
    return frames.columns(tx, TABLES[table], query, names)


def holds(tx: Transaction, table: str, column: str) -> bool:
    """Tell whether anything stands in a column of the rows that count now."""
    sql = tx.table(table)
    query = _select(sql, [column]).where(sql.c.gone == 0, sql.c[column].is_not(None), counting(sql))
    return tx.execute(query.limit(1)).first() is not None


def last_rows(tx: Transaction, table: str, most: int, where: Mapping[str, Any]) -> pd.DataFrame:
    """Return the last rows that count now, in the order in which their keys first came.

    Parameters
    ----------
    where : mapping
        Columns, and the values that they must have; None: empty.
    """
    sql, names = tx.table(table), TABLES[table].names
    query = _select(sql, names).where(sql.c.gone == 0, *(sql.c[n] == v for n, v in where.items()), counting(sql))
    rows = frames.fetch(tx, TABLES[table], query.order_by(sql.c.place.desc()).limit(most), names)
    return rows.iloc[::-1].reset_index(drop=True)


def replaced(tx: Transaction, table: str) -> pd.DataFrame:
    """Return the rows that do not count, or say that they are gone: all that `current` leaves out, by batch and key."""
    from sqlalchemy import and_, not_

    sql, done = tx.table(table), tx.table("revisions")
    names = [*TABLES[table].names, *KEPT]
    query = _select(sql, names).join(done, done.c.batch == sql.c.batch).where(done.c.revision.is_not(None))
    query = query.where(not_(and_(sql.c.gone == 0, counting(sql, all_rows=True))))
    rows = frames.fetch(tx, TABLES[table], query, names)
    return rows.sort_values(["batch", "row_key"], ignore_index=True)  # here: databases differ in how they sort text


def versions(tx: Transaction, table: str, **where: Any) -> pd.DataFrame:
    """Return all rows that were ever written whole, of active batches or not, first to last.

    Parameters
    ----------
    **where
        Columns, and the values that they must have: one, or several.
    """
    sql, done = tx.table(table), tx.table("revisions")
    names = [*TABLES[table].names, *KEPT]
    query = _select(sql, names).join(done, done.c.batch == sql.c.batch).where(done.c.revision.is_not(None))
    conditions: Mapping[str, Any] = where
    for name, value in conditions.items():
        query = query.where(sql.c[name].in_(value) if isinstance(value, list) else sql.c[name] == value)
    return frames.fetch(tx, TABLES[table], query.order_by(sql.c.batch, sql.c.place), names)
