"""Columns of dates and times: as text, as datetimes, and as the day numbers of a spreadsheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import first_few
from pairing.model.columns import Column
from pairing.model.fields import is_not_stated
from pairing.store.dates import day_first, is_two_days, read_time
from pairing.store.problems import Problems, RowsOf
from pairing.store.raw import objects

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["datetimes", "from_day_numbers", "time_reader"]

_SHOWN = 3
_SINCE, _UNTIL = dt.datetime(1990, 1, 1), dt.datetime(2100, 1, 1)
"""Days that a log may hold; other numbers are none (our choice): 2026 alone would be one of 1905."""


def from_day_numbers(cells: pd.Series, epoch: dt.datetime, column: str, problems: Problems) -> pd.Series:
    """Return a workbook's cells with the numbers that count days as dates, to the second, and note them by row.

    Parameters
    ----------
    cells : pandas.Series
    epoch : datetime
        Day 0 of the workbook: 30 December 1899, or 1 January 1904 (ECMA-376 Part 1, 18.17.4.1).
    """
    given = objects(cells)
    low, high = ((end - epoch).days for end in (_SINCE, _UNTIL))
    kinds = (int, float, np.number)
    at = [i for i, v in enumerate(given) if isinstance(v, kinds) and not isinstance(v, bool) and low <= v < high]
    if not at:
        return cells
    dates = given.copy()
    for i in at:
        dates[i] = epoch + dt.timedelta(seconds=round(86_400 * float(given[i])))
    said = f"{given[at[0]]:g} in row {problems.numbers[at[0]]} is the number of a day and is read as"
    more = f", and {len(at) - 1} more" if len(at) > 1 else ""
    problems.note(f"{said} {read_time(dates[at[0]], column)}{more}", column)
    return cells.astype(object).where(np.isin(np.arange(len(given)), at, invert=True), dates)


def datetimes(series: pd.Series) -> np.ndarray:
    """Write a datetime column as ISO text, days alone where no cell has a time of day."""
    if getattr(series.dt, "tz", None) is not None:
        stamps = [None if missing else cell.isoformat() for cell, missing in zip(series, series.isna(), strict=True)]
        return np.array(stamps, dtype=object)
    values = series.to_numpy(dtype="datetime64[us]")
    whole = values == values.astype("datetime64[D]")
    unit: Any = "D" if bool((whole | np.isnat(values)).all()) else "auto"
    if unit == "auto" and bool((np.isnat(values) | (values == values.astype("datetime64[s]"))).all()):
        unit = "s"
    text = np.datetime_as_string(values, unit=unit).astype(object)
    text[np.isnat(values)] = None
    return text


def time_reader(unique: np.ndarray, rows_of: RowsOf, column: Column, problems: Problems) -> Callable[[Any], str | None]:
    """Return what reads one cell of a column, beside what the column's other cells show of day and month."""
    first = day_first(u for u in unique if isinstance(u, str))
    if first is not None:
        _note_order(unique, rows_of, first, column, problems)
    return lambda cell: _time(cell, column, first)


def _note_order(unique: np.ndarray, rows_of: RowsOf, first: bool, column: Column, problems: Problems) -> None:
    """Name the dates that could be two days, each with its rows and the row that tells which is meant."""
    texts = {u: rows_of(i) for i, u in enumerate(unique) if isinstance(u, str)}
    doubtful = [text for text in texts if is_two_days(text)]
    if not doubtful:
        return
    shows = next(text for text in texts if day_first([text]) is not None)
    order = "day first" if first else "month first"
    as_in = f"{order}, as {shows.strip()!r} in row {problems.numbers[texts[shows][0]]} shows"
    for text in doubtful:
        rows = problems.numbers[texts[text]]
        where = f"{'row' if len(rows) == 1 else 'rows'} {first_few(rows, _SHOWN)}"
        said = read_time(text, column.name, first)
        problems.note(f"{text.strip()!r} in {where} is read as {said}, {as_in}", column.name, example=True)


def _time(cell: Any, column: Column, first: bool | None) -> str | None:
    if is_not_stated(cell):
        return None
    return read_time(cell, column.name, first)
