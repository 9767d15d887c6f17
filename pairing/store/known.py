"""What a cup may refer to, remembered from one cup to the next: the shelf seldom changes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from pairing.model.shelf import Shelf
from pairing.store import ledger
from pairing.store.calibrations import with_weighed_drops

if TYPE_CHECKING:
    from pairing.store.database import Database, Transaction

__all__ = ["Known", "known_ids"]


def known_ids(tx: Transaction) -> dict[str, set[str]]:
    """Return the ids of bases, flavourings and targets that rows may refer to."""
    return {name: ledger.ids(tx, name) for name in ("bases", "flavourings", "targets")}


class Known:
    """Ids and shelf as they were after a revision.

    Attributes
    ----------
    revision : int
        Up to which every change is in it; -1 before anything was read.
    ids : mapping of table to set of ids
    shelf : Shelf
        Bases and flavourings, with drops as weighed.
    """

    def __init__(self) -> None:
        self.revision = -1
        self.ids: Mapping[str, set[str]] = {}
        self.shelf = Shelf.of([], [])

    def read(self, tx: Transaction) -> Known:
        """Read both anew."""
        flavourings, calibrations = (ledger.current(tx, name) for name in ("flavourings", "calibrations"))
        self.shelf = Shelf.from_tables(ledger.current(tx, "bases"), with_weighed_drops(flavourings, calibrations))
        self.ids, self.revision = known_ids(tx), ledger.log_revision(tx)
        return self

    def at_hand(self, db: Database) -> Known:
        """Read both if that was never done; they may have changed since."""
        if self.revision < 0:
            with db.reading() as tx:
                self.read(tx)
        return self
