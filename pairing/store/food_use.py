"""Which flavourings are meant for food: an empty cell is unknown, and answered for a whole file or bench at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from pairing.errors import first_few
from pairing.model.called import meant
from pairing.model.columns import FLAVOURINGS
from pairing.model.fields import check
from pairing.store import ledger
from pairing.store.cells import absent
from pairing.store.notes import Note
from pairing.store.rights import check_others

if TYPE_CHECKING:
    from pairing.store.database import Transaction
    from pairing.store.exchange import Cleaned

__all__ = ["declare", "declared", "note_unstated"]

_COLUMN = "food_use"


def declared(cleaned: Cleaned, food_use: str) -> Cleaned:
    """Return a cleaned file of flavourings with its empty cells of food use filled."""
    value = check(food_use, FLAVOURINGS.by_name[_COLUMN])
    table = cleaned.table.copy()
    table[_COLUMN] = [value if cell is None else cell for cell in table[_COLUMN]]
    return replace(cleaned, table=table, present=tuple(dict.fromkeys((*cleaned.present, _COLUMN))))


def note_unstated(cleaned: Cleaned) -> tuple[Note, ...]:
    """Say how many flavourings of a file do not state their food use, and how to answer once."""
    unstated = cleaned.table["flavouring_id"][absent(cleaned.table[_COLUMN].to_numpy(dtype=object))]
    if not len(unstated):
        return ()
    text = (
        f"{len(unstated)} of {len(cleaned.table)} flavourings do not say that they are meant for food, so that they "
        f"are never suggested ({first_few(unstated)}). Read the labels, then: pairing shelf food-use yes (or load a "
        "new file with --food-use yes)"
    )
    return (Note(text, _COLUMN),)


def declare(tx: Transaction, food_use: str, flavouring_ids: Iterable[str] | None = None) -> tuple[str, ...]:
    """State the food use of some flavourings, or of all that do not state any, as one revision.

    Returns
    -------
    tuple of str
        The flavourings that say something else from now on.
    """
    value = check(food_use, FLAVOURINGS.by_name[_COLUMN])
    rows = ledger.latest(tx, "flavourings")
    rows = rows[rows["gone"] == 0].reset_index(drop=True)
    known = dict(zip(rows["flavouring_id"], rows["name"], strict=True))
    wanted = None if flavouring_ids is None else {meant(one, known, "flavouring") for one in flavouring_ids}
    chosen = absent(rows[_COLUMN].to_numpy(dtype=object)) if wanted is None else rows["flavouring_id"].isin(wanted)
    changed = rows[chosen & (rows[_COLUMN] != value)]
    if not len(changed):
        return ()
    check_others(tx, changed["batch"])
    begun = ledger.begin_revision(tx, "correct", about=f"flavourings: {_COLUMN} {value}, {len(changed)} of them")
    ledger.append(
        tx, "flavourings", changed[[*FLAVOURINGS.names, "row_key", "place"]].assign(food_use=value), begun.batch
    )
    return tuple(changed["flavouring_id"])
