"""Columns of numbers: plain ones at once, each distinct text once, in its heading's unit and by its row's density."""

from __future__ import annotations

import datetime as dt
import re
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import TableError, first_few
from pairing.model.columns import BASES, Column
from pairing.model.fields import check, is_loosely_said, read_cell
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML
from pairing.quantities.numbers import decimal_comma
from pairing.store.headings import SourceColumn
from pairing.store.problems import Problems, RowsOf
from pairing.store.raw import FEW, LONG, distinct, objects, too_long

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["looks_decimal_comma", "read_numbers"]

_PLAIN = {float, int, np.float64, type(None)}
ASSUMED_G_PER_ML = (1.0, DEFAULT_DENSITY_G_PER_ML)
"""What a flavouring and a base are taken to weigh where a volume is stated and no density."""
EXACT = 15
"""Characters of a number that pandas before 3.1 reads exactly (found by trying 400,000)."""
_ANOTHER = 2.0
"""A density that nothing has: what reads the same by it is no volume."""
_VOLUME = re.compile(r"\d.*[^\W\d_]", re.DOTALL)
"""A number and a unit, which may be one of volume."""


def looks_decimal_comma(columns: list[np.ndarray]) -> bool | None:
    """Tell from all number columns of a file whether it writes decimal commas; None when nothing shows it."""
    for values in columns:
        texts = [v for v in values[:100_000] if isinstance(v, str) and "," in v]
        if (answer := decimal_comma(texts)) is not None:
            return answer
    return None


def read_numbers(
    series: pd.Series | np.ndarray,
    column: Column,
    problems: Problems,
    comma: bool | None,
    heading: SourceColumn,
    density: np.ndarray | None,
) -> np.ndarray:
    """Read a column of numbers as float64, NaN where empty; see `pairing.store.cells.read_column`."""
    if not isinstance(series, np.ndarray) and series.dtype.kind in "iuf":
        out = series.to_numpy(dtype=np.float64, na_value=np.nan)
        raw = None
    else:
        raw = objects(series)
        out = _plain(raw)
        unread = ~np.isfinite(out) | _true_or_false(raw)
        rest = np.flatnonzero(unread if comma is None else unread | _has_point(raw))
        if len(rest):
            out[rest] = _read_rest(raw[rest], rest, column, problems, comma, heading, density)
    if heading.unit:
        out = out * heading.times / heading.divide
    if heading.by_volume:
        out = _weighed(out, density, column, problems)
    _check_range(out, raw, column, problems)
    return out


def _plain(raw: np.ndarray) -> np.ndarray:
    """Read the cells that are plain numbers, and texts of one; NaN where a cell is neither."""
    if len(raw) <= FEW and set(map(type, raw)) <= _PLAIN:
        with suppress(OverflowError):
            return raw.astype(np.float64)
    import pandas as pd

    if any(map(too_long, raw)):
        raw = np.array([np.nan if too_long(cell) else cell for cell in raw], dtype=object)
    out = np.array(pd.to_numeric(pd.Series(raw, dtype=object), errors="coerce"), dtype=np.float64)
    for i in [i for i, cell in enumerate(raw) if isinstance(cell, str) and _is_inexact(cell)]:
        if np.isfinite(out[i]):
            with suppress(ValueError):
                out[i] = float(raw[i])
    return out


def _is_inexact(text: str) -> bool:
    """Tell whether pandas before 3.1 may be off by the last bit: an export would not come back as it was."""
    return len(text) > EXACT or "e" in text or "E" in text


def _weighed(out: np.ndarray, density: np.ndarray | None, column: Column, problems: Problems) -> np.ndarray:
    """Turn numbers per 100 ml into numbers per 100 g."""
    g_per_ml = np.full(len(out), np.nan) if density is None else density
    guessed = np.isnan(g_per_ml) & ~np.isnan(out)
    if guessed.any():
        rows = first_few(problems.numbers[guessed], 3)
        about = f"per 100 ml without a density (rows {rows}): {DEFAULT_DENSITY_G_PER_ML} g per ml is assumed"
        problems.note(about, column.name)
    return np.asarray(out / np.where(np.isnan(g_per_ml), DEFAULT_DENSITY_G_PER_ML, g_per_ml))


def _true_or_false(raw: np.ndarray) -> np.ndarray:
    """Mask the cells that pandas would count as 0 or 1."""
    if not {bool, np.bool_} & set(map(type, raw)):
        return np.zeros(len(raw), dtype=bool)
    return np.fromiter((isinstance(v, (bool, np.bool_)) for v in raw), dtype=bool, count=len(raw))


def _has_point(raw: np.ndarray) -> np.ndarray:
    return np.fromiter((isinstance(v, str) and "." in v for v in raw), dtype=bool, count=len(raw))


