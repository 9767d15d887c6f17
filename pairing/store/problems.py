"""What is wrong with which row: gathered while a table is cleaned, handed back in full."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.store.notes import Note

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["REFUSED_COLUMNS", "Problems", "RowsOf", "refused_frame"]

REFUSED_COLUMNS = ("table", "row", "column", "value", "reason", "remedy")


class RowsOf:
    """Positions of the rows that have a code, found by one sort however often it is asked."""

    def __init__(self, codes: np.ndarray) -> None:
        self._codes = codes
        self._order: np.ndarray | None = None

    def __call__(self, code: int) -> np.ndarray:
        """Return the positions with this code, first to last."""
        if self._order is None:
            self._order = np.argsort(self._codes, kind="stable")
            self._sorted = self._codes[self._order]
        first, last = np.searchsorted(self._sorted, [code, code + 1])
        return self._order[first:last]


@dataclass
class Problems:
    """Refusals by row position, and notes, in the order in which they were found."""

    found: dict[int, list[tuple[str, Any, str, str]]] = field(default_factory=dict)
    notes: list[Note] = field(default_factory=list)
    numbers: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=object))
    """Row numbers as the source shows them, by position."""
    commas: list[str] = field(default_factory=list)
    """Columns in which commas were read as decimal commas."""
    unused: tuple[str, ...] = ()
    """Headings of the file that are no column of ours."""
    decimal_comma: bool | None = None
    """Whether the file writes decimal commas; None: not known."""

    def refuse(self, positions: Iterable[Any], column: str, values: Any, reason: str, remedy: str) -> None:
        """Refuse rows for one reason; ``values`` is one value for all of them or an array over the whole table."""
        for i in positions:
            value = values[i] if isinstance(values, np.ndarray) else values
            self.found.setdefault(int(i), []).append((column, value, reason, remedy))

    def first_time(self, positions: Iterable[Any]) -> list[int]:
        """Return the positions that are not refused yet."""
        return [int(i) for i in positions if int(i) not in self.found]

    def note(self, text: str, about: str = "", *, example: bool = False) -> None:
        """Keep a note once; see `Note`."""
        if (note := Note(text, about, example=example)) not in self.notes:
            self.notes.append(note)

    def good(self, n: int) -> np.ndarray:
        """Return a mask of the rows without a refusal."""
        mask = np.ones(n, dtype=bool)
        mask[list(self.found)] = False
        return mask

    def records(self, table: str) -> list[dict[str, Any]]:
        """Return one record per refused row: its first problem in the columns, the reasons and remedies of them all."""
        out = []
        for i in sorted(self.found):
            column, value, _, _ = self.found[i][0]
            reasons = [reason for _, _, reason, _ in self.found[i]]
            several = len(reasons) > 1
            remedies = [f"{name}: {what}" if name and several else what for name, _, _, what in self.found[i]]
            out.append(
                {
                    "table": table,
                    "row": self.numbers[i],
                    "column": column,
                    "value": value,
                    "reason": "; also: ".join(reasons),
                    "remedy": "; ".join(dict.fromkeys(remedies)),
                }
            )
        return out


def refused_frame(records: list[dict[str, Any]], originals: pd.DataFrame | None = None) -> pd.DataFrame:
    """Make the frame of refused rows, the original cells beside the reasons.

    A column of the file that has the name of one of ours gets ``(as given)`` behind its name.
    """
    import pandas as pd

    cells = [[record[column] for column in REFUSED_COLUMNS] for record in records]
    frame = pd.DataFrame(cells, columns=list(REFUSED_COLUMNS), dtype=object)
    if originals is None:
        return frame
    given = originals.reset_index(drop=True)
    given.columns = [f"{c} (as given)" if c in REFUSED_COLUMNS else str(c) for c in given.columns]
    given = given.loc[:, ~given.columns.duplicated()]
    return pd.concat([frame, given], axis=1)
