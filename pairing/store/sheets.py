"""Workbooks: reading a sheet from a stranger safely, writing sheets that come back the same."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.errors import TableError
from pairing.store.headings import MAX_TITLES, heading_row, note_titles
from pairing.store.notes import Note

if TYPE_CHECKING:
    import pandas as pd
    from openpyxl.cell import Cell
    from openpyxl.workbook import Workbook

__all__ = ["read_sheet", "sheet_names", "write_workbook"]

MAX_UNPACKED_BYTES = 1 << 30
MAX_RATIO = 1000
MAX_SHEET_ROWS = 1_048_576
MAX_CELL_CHARACTERS = 32_767
_READS_AS_CODE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_WRITTEN_AS_CODE = re.compile(r"_x005F_(?=x[0-9A-Fa-f]{4}_)")
"""What a workbook reads as the code of a character, such as ``_x0041_``, and how such text is written instead."""
_ONLY_ZEROS = re.compile(r"0+")


def read_sheet(path: Path, table: str | None = None) -> pd.DataFrame:
    """Read one sheet of a workbook: the one named like the table, else the first with cells.

    Formulas count with the value that the spreadsheet stored; one that was never calculated is refused with its row.
    """
    import pandas as pd

    book = _open(path, values=False)
    try:
        sheet = _choose(book, path, table)
        notes = []
        if len(book.sheetnames) > 1 and sheet.title != table:
            notes.append(Note(f"sheet {sheet.title!r} is read", path.name))
        sheet.reset_dimensions()  # some programs write wrong ones, and cells would be lost
        cells = [list(row) for row in sheet.iter_rows()]
        if any(_is_formula(cell) for row in cells for cell in row):
            notes.append(Note("formulas count with their stored value", path.name))
            stored = _stored_values(path, sheet.title)
        else:
            stored = {}
        rows = [[_value(cell, stored) for cell in row] for row in cells]
        epoch = book.epoch
    except (KeyError, ValueError, TypeError, AttributeError, zipfile.BadZipFile) as error:
        raise TableError(f"{path.name} cannot be read as a workbook: {error}", "save it again as .xlsx") from error
    finally:
        book.close()
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
    book = _open(path, values=True)
    try:
        return list(book.sheetnames)
    finally:
        book.close()


def _open(path: Path, *, values: bool) -> Workbook:
    import openpyxl
    from defusedxml.common import DefusedXmlException
    from openpyxl.utils.exceptions import InvalidFileException

    if not openpyxl.DEFUSEDXML:
        raise TableError(f"{path.name} is not opened: defusedxml is switched off", "unset OPENPYXL_DEFUSEDXML")
    try:
        with zipfile.ZipFile(path) as archive:
            infos = archive.infolist()
        unpacked = sum(i.file_size for i in infos)
        packed = max(1, sum(i.compress_size for i in infos))
        if unpacked > MAX_UNPACKED_BYTES or (unpacked > 1 << 26 and unpacked / packed > MAX_RATIO):
            raise TableError(f"{path.name} unpacks to {unpacked / 1e6:.0f} MB", "export the sheet as CSV")
        return openpyxl.load_workbook(path, read_only=True, data_only=values)
    except DefusedXmlException as error:
        raise TableError(f"{path.name} contains forbidden XML: {error}", "export the sheet as CSV") from error
    except (zipfile.BadZipFile, InvalidFileException, KeyError, ValueError, SyntaxError) as error:
        raise TableError(f"{path.name} is no workbook: {error}", "save it again as .xlsx, or as CSV") from error


def _choose(book: Workbook, path: Path, table: str | None) -> Any:
    wanted = {name.casefold(): name for name in book.sheetnames}
    if table and table.casefold() in wanted:
        return book[wanted[table.casefold()]]
    for name in book.sheetnames:
        sheet = book[name]
        if hasattr(sheet, "iter_rows") and any(c is not None for row in sheet.iter_rows(values_only=True) for c in row):
            return sheet
    raise TableError(f"{path.name} has no sheet with cells", "the first row must name the columns")


def _is_formula(cell: Cell) -> bool:
    return getattr(cell, "data_type", None) == "f"


def _stored_values(path: Path, title: str) -> dict[tuple[int, int], Any]:
    book = _open(path, values=True)
    try:
        return {
            (cell.row, cell.column): cell.value
            for row in book[title].iter_rows()
            for cell in row
            if cell.value is not None
        }
    finally:
        book.close()


def _value(cell: Cell, stored: dict[tuple[int, int], Any]) -> Any:
    """Return a cell's value; numbers shown with leading zeros or as per cent as shown; a bare formula as an error."""
    value = cell.value
    if _is_formula(cell):
        return stored.get((cell.row, cell.column), "#VALUE!")
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
    return _without_times(buffer.getvalue())


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
