"""What can still be read of a damaged SQLite file, into a new bench; what cannot is named.

Rows are read in ranges. A range that cannot be read is halved until the rows are found that are lost; indexes, which
may be damaged too, are not used.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

from pairing.errors import StoreError
from pairing.model.columns import TABLES
from pairing.store import state
from pairing.store.database import Database
from pairing.store.readonly import open_read_only

__all__ = ["Loss", "salvage"]

_LAST = 2**40
_BESIDE = ("settings", "drafts", "blobs")
_SALVAGED = "what it was about is lost"


class Loss(NamedTuple):
    """Rows, or cells of one, that could not be read."""

    table: str
    first: int
    last: int
    reason: str

    def __str__(self) -> str:
        rows = f"row {self.first}" if self.first == self.last else f"rows {self.first} to {self.last}"
        return f"{self.table}: {rows}: {self.reason}"


def salvage(file: Path, target: Path) -> list[Loss]:
    """Make a bench in a new folder of what can be read of a file, and return what could not.

    Raises
    ------
    StoreError
        When nothing of it can be read.
    """
    losses: list[Loss] = []
    with closing(open_read_only(file)) as source:
        source.text_factory = _text
        try:
            source.execute("SELECT name FROM sqlite_master").fetchall()
        except sqlite3.DatabaseError as error:
            raise StoreError(f"{file}: {error}: nothing of it can be read", "go back to a copy") from error
        target.mkdir(parents=True, exist_ok=True)
        new = Database.at(target)
        new.create(state.as_text(state.DEFAULT_SETTINGS))
        with closing(sqlite3.connect(str(new.file))) as out:
            _copy_beside(source, out, losses)
            batches = _copy_revisions(source, out, losses)
            for name in TABLES:
                _copy_table(source, out, name, batches, losses)
            out.commit()
    return losses


def _text(content: bytes) -> str:
    return content.decode(errors="replace")


def _columns(source: sqlite3.Connection, table: str) -> list[str]:
    try:
        return [row[1] for row in source.execute(f"PRAGMA table_info({table})")]
    except sqlite3.DatabaseError:
        return []


def _rows(
    source: sqlite3.Connection, table: str, columns: list[str], losses: list[Loss], by: str = "row_id"
) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """Yield the rows that can be read, by number, and note the ranges that cannot."""
    names = ", ".join(f'"{name}"' for name in columns)
    query = f'SELECT {by}, {names} FROM "{table}" NOT INDEXED WHERE {by} BETWEEN ? AND ? ORDER BY {by}'
    waiting = [(0, _LAST)]
    while waiting:
        first, last = waiting.pop()
        try:
            found = source.execute(query, (first, last)).fetchall()
        except (sqlite3.DatabaseError, OverflowError) as error:
            if first == last:
                _note(losses, Loss(table, first, last, str(error)))
            else:
                middle = (first + last) // 2
                waiting += [(middle + 1, last), (first, middle)]
        else:
            yield from ((row[0], row[1:]) for row in found)


def _note(losses: list[Loss], loss: Loss) -> None:
    """Add a loss, to the one before where they meet."""
    if losses and losses[-1].table == loss.table and losses[-1].last + 1 == loss.first:
        losses[-1] = losses[-1]._replace(last=loss.last)
    else:
        losses.append(loss)


def _copy_beside(source: sqlite3.Connection, out: sqlite3.Connection, losses: list[Loss]) -> None:
    for name in _BESIDE:
        columns = _columns(source, name)
        for _, row in _rows(source, name, columns, losses, by="rowid") if columns else ():
            if name == "blobs" and not state.is_kept(row[columns.index("key")]):
                continue  # learned state is learned again
            marks = ", ".join("?" * len(row))
            out.execute(f"INSERT OR REPLACE INTO {name} ({', '.join(columns)}) VALUES ({marks})", row)


def _copy_revisions(source: sqlite3.Connection, out: sqlite3.Connection, losses: list[Loss]) -> set[int]:
    """Copy who wrote what when, and return the batches that are known."""
    there = _columns(source, "revisions")
    number = "batch" if "batch" in there else "revision"
    columns: list[str] = [
        n for n in ("revision", "at", "author", "action", "about", "write_id", "digest", "undoes") if n in there
    ]
    columns += ["active"] if "active" in there else []
    batches: set[int] = set()
    for batch, row in _rows(source, "revisions", columns, losses, by=number) if there else ():
        try:
            out.execute(
                f"INSERT INTO revisions (batch, {', '.join(columns)}) VALUES (?{', ?' * len(columns)})", (batch, *row)
            )
        except sqlite3.DatabaseError as error:
            _note(losses, Loss("revisions", batch, batch, str(error)))
        else:
            batches.add(batch)
    return batches


def _copy_table(
    source: sqlite3.Connection, out: sqlite3.Connection, name: str, batches: set[int], losses: list[Loss]
) -> None:
    there = _columns(source, name)
    if not there:
        return
    spec = TABLES[name]
    batch = "batch" if "batch" in there else "revision"
    kept = ["row_key", "place", batch, "gone"]
    columns = [*kept, *(n for n in spec.names if n in there)]
    if missing := [n for n in kept if n not in there]:
        losses.append(Loss(name, 0, _LAST, f"the column {missing[0]} is lost"))
        return
    into = ["row_key", "place", "batch", "gone", *columns[4:]]
    statement = f'INSERT INTO "{name}" ({", ".join(into)}) VALUES ({", ".join("?" * len(into))})'
    numeric = [i for i, n in enumerate(columns) if i > 3 and spec.by_name[n].kind in ("number", "integer")]
    for number, row in _rows(source, name, columns, losses):
        cells = list(row)
        if not isinstance(cells[0], str) or not all(isinstance(cell, int) for cell in cells[1:4]):
            _note(losses, Loss(name, number, number, "what keeps it in its place is spoilt"))
            continue
        for i in numeric:
            if not isinstance(cells[i], (int, float, type(None))):
                losses.append(Loss(name, number, number, f"{columns[i]} was {cells[i]!r}, which is no number"))
                cells[i] = None
        if cells[2] not in batches:
            _add_revision(out, cells[2])
            batches.add(cells[2])
        try:
            out.execute(statement, cells)
        except sqlite3.DatabaseError as error:
            _note(losses, Loss(name, number, number, str(error)))


def _add_revision(out: sqlite3.Connection, batch: int) -> None:
    """Put in a revision that is lost, so that its rows stay."""
    last = out.execute("SELECT coalesce(max(revision), 0) FROM revisions").fetchone()[0]
    row = (batch, last + 1, "", "", "salvage", _SALVAGED)
    out.execute("INSERT INTO revisions (batch, revision, at, author, action, about) VALUES (?, ?, ?, ?, ?, ?)", row)
