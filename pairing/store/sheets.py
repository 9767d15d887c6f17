"""Workbooks: reading a sheet from a stranger safely, writing sheets that come back the same."""

from __future__ import annotations

import gc
import io
import re
import sys
import warnings
import zipfile
from collections.abc import Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from pairing.errors import PairingError, TableError
from pairing.store.headings import MAX_COLUMNS, MAX_TITLES, heading_row, note_titles
from pairing.store.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd
    from openpyxl.cell import Cell
    from openpyxl.workbook import Workbook

__all__ = ["read_sheet", "sheet_names", "write_workbook"]

MAX_UNPACKED_BYTES = 1 << 30
NO_BOMB_BYTES, MAX_RATIO = 1 << 26, 1000
"""What a file may unpack to whatever its size, and beyond that how many times its size (our choice)."""
MAX_SHEET_ROWS = 1_048_576
MAX_CELL_CHARACTERS = 32_767
MAX_CELLS = 50_000_000
"""Cells that are looked at in a sheet, empty ones with them (our choice): a million rows of fifty columns."""
_READS_AS_CODE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_WRITTEN_AS_CODE = re.compile(r"_x005F_(?=x[0-9A-Fa-f]{4}_)")
"""What a workbook reads as the code of a character, such as ``_x0041_``, and how such text is written instead."""
_ONLY_ZEROS = re.compile(r"0+")


def read_sheet(path: Path, table: str | None = None) -> pd.DataFrame:
    """Read one sheet of a workbook: the one named like the table, else the first with cells.

    Formulas count with the value that the spreadsheet stored; one that was never calculated is refused with its row.
    """
    import pandas as pd

    with _opened(path, values=False) as book:
        sheet = _choose(book, path, table)
        notes = []
        if len(book.sheetnames) > 1 and sheet.title != table:
            notes.append(Note(f"sheet {sheet.title!r} is read", path.name))
        rows, formulas = _values(sheet, path)
        if formulas:
            notes.append(Note("formulas count with their stored value", path.name))
            stored = _stored_values(path, sheet.title, formulas)
            for row, column in formulas:
                rows[row][column] = stored.get((row, column), "#VALUE!")
        epoch = book.epoch
    filled = [i for i, row in enumerate(rows) if any(v not in (None, "") for v in row)][:MAX_TITLES]
    if not filled:
        raise TableError(f"{path.name} is empty", "the first row must name the columns")
    at = heading_row([rows[i] for i in filled])
    note_titles([rows[i] for i in filled[:at]], path.name, notes)
    start = filled[at]
    heading = ["" if v is None else str(v).strip() for v in rows[start]]
    width = max(_filled(row) for row in rows[start:])
    heading = [*heading, *[""] * width][:width]
    body = [[*row, *[None] * width][:width] for row in rows[start + 1 :]]
    index = range(start + 2, start + 2 + len(body))
    frame = pd.DataFrame(body, columns=pd.Index(heading, dtype=object), index=index, dtype=object)
    frame.attrs.update(notes=notes, epoch=epoch)
    return frame


def _filled(row: list[Any]) -> int:
    """Return how many cells there are up to the last one that is filled."""
    return next((n for n in range(len(row), 0, -1) if row[n - 1] not in (None, "")), 0)


def sheet_names(path: Path) -> list[str]:
    """Return the names of a workbook's sheets."""
    with _opened(path, values=True) as book:
        return list(book.sheetnames)


@contextmanager
def _opened(path: Path, *, values: bool) -> Iterator[Workbook]:
    """Open a workbook for reading; whatever a damaged one makes its reader raise is said as a fault of the file."""
    try:
        with path.open("rb") as file, warnings.catch_warnings(), closing(_open(file, path, values=values)) as book:
            warnings.simplefilter("ignore")  # of what is left aside, such as drawings
            yield book
    except (PairingError, OSError):
        raise
    except Exception as error:  # its parts are read late, by libraries that raise whatever they come upon
        raise TableError(f"{path.name} cannot be read as a workbook: {error}", "save it again as .xlsx") from error


def _open(file: BinaryIO, path: Path, *, values: bool) -> Workbook:
    import openpyxl
    from defusedxml.common import DefusedXmlException
    from openpyxl.utils.exceptions import InvalidFileException

    if not openpyxl.DEFUSEDXML:
        raise TableError(f"{path.name} is not opened: defusedxml is switched off", "unset OPENPYXL_DEFUSEDXML")
    try:
        with zipfile.ZipFile(file) as archive:
            infos = archive.infolist()
        unpacked = sum(i.file_size for i in infos)
        packed = max(1, sum(i.compress_size for i in infos))
        if unpacked > MAX_UNPACKED_BYTES or (unpacked > NO_BOMB_BYTES and unpacked / packed > MAX_RATIO):
            raise TableError(f"{path.name} unpacks to {unpacked / 1e6:.0f} MB", "export the sheet as CSV")
        return openpyxl.load_workbook(file, read_only=True, data_only=values)
    except DefusedXmlException as error:
        raise TableError(f"{path.name} contains forbidden XML: {error}", "export the sheet as CSV") from error
    except (zipfile.BadZipFile, InvalidFileException, KeyError) as error:
        raise TableError(f"{path.name} is no workbook: {error}", "save it again as .xlsx, or as CSV") from error


