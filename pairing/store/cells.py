"""Whole columns of cells in the type of their column, with what could not be read.

Each distinct text is read once, so that a column of millions of cells costs little more than its distinct values.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import PairingError, TableError, first_few
from pairing.model.columns import Column
from pairing.model.fields import JOINERS, MAX_ID, check, clean_id, several, unseen, written
from pairing.quantities.amounts import parse_amount
from pairing.quantities.numbers import restated
from pairing.store.headings import SourceColumn
from pairing.store.number_cells import read_numbers
from pairing.store.pictures import read_picture
from pairing.store.problems import Problems, RowsOf
from pairing.store.raw import LONG, absent, distinct, factorized, too_long
from pairing.store.time_cells import datetimes, time_reader

if TYPE_CHECKING:
    import pandas as pd

    Cells = pd.Series | np.ndarray

__all__ = ["read_column"]

_YES_NO = {"y": "yes", "true": "yes", "1": "yes", "x": "yes", "n": "no", "false": "no", "0": "no"}
_CHOICE_WORDS = {"blind": {"blind": "coded", "open": "sighted", "yes": "coded", "no": "sighted"}}
_SHEET_ERROR = re.compile(r"#(N/A|REF!|VALUE!|DIV/0!|NAME\?|NULL!|NUM!|SPILL!|CALC!)")
_OFF_NOTE = re.compile(r"[^:@;]+(:\s*[1-3])?\s*(@[^:@;]+)?")
_QUANTITIES = ("amount", "label_dose", "doses", "size")
"""Columns of text that hold numbers with their units."""
_LARGEST_EXACT = 2**53
_SHOWN = 3


def read_column(
    series: Cells,
    column: Column,
    problems: Problems,
    *,
    comma: bool | None = None,
    heading: SourceColumn | None = None,
    density_g_per_ml: np.ndarray | None = None,
) -> tuple[np.ndarray, np.ndarray | None]:
    """Read one column: float64 with NaN for numbers, else an object array of text with None.

    Parameters
    ----------
    series : pandas.Series, or array of object
        Cells as given, a series of any dtype.
    column : Column
    problems : Problems
        Takes the cells that are refused, by position, and notes.
    comma : bool or None
        Whether the file writes decimal commas.
    heading : SourceColumn, optional
        Where the column comes from: cells are read in the heading's unit, and the numbers brought to the column's.
    density_g_per_ml : array, optional
        What the volumes of each row weigh, NaN where it is unknown.

    Returns
    -------
    values : array
    codes : array of int or None
        For text: the same number for the same text, 0 where missing.
    """
    if column.kind in ("number", "integer"):
        source = heading or SourceColumn(column.name)
        return read_numbers(series, column, problems, comma, source, density_g_per_ml), None
    if not isinstance(series, np.ndarray) and series.dtype.kind == "M":
        if column.kind == "time":
            return datetimes(series), None
        series = series.astype(object)
    return _each(series, column, problems, comma)


def _each(series: Cells, column: Column, problems: Problems, comma: bool | None) -> tuple[np.ndarray, np.ndarray]:
    """Read each distinct cell of a column of text once."""
    if not isinstance(series, np.ndarray) and column.kind in ("id", "text", "choice") and series.dtype.kind in "iufb":
        series = _from_numeric(series, column, problems)
    codes, unique = distinct(series)
    out = np.empty(len(unique) + 1, dtype=object)
    if column.kind == "id" and _all_tidy(unique):
        out[:-1] = unique
        same = np.append(np.arange(1, len(out), dtype=np.int64), 0)
    else:
        _read_distinct(out, unique, codes, column, problems, comma)
        same = factorized(out)[0].astype(np.int64) + 1
    filled = out[codes]
    if column.required:
        missing = np.flatnonzero(absent(filled))
        problems.refuse(missing, column.name, None, f"{column.name} is empty", "it is required")
    return filled, same[codes]


def _read_distinct(
    out: np.ndarray, unique: np.ndarray, codes: np.ndarray, column: Column, problems: Problems, comma: bool | None
) -> None:
    """Read distinct cells one by one into ``out``; what cannot be read is refused in all of its rows."""
    rows_of = RowsOf(codes)
    read = _reader(column, unique, rows_of, problems, comma)
    for i, cell in enumerate(unique):
        if column.kind == "id" and _is_plain(cell):
            out[i] = cell.strip() or None
            continue
        try:
            if too_long(cell):
                raise TableError(f"{column.name} is {LONG}", "write it as text, or leave it empty")
            out[i] = read(cell)
        except PairingError as error:
            problems.refuse(rows_of(i), column.name, cell, error.message, error.hint)
            out[i] = ""  # told apart from an empty cell, which is a second reason
    if column.kind == "amounts":
        _note_several(out[:-1], rows_of, column, problems)


def _note_several(cells: np.ndarray, rows_of: RowsOf, column: Column, problems: Problems) -> None:
    """Note names that may be several, by row; those that hold amounts are refused."""
    found = [(name, problems.numbers[rows_of(i)]) for i, cell in enumerate(cells) for name in several(cell)]
    for name, rows in found[:_SHOWN]:
        where = f"{'row' if len(rows) == 1 else 'rows'} {first_few(rows, _SHOWN)}"
        problems.note(f"{name!r} in {where} is kept as one name; if it is several, put ; between them", column.name)
    if len(found) > _SHOWN:
        problems.note(f"{len(found) - _SHOWN} more names with commas are kept as one name each", column.name)


_UNTIDY = re.compile(rf"[^ -~\n]|(?:^|\n)[ #\n]|[ \n](?:\n|$)|[^\n]{{{MAX_ID + 1}}}")
"""In ids joined by line ends: one that is empty, not plain ASCII, too long, with blanks around it, or starts with #."""


