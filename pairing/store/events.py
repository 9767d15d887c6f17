"""What a change of the log was, for those who listen: which trials it is about, and how they stand now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pairing.api import LogEvent
from pairing.model.columns import READINGS
from pairing.store import ledger

if TYPE_CHECKING:
    from pairing.store.database import Transaction

__all__ = ["event_of"]


def event_of(tx: Transaction, kind: str, revision: int | None, trial_id: str | None) -> LogEvent:
    """Return what happened to one trial, or to all that a revision wrote or took back."""
    trials = _trials(tx, revision) if revision is not None else (str(trial_id),)
    readings = ledger.latest(tx, "readings", trials=list(trials), columns=READINGS.names, gone=False)
    return LogEvent(kind=kind, revision=ledger.log_revision(tx), trial_ids=trials, readings=readings)


def _trials(tx: Transaction, revision: int) -> tuple[str, ...]:
    undoes = {one.revision: one.undoes for one in ledger.revisions(tx)}
    while (before := undoes[revision]) is not None:  # an undo writes no rows: it is about those of what it undid
        revision = before
    batches = [batch for batch, number in ledger.numbers(tx).items() if number == revision]
    found: dict[str, None] = {}
    for table in ("readings", "steps"):
        found |= dict.fromkeys(ledger.versions(tx, table, batch=batches)["trial_id"])
    return tuple(found)
