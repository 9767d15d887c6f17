"""Taking back what was written: the batch no longer counts, and stays where it is."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, NamedTuple

from pairing.errors import ConflictError, StoreError
from pairing.model.columns import TABLES
from pairing.store import ledger
from pairing.store.erasing import ERASE
from pairing.store.ledger import Revision
from pairing.store.rights import check_others
from pairing.store.rules import REFERS

if TYPE_CHECKING:
    from pairing.store.database import Database, Transaction

__all__ = ["set_activity", "undo"]

_ID = {"bases": "base_id", "flavourings": "flavouring_id", "targets": "target_id"}


class _Target(NamedTuple):
    """What is to be taken back: its batch, and what is to be told of it."""

    batch: int
    revision: Revision


def undo(db: Database, author: str, revision: int | None = None) -> Revision:
    """Add a revision that takes one back; by default the last that is neither undone nor an undo.

    Raises
    ------
    StoreError
        When there is nothing to undo.
    ConflictError
        When later revisions build on it.
    """
    return db.look_then_write(author, lambda tx: _look(tx, None if revision is None else int(revision)), _take_back)


def _look(tx: Transaction, revision: int | None) -> _Target:
    """Find what to take back, and make sure that nothing later needs it."""
    done = tx.table("revisions")
    query = done.select().where(done.c.active == 1, done.c.revision.is_not(None), done.c.action != ERASE)
    query = query.where(done.c.undoes.is_(None) if revision is None else done.c.revision == revision)
    row = tx.execute(query.order_by(done.c.revision.desc()).limit(1)).first()
    if row is None:
        what = "nothing" if revision is None else f"no revision {revision}"
        raise StoreError(
            f"there is {what} to undo", "pairing undo --history TRIAL (history() in Python) shows what was done"
        )
    fields = {name: getattr(row, name) for name in Revision.__dataclass_fields__}
    target = _Target(row.batch, Revision(**fields))
    batch, counts = _written_by(tx, target)
    held = _tables_of(tx, batch)
    for name in held:
        _check_not_changed_since(tx, name, batch, target.revision.revision)
    _check_no_orphans(tx, batch, held, returns=not counts)
    return target


def _written_by(tx: Transaction, target: _Target) -> tuple[int, bool]:
    """Return the batch whose rows a revision, or the chain of undos that it ends, is about; and whether it counts."""
    done = tx.table("revisions")
    row = tx.execute(done.select().where(done.c.batch == target.batch)).one()
    while row.undoes is not None:
        row = tx.execute(done.select().where(done.c.revision == row.undoes)).one()
    return row.batch, bool(row.active)


def _take_back(tx: Transaction, target: _Target) -> Revision:
    back = target.revision
    about = f"{back.action} {back.about or ''}".strip()
    check_others(tx, [target.batch])
    ledger.begin_revision(tx, "undo", about=about, undoes=back.revision)
    _set_active(tx, target.batch, False)
    return back


def _set_active(tx: Transaction, batch: int, active: bool) -> None:
    """Let a batch count or not; what an undo took back counts when the undo does not."""
    done = tx.table("revisions")
    tx.execute(done.update().where(done.c.batch == batch).values(active=int(active)))
    undoes = tx.execute(done.select().where(done.c.batch == batch)).one().undoes
    if undoes is not None:
        undone = tx.execute(done.select().where(done.c.revision == undoes)).one_or_none()
        if undone is not None:
            _set_active(tx, undone.batch, not active)


def set_activity(tx: Transaction) -> None:
    """Work out from the undos which batches count, for a history that was put in as a whole."""
    done = tx.table("revisions")
    tx.execute(done.update().where(done.c.action == ledger.MERGED).values(active=0))
    query = done.select().where(done.c.undoes.is_not(None)).order_by(done.c.revision)
    for row in tx.execute(query).all():
        _set_active(tx, row.batch, True)


_HELD = " UNION ALL ".join(
    f"SELECT '{name}' AS name WHERE EXISTS (SELECT 1 FROM {name} WHERE batch = :batch)" for name in TABLES
)
_BEFORE_OR_AFTER = """
SELECT min(others.batch) FROM {table} AS ours JOIN {table} AS others
  ON others.row_key = ours.row_key AND others.batch {than} ours.batch
WHERE ours.batch = :batch
"""
_COUNTS = " AND others.batch NOT IN (SELECT batch FROM revisions WHERE active = 0)"


def _tables_of(tx: Transaction, batch: int) -> list[str]:
    """Return the tables that a batch has rows of."""
    from sqlalchemy import text

    return list(tx.execute(text(_HELD), {"batch": batch}).scalars())


def _check_not_changed_since(tx: Transaction, table: str, batch: int, revision: int) -> None:
    """Refuse when a later batch that counts has rows of the same keys."""
    from sqlalchemy import text

    later = text(_BEFORE_OR_AFTER.format(table=table, than=">") + _COUNTS)
    first = tx.execute(later, {"batch": batch}).scalar()
    if first is not None:
        raise ConflictError(
            f"{table} was changed after revision {revision}, in revision {ledger.numbers(tx, [first]).get(first)}",
            "undo the later revision first",
        )


def _check_no_orphans(tx: Transaction, batch: int, held: Collection[str], *, returns: bool) -> None:
    """Refuse a change that leaves rows naming a base, flavouring or target that is gone.

    Parameters
    ----------
    batch : int
        What will no longer count; with ``returns``, what will count again.
    held : collection of str
        The tables that it has rows of.
    """
    shelf = not _ID.keys().isdisjoint(held)
    for table, refers in REFERS.items():
        if not (shelf or (table in held and (returns or _has_earlier(tx, table, batch)))):
            continue
        for column, targets in refers.items():
            known = {one for name in targets.split("+") for one in ledger.used(tx, name, _ID[name], toggled=batch)}
            if orphans := sorted(set(ledger.used(tx, table, column, toggled=batch)) - known):
                raise ConflictError(
                    f"{column} {orphans[0]!r} is still used in {table}, and would be described nowhere",
                    "take back what uses it first, or bring back what describes it",
                )


def _has_earlier(tx: Transaction, table: str, batch: int) -> bool:
    """Tell whether rows of earlier batches would count again."""
    from sqlalchemy import text

    earlier = text(_BEFORE_OR_AFTER.format(table=table, than="<"))
    return tx.execute(earlier, {"batch": batch}).scalar() is not None
