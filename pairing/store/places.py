"""Where benches are: folders and servers, made, found, or refused with a reason."""

from __future__ import annotations

import logging
import os
from pathlib import Path

from pairing.errors import StoreError, nearest, or_else
from pairing.store.database import FILE_NAME, Database, is_url
from pairing.store.rights import OWNER, read_role
from pairing.store.schema import SCHEMA_VERSION
from pairing.store.upgrade import upgrade

__all__ = ["default_place", "find", "is_free", "prepare"]

_LOG = logging.getLogger("pairing")


def default_place() -> str:
    """Folder or URL of the bench where none is named: ``$PAIRING_BENCH``, else ``./bench``."""
    return os.environ.get("PAIRING_BENCH") or "bench"


def prepare(place: str | Path) -> Database:
    """Make the folder for a new bench; what a killed process left of one is no hindrance."""
    if not is_url(place):
        folder = Path(place)
        if os.path.isfile(folder):
            raise StoreError(f"{folder} is a file, a bench is a folder", "choose another name")
        try:
            (folder / "plugins").mkdir(parents=True, exist_ok=True)
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or error
            raise StoreError(f"{folder} cannot be made: {why}", "choose a folder that you may write") from error
    return Database.at(place)


def is_free(folder: Path) -> bool:
    """Tell whether a folder has no bench, or only what a killed process left of one."""
    return not (folder / FILE_NAME).exists() or Database.at(folder).is_empty()


def find(place: str | Path, role: str = OWNER) -> Database:
    """Return the database of a bench that is there; say so when nothing can be kept in it."""
    if not is_url(place):
        place = _folder(Path(place))
    db = Database.at(place, read_role(role))
    if (version := db.check()) < SCHEMA_VERSION:
        upgrade(db, version)
    if db.read_only:
        _LOG.warning("%s may be read only: it can be asked and exported, nothing new is kept", db.name)
    return db


def _folder(given: Path) -> Path:
    """Return the folder of a bench that is named by it or by its file."""
    folder = given.parent if given.name == FILE_NAME and given.is_file() else given
    if not os.path.exists(folder):
        beside = folder.absolute().parent
        near = [p.parent.name for p in beside.glob(f"*/{FILE_NAME}")] if os.path.isdir(beside) else []
        make = "make one with pairing init"
        hint = or_else(nearest(folder.name, near), f"or {make}") if near else make
        raise StoreError(f"there is no bench {folder}", hint)
    if not (folder / FILE_NAME).is_file():
        raise StoreError(f"{folder} is no bench: it has no {FILE_NAME}", "make one with pairing init")
    return folder
