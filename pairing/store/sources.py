"""Reading tables as they come: CSV and its relatives, XLSX, Parquet, DataFrames. Cells stay as they are written."""

from __future__ import annotations

import codecs
import csv
import io
import re
import warnings
from collections.abc import Callable, Mapping
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import TableError, nearest
from pairing.store.formulas import unguarded
from pairing.store.headings import MAX_COLUMNS, MAX_TITLES, heading_row, note_titles
from pairing.store.notes import Note
from pairing.store.raw import is_blank, objects
from pairing.store.sheets import MAX_RATIO, NO_BOMB_BYTES, read_sheet

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["read"]

_HEAD = 1 << 20
_NARROW = 4
_DELIMITERS = ("\t", ";", "|", ",")


def read(source: Any, table: str | None = None) -> pd.DataFrame:
    """Read a table without interpreting its cells.

    Parameters
    ----------
    source : DataFrame, path, or mapping or list of records
        ``.csv``, ``.tsv``, ``.txt``, ``.xlsx`` or ``.parquet``; delimiter and encoding are found out.
    table : str, optional
        Which sheet of a workbook to prefer.

    Returns
    -------
    pandas.DataFrame
        Its index holds row numbers as a spreadsheet shows them (the heading is row 1); a DataFrame keeps its own.

    Raises
    ------
    TableError
        When there is no such file, or it cannot be read as a table.
    """
    import pandas as pd

    if isinstance(source, pd.DataFrame):
        return source if source.columns.is_unique else _named(source.copy())
    if isinstance(source, (Mapping, list)):
        try:
            return pd.DataFrame(source)
        except (ValueError, TypeError) as error:
            raise TableError(f"that is no table: {error}", "give a list of rows, or columns of one length") from None
    if not isinstance(source, (str, Path)):
        raise TableError(f"a {type(source).__name__} is no table", "give a path or a DataFrame")
    path = Path(source)
    if not path.exists():
        siblings = [p.name for p in path.parent.glob("*") if p.suffix.casefold() in _READERS]
        raise TableError(f"there is no file {path}", nearest(path.name, siblings))
    if path.is_dir():
        raise TableError(f"{path} is a folder, not a table", "name the file")
    reader = _READERS.get(path.suffix.casefold())
    if reader is None:
        raise TableError(f"{path.name} is no table that can be read", f"use one of: {', '.join(_READERS)}")
    try:
        frame = reader(path, table)
    except OSError as error:
        raise TableError(f"{path} cannot be read: {error}", "check that it exists, is whole and may be read") from error
    if path.suffix.casefold() != ".parquet":
        frame = _without_guards(frame)
    frame.attrs["from_file"] = True
    return frame


def _without_guards(frame: pd.DataFrame) -> pd.DataFrame:
    """Take off the apostrophes that keep a spreadsheet from running a text as a formula."""
    for i in range(frame.shape[1]):
        cells = objects(frame.iloc[:, i])
        marked = [n for n, cell in enumerate(cells) if type(cell) is str and cell[:1] == "'"]
        if marked:
            cells = cells.copy()
            cells[marked] = [unguarded(cell) for cell in cells[marked]]
            frame = frame.assign(**{str(frame.columns[i]): cells})
    return frame


def _encoding(path: Path, notes: list[Note]) -> str:
    with path.open("rb") as file:
        head = file.read(_HEAD)
    if len(head) == _HEAD and b"\n" not in head and b"\r" not in head:
        raise TableError(f"the first line of {path.name} has more than {_HEAD:,} bytes", "it has to name the columns")
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if head.startswith((b"PK\x03\x04", b"%PDF", b"\xd0\xcf\x11\xe0", b"PAR1")) or b"\x00" in head:
        raise TableError(f"{path.name} is not a text file", "export it as CSV, or give it its right file ending")
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        with path.open("rb") as file:
            while block := file.read(_HEAD):
                decoder.decode(block)
            decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        notes.append(Note(f"{path.name} is not UTF-8 and is read as Windows-1252: check accented letters"))
        return "cp1252"
    return "utf-8"


def _heading_line(path: Path, encoding: str, notes: list[Note]) -> tuple[int, str]:
    """Find the line that names the columns, past any titles: how many lines stand before it, and its delimiter."""
    declared = None
    found: list[tuple[int, str, list[str]]] = []
    with path.open(encoding=encoding, newline="", errors="replace") as file:
        for number, line in enumerate(file):
            if number == 0 and line.casefold().startswith("sep=") and len(line.strip()) <= 5:
                declared = line[4:5].strip("\r\n") or None
            elif line.strip(" \r\n\t;,|"):
                delimiter = declared or _delimiter(line)
                found.append((number, delimiter, [cell.strip(' "\r\n') for cell in line.split(delimiter)]))
                if len(found) == MAX_TITLES:
                    break
    if not found:
        raise TableError(f"{path.name} is empty", "the first line must name the columns")
    at = heading_row([cells for _, _, cells in found])
    note_titles([cells for _, _, cells in found[:at]], path.name, notes)
    return found[at][:2]


