"""Bringing a bench of an earlier version up to this one: a snapshot first, then all steps in one transaction."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from pairing.errors import StoreError
from pairing.store.schema import SCHEMA_VERSION

if TYPE_CHECKING:
    from pairing.store.database import Database, Transaction

__all__ = ["copy_file", "snapshot_file", "upgrade"]

_SCRIPTS = Path(__file__).with_name("migrations")


def snapshot_file(file: Path, version: int) -> Path:
    """Name of the copy that is kept of a bench as it was in an earlier version.

    Examples
    --------
    >>> snapshot_file(Path("kitchen/bench.sqlite"), 1).as_posix()
    'kitchen/bench.version-1.sqlite'
    """
    return file.with_name(f"{file.stem}.version-{version}{file.suffix}")


def upgrade(db: Database, found: int) -> None:
    """Upgrade a bench from a version, unless somebody else has done so meanwhile.

    Raises
    ------
    StoreError
        When it cannot be copied first, or not be changed: it is as it was then.
    """
    from alembic import command
    from alembic.config import Config
    from sqlalchemy import text

    if db.read_only:
        raise StoreError(
            f"{db.name} is of version {found}, and to be read it has to be brought up to {SCHEMA_VERSION}, "
            "but may be read only",
            "copy its folder to a place that you may write, and open the copy",
        )
    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS).replace("%", "%%"))
    with db.writing("") as tx:
        if db.version_in(tx.connection) != found:
            return
        _keep_as_it_is(tx, found)
        config.attributes["connection"] = tx.connection
        try:
            command.stamp(config, str(found))
            command.upgrade(config, str(SCHEMA_VERSION))
        except RuntimeError as error:
            raise StoreError(f"{db.name} cannot be brought up to version {SCHEMA_VERSION}: {error}", "") from error
        tx.execute(text("DROP TABLE alembic_version"))  # the version stands in meta, and there alone


def _keep_as_it_is(tx: Transaction, version: int) -> None:
    """Copy a bench: a file beside its own, on a server tables beside its tables."""
    from sqlalchemy import inspect, text

    file = tx.db.file
    if file is not None:
        copy = snapshot_file(file, version)
        if not copy.exists():
            copy_file(file, copy)
        return
    quote = tx.connection.dialect.identifier_preparer.quote
    for name in inspect(tx.connection).get_table_names():
        if not name.startswith("version_"):
            tx.execute(text(f"CREATE TABLE {quote(f'version_{version}_{name}')} AS TABLE {quote(name)}"))


def copy_file(file: Path, copy: Path) -> None:
    """Copy an SQLite file that may be in use, whole or not at all.

    Raises
    ------
    StoreError
        When the copy cannot be written.
    """
    part = copy.with_name(f".{copy.name}.{os.getpid()}")
    try:
        copy.parent.mkdir(parents=True, exist_ok=True)
        with closing(sqlite3.connect(file)) as source, closing(sqlite3.connect(part)) as target:
            source.backup(target)
        part.replace(copy)
    except (OSError, sqlite3.Error) as error:
        part.unlink(missing_ok=True)
        raise StoreError(
            f"{file} cannot be copied to {copy}: {getattr(error, 'strerror', None) or error}",
            "free some disk space, or choose a place that you may write; nothing was changed",
        ) from error
