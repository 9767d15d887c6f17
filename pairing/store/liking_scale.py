"""On which scale scores were written: likings from 1 to 9, or another that a heading or the caller tells."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import TableError
from pairing.model.columns import Column
from pairing.store.problems import Problems

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["TOP", "as_written", "check_scale", "note_scale", "note_strength", "on_nine", "scale_of", "up_to"]

TOP = 9
"""The nine-point hedonic scale."""
LONGEST = 10
_IN_HEADING = re.compile(r"\b1\s*(?:-|–|to)\s*(\d+)\b", re.IGNORECASE)
_OUT_OF = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(?:/|of|out of)\s*(\d+)\s*", re.IGNORECASE)


def check_scale(top: object) -> None:
    """Raise `TableError` for a scale that cannot be rescaled."""
    if top not in range(2, LONGEST + 1):
        raise TableError(
            f"liking_scale is {top!r}, allowed is 2 to {LONGEST}", "give the highest score of the scale used"
        )


def scale_of(heading: object, top: int, problems: Problems) -> int:
    """Return the scale that a heading names where none was given otherwise.

    Examples
    --------
    >>> [scale_of(heading, 9, Problems()) for heading in ("Liked (1-10)", "Liking")]
    [10, 9]
    """
    found = _IN_HEADING.search(str(heading))
    told = int(found[1]) if found else TOP
    if top != TOP or told == TOP:
        return top
    check_scale(told)
    problems.note(f"{str(heading)!r} is read as a scale of 1 to {told}")
    return told


def note_strength(heading: object, problems: Problems) -> None:
    """Say how strengths from 1 to 5 are understood: they may have meant how much, not whether it was enough."""
    if _IN_HEADING.search(str(heading)):
        problems.note(f"{str(heading)!r} is read as 1 much too weak, 3 just right, 5 much too strong", "strength")


def as_written(cells: pd.Series, top: int, problems: Problems) -> pd.Series:
    """Take ``8/10`` for 8 on a scale that ends at 10, and for no number on another; note scores beyond the scale.

    Examples
    --------
    >>> import pandas as pd
    >>> as_written(pd.Series(["8/10", "7", "4/5"]), 10, Problems()).tolist()
    ['8', '7', '4 of 5']
    """
    numbers = cells.dtype.kind in "fiu"
    seen: Any = () if numbers else cells.unique()
    if top == TOP and ((cells == 10).any() if numbers else any(str(cell).strip() in ("10", "10.0") for cell in seen)):
        problems.note(
            "a liking of 10 is above the scale of 1 to 9: if it was 1–10, load all of them with liking_scale=10"
        )
    parted = {cell: said for cell in seen if isinstance(cell, str) and (said := _OUT_OF.fullmatch(cell))}
    if not parted:
        return cells
    read = {cell: said[1] if int(said[2]) == top else f"{said[1]} of {said[2]}" for cell, said in parted.items()}
    return cells.map(lambda cell: read.get(cell, cell))


def up_to(column: Column, top: int) -> Column:
    """Return the column of likings as they were written, up to the top of their scale."""
    return Column(column.name, "number", column.required, 1.0, float(top))


def on_nine(likings: np.ndarray, top: int, problems: Problems) -> np.ndarray:
    """Rescale likings of a scale from 1 to ``top`` linearly to 1 to 9.

    Examples
    --------
    >>> on_nine(np.array([1.0, 3.0, 5.0]), 5, Problems()).tolist()
    [1.0, 5.0, 9.0]
    """
    problems.note(f"liking on 1–{top} is rescaled linearly to 1–{TOP}")
    return np.asarray(1.0 + (likings - 1.0) * (TOP - 1) / (top - 1))


def note_scale(liking: np.ndarray, problems: Problems) -> None:
    """Say so where whole scores look like those of a shorter scale that nobody named."""
    scores = liking[~np.isnan(liking)]
    top = scores.max(initial=0.0)
    if len(scores) >= 10 and scores.min() <= 2 and 3 <= top <= 7 and not (scores % 1).any():
        problems.note(
            f"no liking is above {top:g}: if the scale was 1–{top:g}, load with liking_scale={top:g} and it is rescaled"
        )