def _check_width(path: Path, encoding: str, before: int, delimiter: str) -> None:
    """Refuse a table that is far too wide, before it takes memory by the row."""
    with path.open(encoding=encoding, newline="", errors="replace") as file:
        heading = next(islice(file, before, None))
    _refuse_if_wide(path, heading.count(delimiter) + 1)


def _refuse_if_wide(path: Path, columns: int) -> None:
    if columns > MAX_COLUMNS:
        raise TableError(
            f"{path.name} has {columns} columns, at most {MAX_COLUMNS} are read",
            "leave out those that are not of the table; one row per reading, not one column",
        )


def _delimiter(line: str) -> str:
    bare = "".join(part for i, part in enumerate(line.split('"')) if i % 2 == 0)
    return max(_DELIMITERS, key=lambda d: (bare.count(d), d == ","))


def _read_text(path: Path, table: str | None) -> pd.DataFrame:
    notes: list[Note] = []
    encoding = _encoding(path, notes)
    before, delimiter = _heading_line(path, encoding, notes)
    _check_width(path, encoding, before, delimiter)
    frame = _fast(path, encoding, before, delimiter)
    ragged: list[dict[str, Any]] = []
    if frame is None:
        frame, ragged = _careful(path, encoding, before, delimiter)
    frame.index = frame.index + before + 2
    if _line_ends(path) > len(frame) + len(ragged) + before + 1:
        frame, swallowed = _without_swallowed(frame, delimiter)
        ragged = [*ragged, *swallowed]
    frame.attrs.update(notes=notes, ragged=ragged, decimal_comma=True if delimiter == ";" else None)
    return frame


def _fast(path: Path, encoding: str, before: int, delimiter: str) -> pd.DataFrame | None:
    """Read a file whose rows all have as many cells as its heading; None when they have not."""
    import pandas as pd

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.ParserWarning)
            frame = pd.read_csv(
                path, sep=delimiter, encoding=encoding, skiprows=before, header=None, dtype=str,
                keep_default_na=False, skip_blank_lines=False, index_col=False,
            )  # fmt: skip
    except (pd.errors.ParserError, pd.errors.ParserWarning, pd.errors.EmptyDataError, UnicodeDecodeError):
        return None
    heading = [str(h).strip().removeprefix("\ufeff") for h in frame.iloc[0].fillna("")]
    body = frame.iloc[1:].reset_index(drop=True)
    body.columns = pd.Index(heading, dtype=object)
    return _named(body)


def _named(frame: pd.DataFrame) -> pd.DataFrame:
    """Rename headings that are empty or taken, so that no column is lost; columns without anything are left out."""
    import pandas as pd

    seen: dict[str, int] = {}
    names, kept = [], []
    for i, name in enumerate(map(str, frame.columns)):
        if not name and is_blank(objects(frame.iloc[:, i])).all():
            continue
        label = name or f"column {i + 1}"
        seen[label] = seen.get(label, 0) + 1
        names.append(label if seen[label] == 1 else f"{label} ({seen[label]})")
        kept.append(i)
    if len(kept) < frame.shape[1]:
        frame = frame.iloc[:, kept].copy()
    frame.columns = pd.Index(names, dtype=object)
    return frame


def _careful(path: Path, encoding: str, before: int, delimiter: str) -> tuple[pd.DataFrame, list[dict[str, Any]]]:
    """Read row by row; rows with more cells than the heading are handed back."""
    import pandas as pd

    rows, index, ragged = [], [], []
    with path.open(encoding=encoding, newline="", errors="replace") as file:
        for _ in range(before):
            next(file, None)
        limit = csv.field_size_limit(1 << 24)
        try:
            lines = csv.reader(file, delimiter=delimiter)
            heading = [h.strip() for h in next(lines, [])]
            for number, cells in enumerate(lines):
                if len(cells) > len(heading):
                    ragged.append(_too_many(number + before + 2, cells, heading, delimiter))
                else:
                    rows.append(cells + [""] * (len(heading) - len(cells)))
                    index.append(number)
        except csv.Error as error:
            raise TableError(f"{path.name} cannot be read as a table: {error}", "save it again as CSV") from error
        finally:
            csv.field_size_limit(limit)
    frame = pd.DataFrame(rows, columns=pd.Index(heading, dtype=object), index=index, dtype=object)
    return _named(frame), ragged