def _all_tidy(ids: np.ndarray) -> bool:
    """Tell whether every id of a column can be taken as it is, in one look at all of them."""
    try:
        joined = "\n".join(ids)
    except TypeError:
        return False
    return bool(joined) and joined.count("\n") == len(ids) - 1 and _UNTIDY.search(joined) is None


def _is_plain(cell: Any) -> bool:
    """Tell an id that needs no second look: most ids of a large log."""
    return type(cell) is str and cell.isascii() and cell.isprintable() and len(cell) <= MAX_ID and cell[:1] != "#"


_AS_TEXT = (
    "the ids came as numbers and are kept as text; if they had leading zeros, format the column as text and load again"
)


def _from_numeric(series: pd.Series, column: Column, problems: Problems) -> pd.Series:
    if column.kind == "id" and series.notna().any():
        problems.note(_AS_TEXT, column.name)
    return series.astype(object)


def _reader(
    column: Column, unique: np.ndarray, rows_of: RowsOf, problems: Problems, comma: bool | None
) -> Callable[[Any], str | None]:
    if column.kind == "time":
        return time_reader(unique, rows_of, column, problems)
    if column.kind == "id":
        return lambda cell: _id(cell, column, problems)
    if column.kind == "choice":
        return lambda cell: _choice(cell, column)
    if column.kind == "bytes":
        return lambda cell: read_picture(cell, column.name)
    return lambda cell: _text(cell, column, problems, comma)


def _plain_text(cell: Any, column: Column) -> str:
    """Return a cell as NFC text without control characters, a protecting apostrophe taken off."""
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    text = (
        unicodedata.normalize("NFC", str(written(cell))).replace("\r\n", "\n").replace("\r", "\n").replace("\ufeff", "")
    )
    text = text.strip()
    if _SHEET_ERROR.fullmatch(text):
        raise TableError(f"{column.name} is the spreadsheet error {text}", "repair the formula, or clear the cell")
    odd = [c for c in text if unicodedata.category(c) in ("Cc", "Cs") and c not in "\n\t"]
    if odd:
        raise TableError(f"{column.name} contains the control character U+{ord(odd[0]):04X}", "remove it")
    return text


def _id(cell: Any, column: Column, problems: Problems) -> str | None:
    if isinstance(cell, (dt.date, dt.time)):
        raise TableError(
            f"{column.name} is the date {cell}: the spreadsheet has turned an id into a date",
            "format the column as text and type the id again",
        )
    if isinstance(cell, (bool, np.bool_)):
        raise TableError(f"{column.name} is {cell}: an id is text", "format the column as text and type the id again")
    if isinstance(cell, (int, float, np.number)):
        if not float(cell).is_integer() or abs(int(cell)) >= _LARGEST_EXACT:
            raise TableError(f"{column.name} {cell!r} is a number whose text is lost", "format the column as text")
        problems.note(_AS_TEXT, column.name)
    text = _plain_text(cell, column)
    if odd := unseen(text):
        raise TableError(
            f"{column.name} {text!r} contains {_called(odd[0])}, which nobody sees",
            "remove it, here and where the id is referred to: two ids must not look alike",
        )
    return clean_id(text, column.name) if text else None


def _seen(name: str, problems: Problems) -> str | None:
    """Return a name without what nobody sees of it; joiners stay, which some scripts and pictures need."""
    if odd := "".join(c for c in dict.fromkeys(unseen(name)) if c not in JOINERS):
        what = first_few(map(_called, odd))
        problems.note(f"{what}, which nobody sees, is left out of {name!r}", "name", example=True)
    return name.translate(dict.fromkeys(map(ord, odd))).strip() or None


def _called(c: str) -> str:
    return f"U+{ord(c):04X} ({unicodedata.name(c, 'without a name').lower()})"


def _choice(cell: Any, column: Column) -> str | None:
    word = _plain_text(cell, column).casefold()
    if word in ("", "-", "–", "n/a"):
        return None
    if word not in column.choices:
        word = _CHOICE_WORDS.get(column.name, {}).get(_YES_NO.get(word, word), _YES_NO.get(word, word))
    word = word.replace("_", " ") if word.replace("_", " ") in column.choices else word
    return str(check(word, column))


def _text(cell: Any, column: Column, problems: Problems, comma: bool | None) -> str | None:
    given = _plain_text(cell, column) or None
    if given is not None and column.name == "name":
        given = _seen(given, problems)
    if given is None:
        return None
    text = restated(given, comma) if column.kind == "amounts" or column.name in _QUANTITIES else given
    if text != given:
        said = f"{given!r} is read as {text!r}, as commas are read in the numbers of this table"
        problems.note(said, column.name, example=True)
    if column.kind == "amounts":
        check(text, column)
    if column.name == "amount":
        parse_amount(text)
    if column.name == "off_notes":
        for part in filter(None, (p.strip() for p in text.split(";"))):
            if not _OFF_NOTE.fullmatch(part):
                raise TableError(
                    f"off_notes {part!r} is not understood", "write bitter:1 or bitter:2@aftertaste, 1 to 3"
                )
    return text
