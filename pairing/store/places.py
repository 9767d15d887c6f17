"""Where benches are: folders and servers, made, found, or refused with a reason."""

from __future__ import annotations

import os
from pathlib import Path

from pairing.errors import StoreError, nearest, or_else
from pairing.store.database import FILE_NAME, Database, is_url

__all__ = ["default_place", "find", "prepare"]


def default_place() -> str:
    """Folder or URL of the bench where none is named: ``$PAIRING_BENCH``, else ``./bench``."""
    return os.environ.get("PAIRING_BENCH") or "bench"


def prepare(place: str | Path) -> Database:
    """Make the folder for a new bench."""
    if not is_url(place):
        folder = Path(place)
        if (folder / FILE_NAME).exists():
            raise StoreError(f"there is a bench already: {folder}", "open it, or choose another folder")
        if folder.is_file():
            raise StoreError(f"{folder} is a file, a bench is a folder", "choose another name")
        try:
            (folder / "plugins").mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(
                f"{folder} cannot be made: {error.strerror}", "choose a folder that you may write"
            ) from error
    return Database.at(place)


def find(place: str | Path) -> Database:
    """Return the database of a bench that is there."""
    if not is_url(place):
        folder = Path(place)
        if folder.name == FILE_NAME and folder.is_file():
            folder = folder.parent
        if not folder.exists():
            near = [p.parent.name for p in folder.absolute().parent.glob(f"*/{FILE_NAME}")]
            make = "make one with pairing init"
            hint = or_else(nearest(folder.name, near), f"or {make}") if near else make
            raise StoreError(f"there is no bench {folder}", hint)
        if not (folder / FILE_NAME).is_file():
            raise StoreError(f"{folder} is no bench: it has no {FILE_NAME}", "make one with pairing init")
        place = folder
    db = Database.at(place)
    db.check()
    return db