def _read_rest(
    cells: np.ndarray,
    rest: np.ndarray,
    column: Column,
    problems: Problems,
    comma: bool | None,
    heading: SourceColumn,
    density: np.ndarray | None,
) -> np.ndarray:
    """Read the cells that are no plain numbers, each distinct one once, in the unit of the heading."""
    codes, unique = distinct(cells)
    out, rows_of = np.full(len(cells), np.nan), RowsOf(codes)
    read_as: list[str] = []
    weighed: list[str] = []
    for i, cell in enumerate(unique):
        rows = rows_of(i)
        for at, g_per_ml in _by_density(cell, rows, None if density is None else density[rest[rows]]):
            assumed = g_per_ml is not None and np.isnan(g_per_ml)
            if assumed:
                g_per_ml = ASSUMED_G_PER_ML[column.name in BASES.names]  # noqa: PLW2901 – known from here on
            try:
                if not isinstance(cell, str):
                    raise _no_number(cell, column)
                value = read_cell(cell, column, comma, heading.unit, g_per_ml)
            except TableError as error:
                problems.refuse(rest[at], column.name, cell, error.message, error.hint)
                continue
            out[at] = value
            if assumed and read_cell(cell, column, comma, heading.unit, _ANOTHER) != value:
                weighed.append(repr(cell.strip()))
            if cell.strip() and (_says_more(cell, value) or is_loosely_said(cell, column.name)):
                kept = value * heading.times / heading.divide
                read_as.append(f"{cell.strip()!r} as {'unknown' if np.isnan(kept) else format(kept, '.6g')}")
    if weighed:
        g_per_ml = ASSUMED_G_PER_ML[column.name in BASES.names]
        several = first_few(dict.fromkeys(weighed), 2)
        problems.note(f"{several}: {g_per_ml:.2f} g per ml is assumed, the density is not known", column.name)
    if read_as:
        several = f" and {len(read_as) - 2} more like these" if len(read_as) > 2 else ""
        problems.note(f"read {', '.join(read_as[:2])}{several}", column.name)
    if comma and any(isinstance(u, str) and "," in u for u in unique):
        problems.commas.append(column.name)
    return out


def _by_density(cell: Any, rows: np.ndarray, density: np.ndarray | None) -> list[tuple[np.ndarray, float | None]]:
    """Part the rows of one cell by what a volume weighs in each, where the cell may be of a volume."""
    if density is None or not (isinstance(cell, str) and _VOLUME.search(cell)):
        return [(rows, None)]
    known, unknown = np.unique(density[~np.isnan(density)]), rows[np.isnan(density)]
    parts: list[tuple[np.ndarray, float | None]] = [(rows[density == g_per_ml], float(g_per_ml)) for g_per_ml in known]
    return [*parts, (unknown, np.nan)] if len(unknown) else parts


def _no_number(cell: Any, column: Column) -> TableError:
    if isinstance(cell, (bool, np.bool_)):
        return TableError(f"{column.name} is {cell}, which is no number", "write a number, or leave it empty")
    if too_long(cell):
        return TableError(f"{column.name} is {LONG}", "write the number in the unit of the column")
    if isinstance(cell, (dt.date, dt.time)):
        return TableError(
            f"{column.name} is the date or time {cell}, not a number",
            "format the cell as a number and type the number again",
        )
    return TableError(f"{column.name} {cell!s} is not a number", "format the cell as a number")


def _says_more(cell: str, value: float) -> bool:
    """Tell whether a cell says more than its number: a unit, or that nothing is known. Scale words need no note."""
    return bool(np.isnan(value) or (re.search(r"[^\d\s.,+-]", cell) and re.search(r"\d", cell)))


def _check_range(out: np.ndarray, raw: np.ndarray | None, column: Column, problems: Problems) -> None:
    bad = np.isinf(out)
    if column.low is not None:
        bad |= out < column.low
    if column.high is not None:
        bad |= out > column.high
    if column.kind == "integer":
        bad |= out != np.where(np.isnan(out), out, np.trunc(out))
        bad &= ~np.isnan(out)
    for i in np.flatnonzero(bad):
        _refuse_by_check(float(out[i]), int(i), out[i] if raw is None else raw[i], column, problems)
    if column.required:
        missing = problems.first_time(np.flatnonzero(np.isnan(out)))
        problems.refuse(missing, column.name, None, f"{column.name} is empty", "it is required")


def _refuse_by_check(value: Any, position: int, given: Any, column: Column, problems: Problems) -> None:
    """Refuse one cell in the words of the value objects' own check."""
    try:
        check(value, column)
    except TableError as error:
        problems.refuse([position], column.name, given, error.message, error.hint)
