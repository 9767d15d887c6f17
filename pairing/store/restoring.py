"""An export and its past put into an empty bench a part at a time: others may write, and see all of it or nothing.

Its revisions keep their numbers, so their batches are numbered alike, behind those that are there. A mark behind the
last one keeps the place, and tells others that somebody is still at work.
"""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any, Protocol

from pairing.errors import StoreError
from pairing.store import bulk, ledger, restore, state, undoing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from pairing.store.database import Database, Transaction

__all__ = ["in_parts"]


class Plan(Protocol):
    """What a load will do."""

    @property
    def pending(self) -> Mapping[str, pd.DataFrame]:
        """The rows that count, by table, with their stamps."""

    @property
    def past(self) -> restore.Past:
        """Revisions, replaced rows, settings and cups in hand."""


def in_parts(db: Database, author: str, plan: Plan, _seen: tuple[int, int]) -> int | None:
    """Restore an export; None when somebody else has written something meanwhile: it is no longer empty."""
    done = restore.revisions_in(plan.past)
    bulk.sweep(db, author)
    first = db.write(author, partial(_keep_the_place, done[-1]["revision"]))
    mark = first + done[-1]["revision"] + 1
    try:
        for start in range(0, len(done), bulk.AT_ONCE):
            _write(db, author, mark, partial(_begin, done[start : start + bulk.AT_ONCE], first))
        for table, rows, numbers in restore.rows_of(plan.past, plan.pending):
            for start in range(0, len(rows), bulk.AT_ONCE):
                part = slice(start, start + bulk.AT_ONCE)
                batches = [first + number for number in numbers[part]]
                _write(db, author, mark, partial(_append, table, rows.iloc[part], batches))
        revision: int | None = db.write(author, partial(_publish, plan.past, first, mark))
    except BaseException:
        with suppress(StoreError):
            bulk.remove(db, author, first, mark)
        raise
    if revision is None:
        bulk.remove(db, author, first, mark)
    return revision


def _keep_the_place(last: int, tx: Transaction) -> int:
    """Put the mark behind the batches that will come, and return the last that is there."""
    first = tx.state()[0]
    row = {"batch": first + last + 1, "at": ledger.now(), "author": tx.author, "action": bulk.RESTORE}
    tx.execute(tx.table("revisions").insert(), {**row, "about": str(first), "active": 0})
    return first


def _write(db: Database, author: str, mark: int, work: Any) -> None:
    """Do one part of it, and say that somebody is at work."""
    bulk.breathe()
    done = db.table("revisions")

    def both(tx: Transaction) -> None:
        work(tx)
        tx.execute(done.update().where(done.c.batch == mark).values(at=ledger.now()))

    db.write(author, both)


def _begin(some: Sequence[Mapping[str, Any]], first: int, tx: Transaction) -> None:
    rows = [{**row, "batch": first + row["revision"], "revision": None, "active": 0} for row in some]
    tx.execute(tx.table("revisions").insert(), rows)


def _append(table: str, rows: pd.DataFrame, batches: list[int], tx: Transaction) -> None:
    ledger.append(tx, table, rows, batches)


def _publish(past: restore.Past, first: int, mark: int, tx: Transaction) -> int | None:
    """Let all of it count."""
    if tx.state()[1]:
        return None
    done = tx.table("revisions")
    tx.execute(done.delete().where(done.c.batch == mark))
    ours = done.update().where(done.c.batch > first, done.c.batch < mark)
    tx.execute(ours.values(revision=done.c.batch - first, active=1))
    undoing.set_activity(tx)
    state.restore(tx, past)
    return tx.state()[1]
