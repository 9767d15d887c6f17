"""Which table a file is: told by its columns, and by its name where those fit several."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pairing.errors import TableError, first_few, in_shell
from pairing.model.columns import TABLES
from pairing.store.headings import match_headings, missing_columns, numbered, plain_heading

__all__ = ["table_of"]

_MARKS = (
    ("steps", {"trial_id", "kind"}),
    ("readings", {"trial_id", "base_id"}),
    ("comparisons", {"check_id"}),
    ("weighings", {"item_id", "lot", "gross_g"}),
    ("lots", {"item_id", "lot"}),
    ("recipes", {"recipe_id", "doses"}),
    ("photos", {"photo_id"}),
    ("calibrations", {"flavouring_id", "drops", "grams"}),
    ("flavourings", {"flavouring_id", "name"}),
    ("bases", {"base_id", "name"}),
    ("targets", {"target_id", "name"}),
    ("tasters", {"taster"}),
)
"""Columns that tell which table a file is, tried in this order."""
_SHOWN = 8
_NEAR = 3
"""So many columns of a table, or so many more than of another, tell that a file is meant for it (our choice)."""


def table_of(file: str, headings: list[Any]) -> str:
    """Tell from its columns, and where several fit alike from its name, which table a file is.

    Raises
    ------
    TableError
        When the columns fit no table, or several.

    Examples
    --------
    >>> table_of("mine.csv", ["Code", "Name", "Dosage"]), table_of("my bases.csv", ["Name"])
    ('flavourings', 'bases')
    """
    columns = {str(c).strip().casefold().replace(" ", "_"): None for c in headings}
    for name, marks in _MARKS:
        if marks <= columns.keys() and name != "tasters":
            return name
    stems = [of_several[0] if (of_several := numbered(heading)) else heading for heading in headings]
    found = {name: match_headings(TABLES[name], stems)[0] for name, _ in _MARKS}
    most = max(map(len, found.values()))
    fits = [name for name, marks in _MARKS if _fits(name, marks, found[name])]
    if len(found["tasters"]) * 2 < len(headings):  # a log of cups tells who tasted, too
        fits = [name for name in fits if name != "tasters"]
    known = {name: len(found[name]) for name in fits if len(found[name]) > most - _NEAR}
    best = [name for name, n in known.items() if n == max(known.values())]
    if len(best) > 1:
        words = set(plain_heading(Path(file).stem).split("_"))
        best = [name for name in best if {name, name.removesuffix("s")} & words] or best
    if len(best) == 1:
        return best[0]
    if best:
        raise TableError(
            f"{file} may be {' or '.join(best)}: its columns ({', '.join(map(str, headings[:_SHOWN]))}) fit them alike",
            f"say which, as in --{best[0]} {in_shell(file)}, or name its first column, as in {TABLES[best[0]].key[0]}",
        )
    named = [c for c in columns if not re.fullmatch(r"column_\d+", c)]
    if len(named) <= len(columns) / 2:
        raise TableError(
            f"the first row of {file} names {len(named)} of {len(columns)} columns: {', '.join(named) or 'none'}",
            "delete the rows above the one with the column names, such as flavouring_id",
        )
    nearest = max(found, key=lambda name: len(found[name]))
    if len(found[nearest]) >= _NEAR:
        lacks = ", ".join(missing_columns(TABLES[nearest], found[nearest]))
        raise TableError(
            f"{file} comes nearest to {nearest} by its {first_few(found[nearest])}, and lacks: {lacks}",
            f"give it these columns, or name the table that it is, as in --{nearest} {in_shell(file)}",
        )
    raise TableError(
        f"the columns of {file} fit no table: {', '.join([*columns][:_SHOWN])}",
        f"give the columns their names, such as base_id, or name the table, as in --readings {in_shell(file)}",
    )


def _fits(name: str, marks: set[str], found: Mapping[str, Any]) -> bool:
    """Tell whether a table's marks are there; an id that is lacking is made from the name."""
    return marks - found.keys() <= {TABLES[name].key[0]} if "name" in marks & found.keys() else marks <= found.keys()