def _choose(book: Workbook, path: Path, table: str | None) -> Any:
    wanted = {name.casefold(): name for name in book.sheetnames}
    if table and table.casefold() in wanted:
        return book[wanted[table.casefold()]]
    for name in book.sheetnames:
        sheet = book[name]
        if hasattr(sheet, "iter_rows") and any(c.value is not None for _, row in _rows(sheet, path) for c in row):
            return sheet
    raise TableError(f"{path.name} has no sheet with cells", "the first row must name the columns")


def _rows(sheet: Any, path: Path) -> Iterator[tuple[int, Sequence[Cell]]]:
    """Yield the rows of a sheet with their places, one pass over at most so many cells.

    A file of a few kB can hold a cell in the last of 16,384 columns of each row, or in a row of any number.
    """
    sheet.reset_dimensions()  # some programs write wrong ones, and cells would be lost
    seen = 0
    for place, row in enumerate(sheet.iter_rows()):
        seen += len(row)
        if place >= MAX_SHEET_ROWS or seen > MAX_CELLS:
            raise TableError(
                f"{path.name}: sheet {sheet.title!r} reaches to row {place + 1} and over {seen} cells, "
                f"at most {MAX_SHEET_ROWS} rows and {MAX_CELLS} cells are read",
                "delete the rows and columns around the table, or save the sheet as CSV",
            )
        yield place, row


def _values(sheet: Any, path: Path) -> tuple[list[list[Any]], list[tuple[int, int]]]:
    """Return the values of every row, up to its last filled cell, and the places of formulas."""
    rows: list[list[Any]] = []
    formulas: list[tuple[int, int]] = []
    for place, row in _rows(sheet, path):
        filled = next((n for n in range(len(row), 0, -1) if row[n - 1].value not in (None, "")), 0)
        if filled > MAX_COLUMNS:
            raise TableError(
                f"{path.name}: a cell in row {place + 1} of sheet {sheet.title!r} stands in column {filled}, "
                f"at most {MAX_COLUMNS} are read",
                "move it beside the table, or delete it",
            )
        rows.append([_value(cell) for cell in row[:filled]])
        formulas += [(place, column) for column, cell in enumerate(row[:filled]) if _is_formula(cell)]
    return rows, formulas


def _is_formula(cell: Cell) -> bool:
    return getattr(cell, "data_type", None) == "f"


def _stored_values(path: Path, title: str, wanted: Sequence[tuple[int, int]]) -> dict[tuple[int, int], Any]:
    """Return what the spreadsheet stored for some cells, where it did."""
    columns: dict[int, list[int]] = {}
    for row, column in wanted:
        columns.setdefault(row, []).append(column)
    with _opened(path, values=True) as book:
        return {
            (place, column): row[column].value
            for place, row in _rows(book[title], path)
            for column in columns.get(place, ())
            if column < len(row) and row[column].value is not None
        }


def _value(cell: Cell) -> Any:
    """Return a cell's value; numbers shown with leading zeros or as per cent as shown."""
    value = cell.value
    if isinstance(value, int) and not isinstance(value, bool):
        shown = cell.number_format or ""
        if _ONLY_ZEROS.fullmatch(shown) and len(shown) > 1:
            return str(value).zfill(len(shown))
    if isinstance(value, (int, float)) and not isinstance(value, bool) and (cell.number_format or "").endswith("%"):
        return f"{100 * value:.12g} %"
    return _WRITTEN_AS_CODE.sub("_", value) if isinstance(value, str) and "_x005F_" in value else value


def write_workbook(tables: Mapping[str, Sequence[Sequence[str]]]) -> bytes:
    """Make a workbook with one sheet per table, every cell as text, the same bytes for the same cells.

    Text stays text: ids keep their leading zeros, and nothing is run as a formula.
    """
    try:
        return _without_times(_written(tables))
    except OSError as error:
        failed = OSError(error.errno, error.strerror)
        # What was begun is cleared away now, not later beside the error: openpyxl would complain of its closed files.
        before, sys.unraisablehook = sys.unraisablehook, lambda _: None
    gc.collect()
    sys.unraisablehook = before
    raise failed


def _written(tables: Mapping[str, Sequence[Sequence[str]]]) -> bytes:
    import openpyxl
    from openpyxl.cell import WriteOnlyCell

    book = openpyxl.Workbook(write_only=True)
    for name, rows in tables.items():
        if len(rows) > MAX_SHEET_ROWS:
            raise TableError(
                f"{name} has {len(rows)} rows, a sheet holds {MAX_SHEET_ROWS}", "export to a folder of CSV files"
            )
        sheet = book.create_sheet(name)
        for row in rows:
            cells = []
            for text in row:
                if len(text) > MAX_CELL_CHARACTERS:
                    raise TableError(
                        f"{name} has a text of {len(text)} characters, a cell holds {MAX_CELL_CHARACTERS}",
                        "export to a folder of CSV files",
                    )
                cell = WriteOnlyCell(sheet)
                if text:
                    cell.value = _READS_AS_CODE.sub("_x005F_", text)
                    cell.data_type, cell.number_format = "s", "@"
                cells.append(cell)
            sheet.append(cells)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _without_times(content: bytes) -> bytes:
    """Return the same workbook without the times at which it was written."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            body = old.read(name)
            if name == "docProps/core.xml":
                body = re.sub(rb"(<dcterms:\w+[^>]*>)[^<]*(</dcterms)", rb"\g<1>2000-01-01T00:00:00Z\g<2>", body)
            info = zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0))
            info.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(info, body)
    return out.getvalue()
