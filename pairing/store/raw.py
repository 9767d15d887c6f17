"""Cells as they are given: which are empty, which are distinct, and which column they stand in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.fields import is_missing, written
from pairing.store.headings import SourceColumn
from pairing.store.problems import Problems

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["FEW", "LONG", "absent", "distinct", "factorized", "is_blank", "joined", "objects", "too_long"]

FEW = 1000
"""Cells that are read without pandas: to load it takes longer than to read them (our choice)."""
_LONGEST_BITS = 1000
_NONE = np.array(None, dtype=object)


LONG = "a whole number of hundreds of digits"


def too_long(cell: Any) -> bool:
    """Tell a whole number that no float holds, and whose digits are not written out."""
    return isinstance(cell, int) and cell.bit_length() > _LONGEST_BITS


def absent(values: np.ndarray) -> np.ndarray:
    """Mask the cells of an object array that are None."""
    return np.asarray(values == _NONE, dtype=bool)


def objects(series: pd.Series | np.ndarray) -> np.ndarray:
    """Return the cells as Python objects, None where missing."""
    if isinstance(series, np.ndarray):
        return series.astype(object, copy=False)
    return np.asarray(series.to_numpy(dtype=object, na_value=None))  # type: ignore[call-overload]


def is_blank(values: np.ndarray) -> np.ndarray:
    """Mask the empty cells of an object array: None, NaN, NaT, NA or blank text."""
    codes, unique = distinct(values)
    empty = np.array([isinstance(u, str) and not u.strip() for u in unique], dtype=bool)
    return (codes < 0) | (empty[codes] if len(empty) else False)


def distinct(cells: Any) -> tuple[np.ndarray, np.ndarray]:
    """Give numbers to the distinct cells, -1 where missing; lists and mappings as the text that a cell would hold."""
    try:
        return factorized(cells)
    except (TypeError, OverflowError):  # a cell that is a list or a mapping; a huge number, in pandas before 3
        flat = np.empty(len(cells), dtype=object)
        flat[:] = [written(cell) for cell in cells]
        return factorized(flat)


def factorized(cells: Any) -> tuple[np.ndarray, np.ndarray]:
    """Give numbers to the distinct cells in order of appearance, -1 where missing; return numbers and cells."""
    if not isinstance(cells, np.ndarray) or len(cells) > FEW:
        import pandas as pd

        codes, unique = pd.factorize(cells, use_na_sentinel=True)
        return codes, np.asarray(unique, dtype=object)
    number: dict[Any, int] = {}
    given = cells.tolist()
    nothing = [not isinstance(cell, str) and is_missing(cell) for cell in given]
    codes = [-1 if none else number.setdefault(c, len(number)) for c, none in zip(given, nothing, strict=True)]
    few = np.empty(len(number), dtype=object)
    few[:] = list(number)
    return np.array(codes, dtype=np.int64), few


def joined(frame: pd.DataFrame, heading: SourceColumn, column: str, problems: Problems) -> pd.Series:
    """Return a column's cells, of headings that are read as one whichever is filled; rows that fill two are refused."""
    cells = frame[heading.source]
    for other in heading.also:
        ours, theirs = objects(cells), objects(frame[other])
        empty, filled = is_blank(ours), ~is_blank(theirs)
        twice = np.flatnonzero(~empty & filled)
        differ = [i for i in twice if ours[i] != theirs[i]]
        for i in differ:
            reason = f"column {heading.source!r} says {ours[i]!r}, column {other!r} says {theirs[i]!r}"
            problems.refuse([i], column, theirs[i], reason, "keep one of the two")
        cells = cells.where(~(empty & filled), frame[other])
    return cells
