"""Ids that a file does not have: made from names, and meant by names."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import first_few
from pairing.model.called import called, names_of
from pairing.model.columns import TableSchema
from pairing.model.fields import written
from pairing.store.headings import SourceColumn
from pairing.store.problems import Problems, RowsOf
from pairing.store.raw import factorized, is_blank, objects

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.rules import Data

__all__ = ["by_name", "id_from", "with_ids"]

_NOT_WORD = re.compile(r"[\W_]+")


def id_from(name: str) -> str:
    """Make an id from a name.

    Examples
    --------
    >>> id_from("Crème brûlée, 30 ml")
    'creme-brulee-30-ml'
    """
    seen = (c for c in unicodedata.normalize("NFKD", name) if unicodedata.category(c) != "Cf")
    letters = (c for c in seen if not unicodedata.combining(c))
    return _NOT_WORD.sub("-", "".join(letters).casefold()).strip("-")


def with_ids(
    spec: TableSchema,
    frame: pd.DataFrame,
    found: dict[str, SourceColumn],
    problems: Problems,
    known: Mapping[str, Iterable[str]] | None = None,
) -> tuple[pd.DataFrame, dict[str, SourceColumn]]:
    """Fill empty ids from the names beside them: the id that is called so already, else a new one of its words."""
    key = spec.key[0]
    if "name" not in found:
        return frame, found
    names = objects(frame[found["name"].source])
    given = objects(frame[found[key].source]) if key in found else np.full(len(frame), None, dtype=object)
    lacking = np.flatnonzero(is_blank(given) & ~is_blank(names))
    if not len(lacking) and key in found:
        return frame, found
    made: dict[str, str] = {}
    taken = {str(one) for one in given[~is_blank(given)]}
    said = [str(written(names[i])).strip() for i in lacking]
    for name, there in called(said, (known or {}).get(spec.name, ())).items():
        made[name] = there[0] if len(there) == 1 else _free(id_from(name), taken)
        taken.add(made[name])
    ids = given.copy()
    ids[lacking] = [made[name] or None for name in said]
    source = found.get(key, SourceColumn(key))
    filled = frame.copy(deep=False)
    filled[source.source] = ids
    filled.attrs = frame.attrs
    if made:
        problems.note(f"made from the names: {first_few(made.values())}", key)
    return filled, {**found, key: source}


def _free(new: str, taken: Iterable[str]) -> str:
    """Return the id, with a number behind it where another name has it."""
    number, one = 1, new
    while one and one in taken:
        number += 1
        one = f"{new}-{number}"
    return one


def by_name(data: Data, refers: Mapping[str, str], known: Mapping[str, Iterable[str]], problems: Problems) -> None:
    """Take what is called otherwise than by its id, in columns that refer to another table, for the id that is meant.

    Parameters
    ----------
    data : Data
    refers : mapping of column to tables
        As `pairing.store.rules.REFERS`.
    known : mapping of table to ids, or to names by id
    problems : Problems
        Takes a note of what was taken for what.
    """
    for column, tables in refers.items():
        names = names_of(known.get(name, ()) for name in tables.split("+"))
        codes, distinct = factorized(data[column])
        others = [one for one in distinct if one and one not in names]
        meant = {one: found[0] for one, found in called(others, names).items() if len(found) == 1}
        if not meant:
            continue
        rows_of, cells = RowsOf(codes), data[column].copy()
        for place, one in enumerate(distinct):
            if one in meant:
                cells[rows_of(place)] = meant[one]
        data[column] = cells
        data.known.pop(column, None)
        problems.note(first_few(f"{one!r} is taken for {found}" for one, found in meant.items()), column)
