"""What became of a load."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from pairing.store.notes import Note

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LoadReport"]


@dataclass(frozen=True)
class LoadReport:
    """What became of the rows of a load.

    Attributes
    ----------
    accepted, skipped, revised : dict of table to int
        Rows that went in, that were there already, and that were corrected: changed, or taken out of a reading that
        no longer lists them.
    refused : pandas.DataFrame
        table, row, column, value, reason, remedy, and each row as given.
    notes : tuple of Note
        What was assumed, converted or not used.
    revision : int or None
        The revision that the load made; None when nothing went in.
    decimal_comma : dict of table to bool or None
        Whether commas of its numbers were taken for decimal signs; None: nothing showed it.
    """

    refused: pd.DataFrame
    accepted: dict[str, int] = field(default_factory=dict)
    skipped: dict[str, int] = field(default_factory=dict)
    revised: dict[str, int] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()
    revision: int | None = None
    decimal_comma: dict[str, bool | None] = field(default_factory=dict)
