"""Revision numbers that come with an export: kept where they fit the bench, so that tables come back the same."""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import TYPE_CHECKING

import numpy as np

from pairing.store import ledger
from pairing.store.headings import STAMPS

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["keep"]

_MOST = 2**53
"""No log has so many revisions: a number from there on is not one."""


def keep(
    tx: Transaction,
    pending: Mapping[str, pd.DataFrame],
    about: str,
    *,
    restoring: bool,
    skipped: Set[int] = frozenset(),
) -> tuple[int, dict[str, dict[str, int]]]:
    """Append the rows of a load as one revision, or with the stamps of the export that they come from.

    Parameters
    ----------
    skipped : set of int
        Revisions whose rows are left out: undos, which write none here.

    Returns
    -------
    revision : int
    places : dict of table to dict of row key to place
        Of all rows, when ``restoring``.
    """
    empty = restoring or ledger.log_revision(tx) == 0
    stamped = _stamps(tx, pending) if empty or _all_new(pending) else None
    if not stamped:
        begun = ledger.begin_revision(tx, "load", about=about)
        for name, rows in pending.items():
            ledger.append(tx, name, rows, begun.batch)
        return begun.revision, {}
    _add_revisions(tx, stamped)
    batches = {revision: batch for batch, revision in ledger.numbers(tx).items()}
    places: dict[str, dict[str, int]] = {}
    for name, rows in pending.items():
        if not len(rows):
            continue
        of = np.array([int(float(r)) for r in rows["revision"]])
        placed = rows.assign(place=np.arange(len(rows))) if restoring else rows
        places[name] = dict(zip(placed["row_key"], placed["place"], strict=True)) if restoring else {}
        kept = ~np.isin(of, list(skipped))
        ledger.append(tx, name, placed[kept], [batches[r] for r in of[kept].tolist()])
    if empty:
        return ledger.log_revision(tx), places
    return ledger.begin_revision(tx, "load", about=about).revision, places


def _all_new(pending: Mapping[str, pd.DataFrame]) -> bool:
    return all((rows["place"] < 0).all() for rows in pending.values() if len(rows))


def _stamps(tx: Transaction, pending: Mapping[str, pd.DataFrame]) -> dict[int, tuple[str, str]] | None:
    """Return time and author by revision number, or None when a row has none or two tell different stories."""
    known = {r.revision: (r.at, r.author) for r in ledger.revisions(tx)}
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
