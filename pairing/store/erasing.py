"""Erasing a person: name, body mass and what is avoided go for good, past revisions too; the cups stay.

It is the one change that writes over rows, and it cannot be taken back.
"""

from __future__ import annotations

import json
from contextlib import closing
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from pairing.errors import UnknownIdError, nearest
from pairing.model.columns import TABLES
from pairing.store import ledger, state

if TYPE_CHECKING:
    from pairing.store.database import Database, Transaction

__all__ = ["ERASE", "Erased", "erase_taster"]

ERASE = "erase"
"""What the revision of an erasure is called: no undo takes it back."""
_STAND_IN = "former taster"
_AT_ONCE = 10_000
"""Batches that one statement names: databases allow some tens of thousands."""


@dataclass(frozen=True)
class Erased:
    """What became of a taster.

    Attributes
    ----------
    kept_as : str
        The name that stands on the cups now.
    rows : dict of table to int
        How many rows were written over or, of ``tasters``, taken out.
    mentions : tuple of str
        Where the name still stands in free text, which nobody but its writer can judge.
    """

    kept_as: str
    rows: dict[str, int]
    mentions: tuple[str, ...]


def erase_taster(db: Database, author: str, taster: str) -> Erased:
    """Erase a taster, and leave nothing of the name in the file's free pages either.

    Raises
    ------
    UnknownIdError
        When nobody of that name is, or was, in the tables.
    """
    kept_as, rows = db.look_then_write(
        author, lambda tx: _look(tx, taster), lambda tx, found: _erase(tx, taster, found)
    )
    if db.is_file:
        with closing(db.engine.raw_connection()) as raw:
            cursor = raw.cursor()
            for statement in ("VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
                cursor.execute(statement)
    with db.reading() as tx:
        return Erased(kept_as, rows, tuple(_mentions(tx, taster)))


class _Found(NamedTuple):
    """Where a taster stands, looked up while others may write.

    Attributes
    ----------
    kept_as : str
        What is to stand there.
    rows : dict of table to list of dict
        What to write over: the row's number, and what it is known by then.
    batches : list of int
        In which readings of the taster were written.
    """

    kept_as: str
    rows: dict[str, list[dict[str, Any]]]
    batches: list[int]


def _look(tx: Transaction, taster: str) -> _Found:
    known = _names(tx)
    if taster not in known:
        raise UnknownIdError(f"no taster {taster!r}", nearest(taster, known))
    number = 1
    while (kept_as := f"{_STAND_IN} {number}") in known:
        number += 1
    rows = {name: _rows_of(tx, name, taster, kept_as) for name in TABLES if "taster" in TABLES[name].names}
    readings = tx.table("readings")
    wrote = readings.select().with_only_columns(readings.c.batch).where(readings.c.taster == taster).distinct()
    return _Found(kept_as, rows, list(tx.execute(wrote).scalars()))


def _erase(tx: Transaction, taster: str, found: _Found) -> tuple[str, dict[str, int]]:
    from sqlalchemy import bindparam

    for name, rows in found.rows.items():
        sql = tx.table(name)
        over = sql.update().where(sql.c.row_id == bindparam("number"))
        if rows and name != "tasters":
            tx.execute(over.values(taster=found.kept_as, row_key=bindparam("key")), rows)
    people = tx.table("tasters")
    tx.execute(people.delete().where(people.c.taster == taster))
    _in_revisions(tx, taster, found)
    _in_drafts(tx, taster, found.kept_as)
    state.forget_learned(tx)  # it holds names
    ledger.begin_revision(tx, ERASE, about=f"a taster, kept as {found.kept_as!r}")
    return found.kept_as, {name: len(rows) for name, rows in found.rows.items() if rows}


def _names(tx: Transaction) -> set[str]:
    """Return every taster in any row, of the past too."""
    found: set[str] = set()
    for name, spec in TABLES.items():
        if "taster" in spec.names:
            column = tx.table(name).c.taster
            query = tx.table(name).select().with_only_columns(column).where(column.is_not(None)).distinct()
            found |= set(tx.execute(query).scalars())
    return found


def _rows_of(tx: Transaction, table: str, taster: str, kept_as: str) -> list[dict[str, Any]]:
    """Return the number of every row of a taster, of the past too, and what it is known by under another name."""
    import pandas as pd

    sql, spec = tx.table(table), TABLES[table]
    names = ("row_id", "row_key", *spec.key)
    query = sql.select().with_only_columns(*(sql.c[name] for name in names)).where(sql.c.taster == taster)
    rows = pd.DataFrame(tx.execute(query).all(), columns=list(names))
    keys = ledger.row_keys(spec, rows.assign(taster=kept_as)) if "taster" in spec.key else rows["row_key"].tolist()
    return [{"number": number, "key": key} for number, key in zip(rows["row_id"].tolist(), keys, strict=True)]


def _in_revisions(tx: Transaction, taster: str, found: _Found) -> None:
    """Take the name out of who wrote, of what it was about, and of sums that it went into."""
    done = tx.table("revisions")
    tx.execute(done.update().where(done.c.author == taster).values(author=found.kept_as))
    tx.execute(done.update().where(done.c.about.contains(repr(taster), autoescape=True)).values(about="a taster"))
    for start in range(0, len(found.batches), _AT_ONCE):
        some = found.batches[start : start + _AT_ONCE]
        tx.execute(done.update().where(done.c.batch.in_(some)).values(digest=None))


def _in_drafts(tx: Transaction, taster: str, kept_as: str) -> None:
    drafts = tx.table("drafts")
    for row in tx.execute(drafts.select()).all():
        content = json.loads(row.content)
        changed = _replaced(content, taster, kept_as)
        if changed != content:
            tx.execute(drafts.update().where(drafts.c.draft_id == row.draft_id).values(content=json.dumps(changed)))


def _replaced(value: Any, taster: str, kept_as: str) -> Any:
    if isinstance(value, dict):
        return {kept_as if k == taster else k: _replaced(v, taster, kept_as) for k, v in value.items()}
    if isinstance(value, list):
        return [_replaced(v, taster, kept_as) for v in value]
    return kept_as if value == taster else value


def _mentions(tx: Transaction, taster: str) -> list[str]:
    """Name the columns of free text in which the name still stands."""
    from sqlalchemy import case, func, select

    found = []
    for name, spec in TABLES.items():
        columns = [c.name for c in spec.columns if c.kind == "text"]
        cells = (tx.table(name).c[column] for column in columns)
        counts = (func.count(case((cell.contains(taster, autoescape=True), 1))) for cell in cells)
        numbers = tx.execute(select(*counts)).one() if columns else ()
        found += [f"{name}.{c} ({n} row{'' if n == 1 else 's'})" for c, n in zip(columns, numbers, strict=True) if n]
    return found
