"""What is particular to a bench in an SQLite file: its settings, and how writers take turns."""

from __future__ import annotations

import random
import sqlite3
import time
from contextlib import closing
from typing import TYPE_CHECKING, Any

from pairing.store import faults, readonly

if TYPE_CHECKING:
    from sqlalchemy import Engine

__all__ = ["listen", "use_wal"]

_LONGEST_NAP = 0.004
"""Seconds (our choice). A writer holds the file for a few milliseconds: whoever naps as briefly as the others, and not
longer each time as SQLite itself would, has the same chance as they have of finding it free."""


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


def _begin(connection: Any) -> None:
    if connection.get_execution_options().get("pairing_write", False):
        _take_turn(connection.connection.dbapi_connection)
    else:
        connection.exec_driver_sql("BEGIN")


def _take_turn(raw: sqlite3.Connection) -> None:
    """Begin to write as soon as nobody else does; give up after `faults.BUSY_SECONDS`."""
    until = time.monotonic() + faults.BUSY_SECONDS
    raw.execute("PRAGMA busy_timeout=0")
    while True:
        try:
            raw.execute("BEGIN IMMEDIATE")
            break
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            time.sleep(random.uniform(0.0, _LONGEST_NAP))
    raw.execute(f"PRAGMA busy_timeout={1000 * int(faults.BUSY_SECONDS)}")
