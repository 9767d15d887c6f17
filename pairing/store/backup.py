"""A copy of a bench while it is in use: a folder that opens like any bench."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.errors import StoreError
from pairing.model.columns import TABLES
from pairing.store import archive, loading, restore, state
from pairing.store.database import FILE_NAME, Database
from pairing.store.upgrade import copy_file

if TYPE_CHECKING:
    from pairing.store.database import Transaction

__all__ = ["backup"]

_BESIDE = ("plugins", "plugins.toml")


def backup(db: Database, target: Path) -> Path:
    """Copy a bench to a new folder: file, plugins and their settings; of a server, all that it holds.

    Raises
    ------
    StoreError
        When there is a bench already, or the copy cannot be written: nothing is left of it then.
    """
    if (target / FILE_NAME).exists():
        raise StoreError(f"there is a bench already: {target}", "choose another folder for the copy")
    if target.is_file():
        raise StoreError(f"{target} is a file, a copy is a folder", "choose another name")
    part = target.with_name(f".{target.name}.{os.getpid()}")
    with archive.written_to(target), _removed(part):
        part.mkdir(parents=True)
        if db.file is not None:
            copy_file(db.file, part / FILE_NAME)
            for name in _BESIDE:
                _copy(db.file.with_name(name), part / name)
        else:
            _copy_of_server(db, part)
        target.mkdir(parents=True, exist_ok=True)
        for item in sorted(part.iterdir(), key=lambda p: p.name == FILE_NAME):  # the file last: then it is a bench
            item.replace(target / item.name)
    (target / "plugins").mkdir(exist_ok=True)
    return target


@contextmanager
def _removed(folder: Path) -> Iterator[None]:
    """Remove a folder at the end."""
    try:
        yield
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _copy(source: Path, target: Path) -> None:
    if source.is_dir():
        shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__"))
    elif source.is_file():
        shutil.copy2(source, target)


def _copy_of_server(db: Database, folder: Path) -> None:
    """Bring everything out of a server and into a file."""
    copy = Database.at(folder)
    copy.create(state.as_text(state.DEFAULT_SETTINGS))
    with tempfile.TemporaryDirectory() as out:

        def export(tx: Transaction) -> Path:
            return archive.export(tx, Path(out) / "all", list(TABLES), everything=True)

        with db.reading() as tx:
            source = export(tx)
        tables: dict[str, Any] = restore.tables_in(source)
        loading.load(copy, "backup", tables, past=restore.past_in(source))
