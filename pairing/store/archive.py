"""All tables out, such that all tables in gives the same bytes again, the past included."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import fields
from itertools import islice
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.errors import PairingError, StoreError, TableError
from pairing.model.columns import TABLES
from pairing.store import frames, ledger, state
from pairing.store.formulas import guarded
from pairing.store.headings import STAMPS
from pairing.store.sheets import write_workbook
from pairing.store.sources import read

if TYPE_CHECKING:
    import pandas as pd

    from pairing.store.database import Transaction

__all__ = ["BEFORE", "BESIDE", "PAST", "REVISION", "UNFINISHED", "as_text", "export", "written_to"]

PAST = "revisions"
BEFORE = "{} before"
BESIDE = ("settings", "drafts", "kept")
"""What is no table, and goes along when everything does."""
REVISION = tuple(f.name for f in fields(ledger.Revision))
UNFINISHED = ".export-unfinished"
"""Folder of the files of an export that are not all in their place yet."""
_STAGED = ".export-staged"

Rows = Iterator[Sequence[str]]


def as_text(cell: Any) -> str:
    """Write one cell as it is exported."""
    if cell is None:
        return ""
    if isinstance(cell, float):
        return "" if isnan(cell) else repr(cell).removesuffix(".0")
    return guarded(cell) if isinstance(cell, str) else str(cell)


def export(tx: Transaction, target: Path, tables: Sequence[str], *, everything: bool = False) -> Path:
    """Write tables to a folder of CSV files, or to a workbook; all of them with their past.

    Parameters
    ----------
    everything : bool
        Settings, cups in hand and what was taken over from other kitchens, too.

    Raises
    ------
    StoreError
        When a file is in the way that is no earlier export: it stays as it is.
    """
    stamps = _stamps(tx)
    parts: dict[str, Rows] = {name: _rows(ledger.current(tx, name, _names(name)), name, stamps) for name in tables}
    if set(tables) == set(TABLES):
        parts[PAST] = iter([REVISION, *([as_text(getattr(r, n)) for n in REVISION] for r in ledger.revisions(tx))])
        for name in tables:
            replaced = ledger.replaced(tx, name)
            if len(replaced):
                parts[BEFORE.format(name)] = _rows(replaced, name, stamps, gone=True)
    if everything:
        parts |= {name: iter(rows) for name, rows in state.as_rows(tx).items()}
    if target.suffix.casefold() == ".xlsx":
        return _write_workbook(target, parts)
    if target.suffix and not target.is_dir():
        raise StoreError(f"{target.name} is no kind of export", "name a folder, or a file that ends in .xlsx")
    return _write_folder(target, parts, {BEFORE.format(t) for t in tables} | set(BESIDE))


def _names(table: str) -> list[str]:
    return [*TABLES[table].names, "batch"]


def _stamps(tx: Transaction) -> dict[int, tuple[str, str, str]]:
    """Return number, time and author of what wrote each batch, as text."""
    done = tx.table("revisions").c
    query = tx.table("revisions").select().where(done.revision.is_not(None))
    rows = tx.execute(query.with_only_columns(done.batch, done.revision, done.at, done.author))
    return {r.batch: (str(r.revision), r.at, as_text(r.author)) for r in rows}


def _rows(frame: pd.DataFrame, table: str, stamps: dict[int, tuple[str, str, str]], gone: bool = False) -> Rows:
    """Yield heading and rows of a table as they are exported, with revision, time and author."""
    names = TABLES[table].names
    yield [*names, *STAMPS, *(["gone"] if gone else [])]
    for start in range(0, len(frame), frames.CHUNK):
        part = frame.iloc[start : start + frames.CHUNK]
        try:
            written = zip(*(stamps[b] for b in part["batch"]), strict=True)
        except KeyError as error:
            raise StoreError(
                f"a row of {table} is of batch {error}, of which the bench knows nothing", frames.DAMAGED
            ) from None
        columns = [[as_text(cell) for cell in part[name].tolist()] for name in names]
        columns += [list(column) for column in written]
        if gone:
            columns.append([str(g) for g in part["gone"]])
        yield from zip(*columns, strict=True)


def _write_workbook(target: Path, parts: dict[str, Rows]) -> Path:
    leave_others(target)
    content = write_workbook({name: [list(row) for row in rows] for name, rows in parts.items()})
    temporary = target.with_name(f".{target.name}.part")
    with written_to(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            temporary.write_bytes(content)
            temporary.replace(target)
        finally:
            temporary.unlink(missing_ok=True)
    return target


def _write_folder(target: Path, parts: dict[str, Rows], optional: set[str]) -> Path:
    """Write all files aside, then put them in their place: a failure half-way leaves the earlier export as it was.

    Whoever is stopped while they are put in place leaves a folder that a load refuses and the next export mends.
    """
    for name in parts:
        leave_others(target / f"{name}.csv")
    staged, moving = target / _STAGED, target / UNFINISHED
    with written_to(target):
        for left in (staged, moving):
            shutil.rmtree(left, ignore_errors=True)
        try:
            staged.mkdir(parents=True)
            for name, rows in parts.items():
                _write_csv(staged / f"{name}.csv", rows)
        except BaseException:
            shutil.rmtree(staged, ignore_errors=True)
            raise
        staged.replace(moving)
        for name in parts:
            (moving / f"{name}.csv").replace(target / f"{name}.csv")
        for name in optional - set(parts):
            (target / f"{name}.csv").unlink(missing_ok=True)
        moving.rmdir()
    return target


def _write_csv(path: Path, rows: Iterable[Sequence[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        rest = iter(rows)
        while some := list(islice(rest, frames.CHUNK)):
            writer.writerows(some)


@contextmanager
def written_to(path: Path) -> Iterator[None]:
    """Say which place an error of the file system is about."""
    try:
        yield
    except OSError as error:
        raise StoreError(f"{path} cannot be written: {error.strerror}", "choose another place") from error
    except PairingError:
        raise
    except ValueError as error:
        raise StoreError(f"{str(path)!a} cannot be the name of a file: {str(error)!a}", "choose another") from None


def leave_others(path: Path) -> None:
    """Refuse to write over a file that no export has made: the tables of one have the column ``revision``."""
    if not path.exists() or not path.stat().st_size or path.stem in BESIDE:
        return
    try:
        mine = STAMPS[0] in read(path).columns
    except TableError:
        mine = False
    if not mine:
        raise StoreError(f"{path} is no earlier export: it stays as it is", "choose another folder or file name")
