"""What is particular to a bench in an SQLite file: its settings, and how writers take turns."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.store import faults, readonly, turns

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

__all__ = ["listen", "tidied", "turn", "use_wal"]

_LONG_LOG_BYTES = 4_000_000
"""About as long as SQLite itself lets it grow."""


def listen(engine: Engine) -> None:
    """Give every connection of an engine its settings, and begin its transactions here."""
    from sqlalchemy import event

    event.listen(engine, "do_connect", readonly.connect)
    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", _begin)


def use_wal(engine: Engine) -> None:
    """Let readers read while somebody writes; the file keeps that."""
    with closing(engine.raw_connection()) as raw:
        raw.cursor().execute("PRAGMA journal_mode=WAL")


def prepare(connection: Any, _record: Any) -> None:
    """Set up a connection."""
    connection.isolation_level = None  # transactions are begun by _begin, not by the driver
    connection.execute("PRAGMA foreign_keys=ON")
    connection.execute("PRAGMA synchronous=FULL")


@contextmanager
def turn(file: Path) -> Iterator[None]:
    """Wait for one's turn to write a file."""
    until = time.monotonic() + faults.BUSY_SECONDS
    with turns.join(file, until):
        yield


@contextmanager
def tidied(connection: Connection, file: Path) -> Iterator[None]:
    """Bring the write-ahead log into its file at the end, once it is long, while others write on.

    SQLite does so while it commits, when everybody in the queue waits for it.
    """
    raw = connection.connection.dbapi_connection
    assert raw is not None
    raw.execute("PRAGMA wal_autocheckpoint=0")
    yield
    with suppress(OSError, sqlite3.Error):  # it stays in the log, where it is safe, for the next one
        if file.with_name(f"{file.name}-wal").stat().st_size > _LONG_LOG_BYTES:
            raw.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()


def _begin(connection: Any) -> None:
    if not connection.get_execution_options().get("pairing_write", False):
        connection.exec_driver_sql("BEGIN")
        return
    raw = connection.connection.dbapi_connection
    raw.execute("PRAGMA busy_timeout=0")
    _begin_writing(raw, time.monotonic() + faults.BUSY_SECONDS)
    raw.execute(f"PRAGMA busy_timeout={1000 * int(faults.BUSY_SECONDS)}")


def _begin_writing(raw: sqlite3.Connection, until: float) -> None:
    """Begin as soon as nobody else writes; whoever finds the file taken makes the queue for the next time."""
    while True:
        try:
            raw.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            turns.make(Path(raw.execute("PRAGMA database_list").fetchone()[2]))
            turns.nap()
        else:
            return
