"""All tables out, such that all tables in gives the same bytes again, the past included."""

from __future__ import annotations

import csv
import io
import itertools
import os
from collections.abc import Callable, Sequence
from dataclasses import fields
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import StoreError, TableError
from pairing.model.columns import TABLES
from pairing.store import ledger
from pairing.store.cells import read_column
from pairing.store.formulas import guarded
from pairing.store.headings import STAMPS
from pairing.store.problems import Problems
from pairing.store.sheets import sheet_names, write_workbook
from pairing.store.sources import read

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["Past", "as_text", "export", "past_in", "restore_replaced", "restore_revisions", "rows_as_text", "tables_in"]

PAST = "revisions"
_BEFORE = "{} before"
_WITHOUT = "leave it away to load the tables alone"
_REVISION = [f.name for f in fields(ledger.Revision)]
Past = dict[str, Any]
"""Sheets or files with revisions and with what rows were before, by name."""


def as_text(cell: Any) -> str:
    """Write one cell as it is exported."""
    if cell is None:
        return ""
    if isinstance(cell, float):
        return "" if isnan(cell) else repr(cell).removesuffix(".0")
    return guarded(cell) if isinstance(cell, str) else str(cell)


def rows_as_text(tx: Transaction, table: str, *, before: bool = False) -> list[list[str]]:
    """Return heading and rows of a table as they are exported, with revision, time and author.

    Parameters
    ----------
    before : bool
        Instead of the rows that count now, those that they replaced, with ``gone``.
    """
    if before:
        newest = ledger.latest(tx, table)
        counts = set(zip(newest["row_key"][newest["gone"] == 0], newest["revision"][newest["gone"] == 0], strict=True))
        frame = ledger.versions(tx, table)
        kept = [pair not in counts for pair in zip(frame["row_key"], frame["revision"], strict=True)]
        frame = frame[np.array(kept, dtype=bool)]
    else:
        frame = ledger.current(tx, table)
    done = {r.revision: r for r in ledger.revisions(tx)}
    stamps = [done[r] for r in frame["revision"]]
    columns = [[as_text(cell) for cell in frame[name].tolist()] for name in TABLES[table].names]
    columns += [[str(s.revision) for s in stamps], [s.at for s in stamps], [as_text(s.author) for s in stamps]]
    heading = [*TABLES[table].names, *STAMPS]
    if before:
        heading.append("gone")
        columns.append([str(g) for g in frame["gone"]])
    return [heading, *map(list, zip(*columns, strict=True))]


def export(tx: Transaction, target: Path, tables: Sequence[str]) -> Path:
    """Write tables to a folder of CSV files, or to a workbook; all of them with their past.

    Raises
    ------
    StoreError
        When a file is in the way that is no earlier export: it stays as it is.
    """
    parts: dict[str, list[list[str]]] = {name: rows_as_text(tx, name) for name in tables}
    if set(tables) == set(TABLES):
        parts[PAST] = [_REVISION, *([as_text(getattr(r, n)) for n in _REVISION] for r in ledger.revisions(tx))]
        for name in tables:
            rows = rows_as_text(tx, name, before=True)
            if len(rows) > 1:
                parts[_BEFORE.format(name)] = rows
    if target.suffix.casefold() == ".xlsx":
        _leave_others(target)
        _replace(target, write_workbook(parts))
        return target
    if target.suffix and not target.is_dir():
        raise StoreError(f"{target.name} is no kind of export", "name a folder, or a file that ends in .xlsx")
    for name in parts:
        _leave_others(target / f"{name}.csv")
    for name, rows in parts.items():
        buffer = io.StringIO(newline="")
        csv.writer(buffer, lineterminator="\n").writerows(rows)
        _replace(target / f"{name}.csv", buffer.getvalue().encode())
    for name in {_BEFORE.format(t) for t in tables} - set(parts):
        (target / f"{name}.csv").unlink(missing_ok=True)
    return target


def _leave_others(path: Path) -> None:
    """Refuse to write over a file that no export has made: the tables of one have the column ``revision``."""
    if not path.exists() or not path.stat().st_size:
        return
    try:
        mine = STAMPS[0] in read(path).columns
    except TableError:
        mine = False
    if not mine:
        raise StoreError(f"{path} is no earlier export: it stays as it is", "choose another folder or file name")


