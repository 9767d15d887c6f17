"""What a cup may refer to, remembered from one cup to the next: the shelf seldom changes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from pairing.model.columns import TABLES
from pairing.model.shelf import Shelf
from pairing.store import ledger, state
from pairing.store.calibrations import with_lots
from pairing.store.in_use import InUse, lots_in_use

if TYPE_CHECKING:
    from pairing.store.database import Database, Transaction
    from pairing.store.frames import Columns

__all__ = ["Known", "known_names"]

_READ = ("bases", "flavourings", "tasters", "calibrations")


def known_names(tx: Transaction) -> dict[str, dict[str, str]]:
    """Return what bases, flavourings and targets that rows may refer to are called, by id."""
    return {name: _names(name, ledger.columns_of(tx, name)) for name in ("bases", "flavourings", "targets")}


def _names(table: str, rows: Columns) -> dict[str, str]:
    return dict(zip(rows[TABLES[table].key[0]], rows["name"], strict=True))


class Known:
    """Ids and shelf as they were after a revision.

    Attributes
    ----------
    revision : int
        Up to which every change is in it; -1 before anything was read.
    ids : dict of table to names by id
    shelf : Shelf
        Bases and flavourings, with drops as weighed, and tasters.
    in_use : InUse
        Which lot the next cup takes of.
    """

    def __init__(self) -> None:
        self.revision = -1
        self.ids: dict[str, dict[str, str]] = {}
        self.shelf = Shelf.of([], [])
        self.in_use = InUse()

    def read(self, tx: Transaction) -> Known:
        """Read both anew."""
        self.in_use = lots_in_use(tx)
        tables = {name: ledger.columns_of(tx, name) for name in _READ}
        shelf = with_lots(tables, self.in_use.names)
        self.shelf = replace(shelf, jurisdiction=state.read_settings(tx)["jurisdiction"])
        tables["targets"] = ledger.columns_of(tx, "targets")
        self.ids = {name: _names(name, tables[name]) for name in ("bases", "flavourings", "targets")}
        self.revision = ledger.log_revision(tx)
        return self

    def at_hand(self, db: Database) -> Known:
        """Read both if that was never done; they may have changed since."""
        if self.revision < 0:
            with db.reading() as tx:
                self.read(tx)
        return self
