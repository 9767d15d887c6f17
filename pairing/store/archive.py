"""All tables out, such that all tables in gives the same bytes again."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.errors import StoreError
from pairing.model.columns import TABLES
from pairing.store import ledger
from pairing.store.headings import STAMPS

if TYPE_CHECKING:
    from pairing.store.database import Transaction

__all__ = ["export", "guarded", "rows_as_text"]

_RISKY = re.compile(r"'*[=+\-@\t]")


def guarded(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet would run as a formula; reading takes it off again.

    Examples
    --------
    >>> guarded("=1+1"), guarded("plum")
    ("'=1+1", 'plum')
    """
    return "'" + text if _RISKY.match(text) else text


def _number(value: float) -> str:
    return "" if value != value else f"{value:.17g}" if float(f"{value:.15g}") != value else f"{value:.15g}"  # noqa: PLR0124


def rows_as_text(tx: Transaction, table: str) -> list[list[str]]:
    """Return heading and rows of a table as they are exported, with revision, time and author."""
    frame = ledger.current(tx, table)
    done = {r.revision: r for r in ledger.revisions(tx)}
    columns: list[list[str]] = []
    for column in TABLES[table].columns:
        cells: list[Any] = frame[column.name].tolist()
        if column.kind in ("number", "integer"):
            columns.append([_number(c) for c in cells])
        else:
            columns.append(["" if c is None else guarded(c) for c in cells])
    stamps = [done[r] for r in frame["revision"]]
    columns += [[str(s.revision) for s in stamps], [s.at for s in stamps], [guarded(s.author) for s in stamps]]
    heading = [*TABLES[table].names, *STAMPS]
    return [heading, *map(list, zip(*columns, strict=True))]


def export(tx: Transaction, target: Path, tables: Sequence[str]) -> Path:
    """Write tables to a folder of CSV files, or to a workbook."""
    if target.suffix.casefold() == ".xlsx":
        from pairing.store.sheets import write_workbook

        content = write_workbook({name: rows_as_text(tx, name) for name in tables})
        _replace(target, content)
        return target
    if target.suffix and not target.is_dir():
        raise StoreError(f"{target.name} is no kind of export", "name a folder, or a file that ends in .xlsx")
    for name in tables:
        buffer = io.StringIO(newline="")
        csv.writer(buffer, lineterminator="\n").writerows(rows_as_text(tx, name))
        _replace(target / f"{name}.csv", buffer.getvalue().encode())
    return target


def _replace(path: Path, content: bytes) -> None:
    """Write a file whole: a failure half-way leaves the old one."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        temporary = path.with_name(f".{path.name}.{os.getpid()}")
        temporary.write_bytes(content)
        temporary.replace(path)
    except OSError as error:
        raise StoreError(f"{path} cannot be written: {error.strerror}", "choose another place") from error
