"""Many rows, a part at a time: others may write in between, and nobody sees any of it before all of it is there.

The rows go into a batch that does not count yet. It is published, with the next revision's number, in a last short
transaction. A batch that nobody went on with for an hour was left behind by a program that died: it is swept out.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Protocol, TypeVar

from pairing.errors import ConflictError, StoreError
from pairing.model.columns import TABLES
from pairing.store import ledger

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Database, Transaction
    from pairing.store.load_report import LoadReport

__all__ = ["AT_ONCE", "RESTORE", "in_parts", "load", "remove", "sweep"]

RESTORE = "restore"
"""What the mark of an export that is being restored is called; it is about the last batch before it."""

AT_ONCE = 5000
"""Rows that one transaction writes: a tenth of a second or so (our choice)."""
_BREATH = 0.01
"""Seconds between two parts, in which whoever waits gets the file: longer than the naps of those who wait."""
_TRIES = 3
_DEAD_AFTER = dt.timedelta(hours=1)


class Plan(Protocol):
    """What a load will do."""

    @property
    def report(self) -> LoadReport:
        """What will be told of it."""

    @property
    def pending(self) -> Mapping[str, pd.DataFrame]:
        """The rows that it adds, by table."""

    @property
    def about(self) -> str:
        """What it adds, in words."""

    @property
    def rows(self) -> int:
        """How many rows it adds."""

    @property
    def at_once(self) -> bool:
        """Whether it cannot be done a part at a time."""

    @property
    def before(self) -> Callable[[Transaction], None]:
        """What is written just before the rows count."""


P = TypeVar("P", bound=Plan)


def load(
    db: Database,
    author: str,
    look: Callable[[Transaction], P],
    store: Callable[[Transaction, P], LoadReport],
    parts: Callable[[Database, str, P, tuple[int, int]], int | None],
) -> LoadReport:
    """Plan a load while others write, then store it: at once when it is small, else a part at a time.

    Parameters
    ----------
    look, store : callable
        Make the plan; store it in one transaction.
    parts : callable
        Stores it a part at a time, what was seen being ``tx.state()``; None when others have changed it meanwhile.
    """
    for _ in range(_TRIES):
        with db.reading(author) as tx:
            seen, plan = tx.state(), look(tx)
        if plan.rows <= AT_ONCE or plan.at_once:
            return db.write(author, partial(_at_once, seen, plan, look, store))
        if (revision := parts(db, author, plan, seen)) is not None:
            return replace(plan.report, revision=revision)
    raise ConflictError(
        "others kept changing what this load is about", "load it again when they are done; nothing was changed"
    )


def in_parts(db: Database, author: str, plan: Plan, seen: tuple[int, int]) -> int | None:
    """Store rows a part at a time and publish them; None when others have changed the same meanwhile."""
    sweep(db, author)
    batch = db.write(author, lambda tx: ledger.begin_revision(tx, "load", pending=True, about=plan.about)).batch
    try:
        for name, rows in plan.pending.items():
            for start in range(0, len(rows), AT_ONCE):
                part = rows.iloc[start : start + AT_ONCE]
                breathe()
                db.write(author, partial(_add, name, part, batch))
        revision = db.write(author, lambda tx: _publish(tx, plan, batch, seen))
    except BaseException:
        with suppress(StoreError):
            remove(db, author, batch - 1, batch)
        raise
    if revision is None:
        remove(db, author, batch - 1, batch)
    return revision


def _at_once(
    seen: tuple[int, int],
    plan: P,
    look: Callable[[Transaction], P],
    store: Callable[[Transaction, P], LoadReport],
    tx: Transaction,
) -> LoadReport:
    """Store what was planned, or what has to be planned now that others have written."""
    return store(tx, plan if tx.state() == seen else look(tx))


def _add(table: str, part: pd.DataFrame, batch: int, tx: Transaction) -> None:
    ledger.append(tx, table, part, batch)
    done = tx.table("revisions")
    tx.execute(done.update().where(done.c.batch == batch).values(at=ledger.now()))


def _publish(tx: Transaction, plan: Plan, batch: int, seen: tuple[int, int]) -> int | None:
    """Let a batch count, unless what was compared with is no longer as it was."""
    from sqlalchemy import func, select

    done = tx.table("revisions")
    number = seen[1]
    if tx.state()[1] != number and (_undone(tx, number) or any(_met(tx, n, batch, number) for n in plan.pending)):
        return None
    plan.before(tx)
    following = select(func.coalesce(func.max(done.c.revision), 0) + 1).scalar_subquery()
    tx.execute(done.update().where(done.c.batch == batch).values(active=1, revision=following, at=ledger.now()))
    return tx.state()[1]


def _met(tx: Transaction, table: str, batch: int, number: int) -> bool:
    """Tell whether what was published after a revision has rows of the trials, or with the keys, of a batch."""
    from sqlalchemy import select

    sql, done = tx.table(table), tx.table("revisions")
    name = "trial_id" if table in ("readings", "steps") else "row_key"
    ours = sql.alias("ours")
    both = sql.join(ours, (ours.c[name] == sql.c[name]) & (ours.c.batch == batch))
    since = select(done.c.batch).where(done.c.revision > number)
    query = select(sql.c.row_id).select_from(both).where(sql.c.batch.in_(since)).limit(1)
    return tx.execute(query).first() is not None


def _undone(tx: Transaction, number: int) -> bool:
    """Tell whether anything was undone after a revision: it may be what the rows refer to."""
    done = tx.table("revisions")
    query = done.select().where(done.c.revision > number, done.c.undoes.is_not(None)).limit(1)
    return tx.execute(query).first() is not None


def remove(db: Database, author: str, first: int, last: int) -> None:
    """Take the rows of batches that were never published out again, a part at a time.

    Parameters
    ----------
    first, last : int
        Only batches behind the first, up to the last.
    """
    from sqlalchemy import select

    done = db.table("revisions")
    unpublished = (done.c.active == 0, done.c.revision.is_(None), done.c.batch > first, done.c.batch <= last)

    def some(name: str, tx: Transaction) -> int:
        sql = tx.table(name)
        few = select(sql.c.row_id).where(sql.c.batch.in_(select(done.c.batch).where(*unpublished))).limit(AT_ONCE)
        return int(tx.execute(sql.delete().where(sql.c.row_id.in_(few))).rowcount)

    def some_batches(tx: Transaction) -> int:
        few = select(done.c.batch).where(*unpublished).order_by(done.c.batch).limit(AT_ONCE)  # a mark goes last
        return int(tx.execute(done.delete().where(done.c.batch.in_(few))).rowcount)

    works: list[Callable[[Transaction], int]] = [*(partial(some, name) for name in TABLES), some_batches]
    for work in works:
        while db.write(author, work):
            breathe()


def breathe() -> None:
    """Let others write."""
    time.sleep(_BREATH)


def sweep(db: Database, author: str) -> None:
    """Take out what a program that died had begun to write."""
    before = (dt.datetime.now(dt.UTC) - _DEAD_AFTER).isoformat()
    done = db.table("revisions")
    pending = done.select().where(done.c.active == 0, done.c.revision.is_(None)).order_by(done.c.batch)
    with db.reading(author) as tx:
        rows = tx.execute(pending.with_only_columns(done.c.batch, done.c.at, done.c.action, done.c.about)).all()
    restored = max((row.batch for row in rows if row.action == RESTORE and row.at >= before), default=0)
    for row in rows:  # of what is being restored the times are old
        if row.batch > restored and row.at < before:
            remove(db, author, int(row.about) if row.action == RESTORE else row.batch - 1, row.batch)
