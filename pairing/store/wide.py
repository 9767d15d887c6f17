"""Logs with several flavourings in a row: *Flavouring 1, Drops 1, Flavouring 2, Drops 2* become a row for each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.columns import READINGS
from pairing.store.beside import UNITS, with_unit
from pairing.store.headings import match_headings, numbered
from pairing.store.problems import Problems
from pairing.store.raw import is_blank, objects

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["UNFOLD", "one_flavouring_a_row"]

UNFOLD = (
    "write a row for every flavouring, with the same trial_id, reading and base; or name the columns Flavouring 1, "
    "Drops 1, Flavouring 2, Drops 2"
)
_OF_A_FLAVOURING = {"flavouring_id", "dose_g_per_kg", "amount", "strength", "lot"}


def one_flavouring_a_row(frame: pd.DataFrame, problems: Problems) -> pd.DataFrame:
    """Give every flavouring of a row a row of its own, under the number of the file's row; other tables stay.

    A strength that is said once of several flavourings is of none of them, and left out.

    Examples
    --------
    >>> import pandas as pd
    >>> said = {"cup": ["a"], "Flavouring 1": ["Fig"], "Drops 1": [4], "Flavouring 2": ["Rose"], "Drops 2": [1]}
    >>> one_flavouring_a_row(pd.DataFrame(said), Problems()).to_numpy().tolist()
    [['a', 'Fig', '4 drops'], ['a', 'Rose', '1 drops']]
    """
    import pandas as pd

    groups = _numbered(frame)
    if not groups:
        return frame
    rest = frame.drop(columns=_headings(groups))
    inside = np.array([~is_blank(objects(frame[columns["flavouring_id"][0]])) for columns in groups.values()])
    several = inside.sum(axis=0) > 1
    for heading, column in [(c.source, name) for name, c in match_headings(READINGS, list(rest.columns))[0].items()]:
        if column == "strength" and several.any():
            rest[heading] = rest[heading].astype(object).where(~several, None)
            which = f"name them {heading} 1, {heading} 2"
            problems.note(f"{heading!r} of rows with several flavourings is not used: {which}", "readings")
    parts = []
    for number, (columns, there) in enumerate(zip(groups.values(), inside, strict=True)):
        cells = {name: with_unit(frame[heading].astype(object), unit) for name, (heading, unit) in columns.items()}
        parts.append(rest.assign(**cells)[there | (~inside.any(axis=0) & (number == 0))])
    made: pd.DataFrame = pd.concat(parts).sort_index(kind="stable")
    made.attrs = frame.attrs
    problems.note(f"several flavourings in a row are read as a row each: {', '.join(map(str, _headings(groups)))}")
    return made


def _numbered(frame: pd.DataFrame) -> dict[str, dict[str, tuple[Any, str]]]:
    """Return heading and unit of each column of a flavouring, by number; nothing where these are not all alike."""
    groups: dict[str, dict[str, tuple[Any, str]]] = {}
    for heading in frame.columns:
        if (found := numbered(heading)) is None:
            continue
        stem, number = found
        ours = "amount" if stem in UNITS else next(iter(match_headings(READINGS, [stem])[0]), "")
        if ours in _OF_A_FLAVOURING:
            groups.setdefault(number, {})[ours] = (heading, UNITS.get(stem, ""))
    alike = len({frozenset(columns) for columns in groups.values()}) == 1
    return (
        groups if len(groups) > 1 and alike and all("flavouring_id" in columns for columns in groups.values()) else {}
    )


def _headings(groups: dict[str, dict[str, tuple[Any, str]]]) -> list[Any]:
    return [heading for columns in groups.values() for heading, _ in columns.values()]