def _line_ends(path: Path) -> int:
    with path.open("rb") as file:
        return sum(block.count(b"\n") for block in iter(lambda: file.read(_HEAD), b""))


def _without_swallowed(frame: pd.DataFrame, delimiter: str) -> tuple[pd.DataFrame, list[dict[str, Any]]]:
    """Hand back rows in which a quote that is not closed has made one cell of the rows below.

    Such a cell has a line below its first that looks like a row. In a narrow table a line of a note may look like one,
    too: there the cell also shows that its quotes are not in pairs, or that it ends where the file does.
    """
    narrow = frame.shape[1] < _NARROW
    found: dict[int, dict[str, Any]] = {}
    for i in range(frame.shape[1]):
        for n, cell in enumerate(objects(frame.iloc[:, i])):
            if not isinstance(cell, str) or "\n" not in cell or n in found:
                continue
            torn = cell.count('"') % 2 == 1 or cell.endswith("\n")
            if (torn or not narrow) and _has_a_row(cell, delimiter, frame.shape[1]):
                below = len(cell.strip().splitlines()) - 1
                found[n] = {
                    "row": frame.index[n],
                    "column": str(frame.columns[i]),
                    "value": cell,
                    "reason": f"a quote is opened and not closed: the cell has taken in {below} line"
                    f"{'' if below == 1 else 's'} below it",
                    "remedy": "take the quote out, or close it, and load the file again; within quotes write it twice",
                }
    kept = np.ones(len(frame), dtype=bool)
    kept[list(found)] = False
    return (frame[kept] if found else frame), [found[n] for n in sorted(found)]


def _has_a_row(cell: str, delimiter: str, columns: int) -> bool:
    """Tell whether a line of a cell, below its first, has an id and as many delimiters as the heading.

    Those of a sentence, before a blank, do not count.
    """
    between = re.compile(re.escape(delimiter) + "(?! )")
    for line in cell.splitlines()[1:]:
        first = line.partition(delimiter)[0]
        if first and not re.search(r"\s", first) and len(between.findall(line)) >= max(columns - 1, 1):
            return True
    return False


def _too_many(number: int, cells: list[str], heading: list[str], delimiter: str) -> dict[str, Any]:
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=delimiter, lineterminator="").writerow(cells)
    return {
        "row": number,
        "column": "",
        "value": buffer.getvalue(),
        "reason": f"the row has {len(cells)} cells, the heading has {len(heading)}",
        "remedy": "put cells that contain the delimiter (such as 1,5) in quotes; end no row with the delimiter",
    }


def _read_workbook(path: Path, table: str | None) -> pd.DataFrame:
    return _named(read_sheet(path, table))


def _read_parquet(path: Path, table: str | None) -> pd.DataFrame:
    try:
        from pyarrow import Table, parquet, types  # type: ignore[import-untyped, unused-ignore]
    except ImportError:
        raise TableError(f"{path.name} needs pyarrow", "pip install pyarrow, or export CSV") from None
    try:
        with parquet.ParquetFile(path) as file:
            schema, batches, size = file.schema_arrow, [], 0
            if nested := [field.name for field in schema if types.is_nested(field.type)]:
                raise TableError(
                    f"{path.name}: a cell of column {nested[0]!r} holds several values",
                    "write one value, or text, per cell",
                )
            _refuse_if_wide(path, len(schema))
            for batch in file.iter_batches(batch_size=4096):  # what is there once may stand in millions of rows
                batches.append(batch)
                size += sum((c.dictionary_decode() if types.is_dictionary(c.type) else c).nbytes for c in batch.columns)
                if size > max(NO_BOMB_BYTES, MAX_RATIO * path.stat().st_size):
                    raise TableError(f"{path.name} unpacks to more than {size / 1e6:.0f} MB", "export it as CSV")
        read = Table.from_batches(batches, schema)
        read.validate(full=True)  # else what is no text is come upon late
        found: pd.DataFrame = read.to_pandas()
        return found
    except (TableError, OSError):
        raise
    except Exception as error:  # a damaged file makes its reader raise whatever it comes upon
        raise TableError(f"{path.name} is no readable Parquet file: {error}", "write it again") from error


_READERS: dict[str, Callable[[Path, str | None], pd.DataFrame]] = {
    ".csv": _read_text,
    ".tsv": _read_text,
    ".txt": _read_text,
    ".tab": _read_text,
    ".xlsx": _read_workbook,
    ".xlsm": _read_workbook,
    ".parquet": _read_parquet,
}
