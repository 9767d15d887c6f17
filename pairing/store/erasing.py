"""Erasing a person: name, body mass and what is avoided go for good, past revisions too; the cups stay.

It is the one change that writes over rows, and it cannot be taken back.
"""

from __future__ import annotations

import json
from contextlib import closing
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pairing.errors import UnknownIdError, nearest
from pairing.model.columns import TABLES
from pairing.store import ledger, state

if TYPE_CHECKING:
    from pairing.store.database import Database, Transaction

__all__ = ["ERASE", "Erased", "erase_taster"]

ERASE = "erase"
"""What the revision of an erasure is called: no undo takes it back."""
_STAND_IN = "former taster"


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
    done = db.write(author, lambda tx: _erase(tx, taster))
    if db.is_file:
        with closing(db.engine.raw_connection()) as raw:
            cursor = raw.cursor()
            for statement in ("VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
                cursor.execute(statement)
    return done


def _erase(tx: Transaction, taster: str) -> Erased:
    known = _names(tx)
    if taster not in known:
        raise UnknownIdError(f"no taster {taster!r}", nearest(taster, known))
    number = 1
    while (kept_as := f"{_STAND_IN} {number}") in known:
        number += 1
    rows = {name: _rename(tx, name, taster, kept_as) for name in TABLES if "taster" in TABLES[name].names}
    people = tx.table("tasters")
    rows["tasters"] = tx.execute(people.delete().where(people.c.taster.in_([taster, kept_as]))).rowcount
    _in_revisions(tx, taster, kept_as)
    _in_drafts(tx, taster, kept_as)
    state.forget_learned(tx)  # it holds names
    ledger.begin_revision(tx, ERASE, about=f"a taster, kept as {kept_as!r}")
    return Erased(kept_as, {name: n for name, n in rows.items() if n}, tuple(_mentions(tx, taster)))


def _names(tx: Transaction) -> set[str]:
    """Return every taster in any row, of the past too."""
    found: set[str] = set()
    for name, spec in TABLES.items():
        if "taster" in spec.names:
            column = tx.table(name).c.taster
            query = tx.table(name).select().with_only_columns(column).where(column.is_not(None)).distinct()
            found |= set(tx.execute(query).scalars())
    return found


def _rename(tx: Transaction, table: str, taster: str, kept_as: str) -> int:
    """Write another name over a taster's in all rows of a table, and in what they are known by."""
    sql, spec = tx.table(table), TABLES[table]
    rows = ledger.versions(tx, table, taster=taster)
    if rows.empty:
        return 0
    done = sql.update().where(sql.c.taster == taster).values(taster=kept_as)
    count = int(tx.execute(done).rowcount)
    if "taster" in spec.key:
        before = rows["row_key"].tolist()
        after = ledger.row_keys(spec, rows.assign(taster=kept_as))
        for old, new in dict(zip(before, after, strict=True)).items():
            tx.execute(sql.update().where(sql.c.row_key == old).values(row_key=new))
    return count


def _in_revisions(tx: Transaction, taster: str, kept_as: str) -> None:
    """Take the name out of who wrote, of what it was about, and of sums that it went into."""
    done = tx.table("revisions")
    tx.execute(done.update().where(done.c.author == taster).values(author=kept_as))
    tx.execute(done.update().where(done.c.about.contains(repr(taster), autoescape=True)).values(about="a taster"))
    readings = tx.table("readings")
    of_taster = readings.select().with_only_columns(readings.c.batch).where(readings.c.taster == kept_as)
    tx.execute(done.update().where(done.c.batch.in_(of_taster)).values(digest=None))


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
    from sqlalchemy import func

    found = []
    for name, spec in TABLES.items():
        for column in (c.name for c in spec.columns if c.kind == "text"):
            cell = tx.table(name).c[column]
            query = tx.table(name).select().with_only_columns(func.count())
            if n := tx.execute(query.where(cell.contains(taster, autoescape=True))).scalar():
                found.append(f"{name}.{column} ({n} row{'' if n == 1 else 's'})")
    return found
