"""A bench that may be read only, from a disc, an archive or somebody else's folder: asking and exporting still work."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Any

__all__ = ["connect", "is_read_only", "open_read_only"]


def is_read_only(file: str | Path) -> bool:
    """Tell whether an SQLite file that is there cannot be written, for its own or for its folder's permissions."""
    return os.path.exists(file) and not (os.access(file, os.W_OK) and os.access(Path(file).parent, os.W_OK))


def open_read_only(file: str | Path, **options: Any) -> sqlite3.Connection:
    """Open an SQLite file for reading.

    SQLite keeps a write-ahead log and an index of it beside the file, and makes both even to read. Where it may not,
    and there is no log that holds anything, the file alone is the bench: then SQLite is told that nothing changes it.
    """
    still = is_read_only(file) and not _has_log(file)
    mode = "mode=ro&immutable=1" if still else "mode=ro"
    opened: sqlite3.Connection = sqlite3.connect(f"{Path(file).absolute().as_uri()}?{mode}", uri=True, **options)
    return opened


def connect(dialect: Any, record: Any, arguments: list[Any], options: dict[str, Any]) -> sqlite3.Connection | None:
    """Connect SQLAlchemy to a file that may be read only; None leaves all others to it (its event ``do_connect``)."""
    file = arguments[0]
    return open_read_only(file, **options) if is_read_only(file) else None


def _has_log(file: str | Path) -> bool:
    log = f"{file}-wal"
    return os.path.exists(log) and os.path.getsize(log) > 0