def _replace(path: Path, content: bytes) -> None:
    """Write a file whole: a failure half-way leaves the old one."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        temporary = path.with_name(f".{path.name}.{os.getpid()}")
        temporary.write_bytes(content)
        temporary.replace(path)
    except OSError as error:
        raise StoreError(f"{path} cannot be written: {error.strerror}", "choose another place") from error


def _parts_in(source: Path, names: Sequence[str]) -> dict[str, Callable[[], pd.DataFrame]]:
    """Find the named parts of an exported folder or workbook."""
    if source.is_dir():
        paths = {name: source / f"{name}.csv" for name in names}
        return {name: lambda p=path: read(p) for name, path in paths.items() if path.is_file()}  # type: ignore[misc]
    if source.suffix.casefold() in (".xlsx", ".xlsm") and source.is_file():
        there = sheet_names(source)
        return {name: lambda n=name: read(source, n) for name in names if name in there}  # type: ignore[misc]
    raise TableError(
        f"{source} is no folder or workbook with tables",
        "name the table of each file: --readings FILE (readings=… in Python)",
    )


def tables_in(source: str | Path) -> dict[str, pd.DataFrame]:
    """Read the tables of an exported folder or workbook, by name."""
    found = {name: get() for name, get in _parts_in(Path(source), list(TABLES)).items()}
    if not found:
        raise TableError(f"{source} has no tables of a bench", f"name them: {', '.join(TABLES)}")
    return found


def past_in(source: str | Path) -> Past:
    """Read revisions and replaced rows of an export; empty when it has none."""
    names = [PAST, *(_BEFORE.format(name) for name in TABLES)]
    found = {name: get() for name, get in _parts_in(Path(source), names).items()}
    return found if PAST in found else {}


def restore_revisions(tx: Transaction, past: Past) -> None:
    """Put the revisions of an export into an empty bench.

    Raises
    ------
    TableError
        When they are not as they were exported.
    """
    rows = past[PAST].astype(object).where(past[PAST].notna(), "").to_dict("records")
    try:
        done: list[dict[str, Any]] = [{name: str(row[name]) or None for name in _REVISION} for row in rows]
        for row in done:
            row |= {name: row[name] and int(row[name]) for name in ("revision", "undoes")}
    except (KeyError, ValueError) as error:
        raise TableError(f"{PAST} is not as it was exported: {error}", _WITHOUT) from None
    if done:
        tx.execute(tx.table("revisions").insert(), done)
        meta = tx.table("meta")
        top = max(row["revision"] for row in done)
        tx.execute(meta.update().where(meta.c.name == "revision").values(value=top))


def restore_replaced(tx: Transaction, past: Past) -> None:
    """Put what rows were before behind the rows that count now."""
    for name in TABLES:
        if (before := past.get(_BEFORE.format(name))) is not None:
            frame = _replaced_rows(name, before)
            now = ledger.latest(tx, name)
            places = dict(zip(now["row_key"], now["place"], strict=True))
            fresh = itertools.count(max(places.values(), default=-1) + 1)
            frame["row_key"] = ledger.row_keys(TABLES[name], frame)
            for key in frame["row_key"]:
                places.setdefault(key, next(fresh))
            ledger.append(tx, name, frame.assign(place=frame["row_key"].map(places)), frame["revision"].tolist())


def _replaced_rows(table: str, before: pd.DataFrame) -> pd.DataFrame:
    import pandas as pd

    problems = Problems()
    missing = [n for n in (*TABLES[table].names, "revision", "gone") if n not in before.columns]
    if missing:
        raise TableError(f"{table} before has no column {missing[0]}", _WITHOUT)
    data = {c.name: read_column(before[c.name], c, problems)[0] for c in TABLES[table].columns}
    if problems.found:
        reason = next(iter(problems.found.values()))[0][2]
        raise TableError(f"{table} before: {reason}", _WITHOUT)
    frame = pd.DataFrame({name: pd.Series(cells, dtype=cells.dtype) for name, cells in data.items()})
    frame["revision"] = [int(r) for r in before["revision"]]
    frame["gone"] = [int(g) for g in before["gone"]]
    return frame
