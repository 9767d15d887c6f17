"""Refused rows as a file to correct and load again: numbers written so that they read the same in any file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pairing.errors import TableError
from pairing.model.columns import TABLES, Column
from pairing.model.fields import read_cell
from pairing.store.headings import match_headings
from pairing.store.problems import REFUSED_COLUMNS

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["to_load_again"]


def to_load_again(refused: pd.DataFrame, decimal_comma: Mapping[str, bool | None]) -> pd.DataFrame:
    """Return refused rows with plain numbers: digits and a point, in the unit of their heading.

    Files with decimal commas and files with thousands meet in one, where a comma can no longer tell which it is. A
    number that could not be read for that reason gets a question mark, so that it is not read by chance.

    Parameters
    ----------
    refused : pandas.DataFrame
        As a load hands them back.
    decimal_comma : mapping of table to bool or None
        Whether the file of each table wrote decimal commas; None: not known.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"table": "bases", "base_id": "oat", "sodium_mg_per_100g": "1,250", "ph": "6,5 or 7"}
    >>> to_load_again(pd.DataFrame([row]), {"bases": False}).iloc[0].tolist()
    ['bases', 'oat', '1250', '6,5 or 7']
    """
    out = refused.copy()
    for table in refused["table"].unique():
        rows = (refused["table"] == table).to_numpy()
        given: list[object] = [
            c for c in refused.columns if c not in REFUSED_COLUMNS and refused.loc[rows, c].notna().any()
        ]
        for name, heading in match_headings(TABLES[table], given)[0].items():
            column = TABLES[table].by_name[name]
            for source in (heading.source, *heading.also) if column.kind in ("number", "integer") else ():
                cells = out[source].astype(object)
                cells[rows] = [
                    _plain(cell, column, decimal_comma.get(table), heading.unit) for cell in cells[rows].tolist()
                ]
                out[source] = cells
    return out


def _plain(cell: Any, column: Column, comma: bool | None, unit: str) -> Any:
    if not isinstance(cell, str) or not any(c.isdigit() for c in cell):
        return cell
    number = _read(cell, column, comma, unit)
    if number is not None:
        return cell if math.isnan(number) else repr(number).removesuffix(".0")
    readable = any(_read(cell, column, other, unit) is not None for other in (None, True, False))
    return f"{cell.strip()} ?" if readable else cell


def _read(cell: str, column: Column, comma: bool | None, unit: str) -> float | None:
    try:
        return read_cell(cell, column, comma, unit)
    except TableError:
        return None
