"""Revision numbers that come with an export: kept where they fit the bench, so that tables come back the same."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from pairing.store import ledger
from pairing.store.headings import STAMPS

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["agreed", "keep", "known_in", "numbers", "taken_over"]

_MOST = 2**53
"""No log has so many revisions: a number from there on is not one."""


def keep(tx: Transaction, pending: Mapping[str, pd.DataFrame], about: str) -> int:
    """Append the rows of a load as one revision, or with the stamps of the export that they come from.

    Those that come into an empty bench are a past, see `pairing.store.restore.past_of_stamps`.
    """
    stamped = taken_over(tx, pending)
    if not stamped:
        begun = ledger.begin_revision(tx, "load", about=about)
        for name, rows in pending.items():
            ledger.append(tx, name, rows, begun.batch)
        return begun.revision
    _add_revisions(tx, stamped)
    batches = {revision: batch for batch, revision in ledger.numbers(tx).items()}
    for name, rows in pending.items():
        if len(rows):
            ledger.append(tx, name, rows, [batches[r] for r in numbers(rows).tolist()])
    return ledger.begin_revision(tx, "load", about=about).revision


def numbers(rows: pd.DataFrame) -> np.ndarray:
    """Return the revision of every row."""
    return np.array([int(float(r)) for r in rows["revision"]], dtype=np.int64)


def taken_over(tx: Transaction, pending: Mapping[str, pd.DataFrame]) -> dict[int, tuple[str, str]] | None:
    """Return the stamps that the rows of a load will keep in a bench; None where they become one revision of it."""
    if not any(STAMPS[0] in rows.columns for rows in pending.values()):
        return None
    return agreed(known_in(tx), pending) if _all_new(pending) else None


def known_in(tx: Transaction) -> dict[int, tuple[str, str]]:
    """Return time and author of every revision of a bench."""
    return {r.revision: (r.at, r.author) for r in ledger.revisions(tx)}


def _all_new(pending: Mapping[str, pd.DataFrame]) -> bool:
    return all((rows["place"] < 0).all() for rows in pending.values() if len(rows))


def agreed(
    known: Mapping[int, tuple[str, str]], pending: Mapping[str, pd.DataFrame]
) -> dict[int, tuple[str, str]] | None:
    """Return time and author by revision number, or None when a row has none or two tell different stories."""
    found: dict[int, tuple[str, str]] = {}
    for rows in pending.values():
        if not len(rows):
            continue
        if not all(name in rows.columns for name in STAMPS):
            return None
        for number, at, author in rows[list(STAMPS)].drop_duplicates().itertuples(index=False):
            try:
                revision = int(float(number))
            except (TypeError, ValueError, OverflowError):
                return None
            stamp = (str(at), str(author))
            if not 0 < revision < _MOST or known.get(revision, stamp) != stamp:
                return None
            if found.setdefault(revision, stamp) != stamp:
                return None
    return found


def _add_revisions(tx: Transaction, stamped: dict[int, tuple[str, str]]) -> None:
    known = {r.revision for r in ledger.revisions(tx)}
    rows = [
        {"revision": n, "at": at, "author": author, "action": "load", "about": "from an export"}
        for n, (at, author) in sorted(stamped.items())
        if n not in known
    ]
    if rows:
        first = tx.state()[0] + 1
        tx.execute(tx.table("revisions").insert(), [{**row, "batch": n} for n, row in enumerate(rows, start=first)])
