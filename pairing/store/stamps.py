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

__all__ = ["keep"]


def keep(tx: Transaction, pending: Mapping[str, pd.DataFrame], about: str, *, restoring: bool) -> int:
    """Append the rows of a load as one revision, or with the stamps of the export that they come from."""
    empty = restoring or ledger.log_revision(tx) == 0
    stamped = _stamps(tx, pending) if empty or _all_new(pending) else None
    if not stamped:
        number = ledger.begin_revision(tx, "load", about=about)
        for name, rows in pending.items():
            ledger.append(tx, name, rows, number)
        return number
    _add_revisions(tx, stamped)
    for name, rows in pending.items():
        if len(rows):
            ledger.append(tx, name, rows, [int(float(r)) for r in rows["revision"]])
    if empty:
        return ledger.log_revision(tx)
    return ledger.begin_revision(tx, "load", about=about)


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
            except (TypeError, ValueError):
                return None
            stamp = (str(at), str(author))
            if not np.isfinite(float(number)) or known.get(revision, stamp) != stamp:
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
        tx.execute(tx.table("revisions").insert(), rows)
    meta = tx.table("meta")
    top = max([ledger.log_revision(tx), *stamped])
    tx.execute(meta.update().where(meta.c.name == "revision").values(value=top))
