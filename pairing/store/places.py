"""Where benches are: folders and servers, made, found, or refused with a reason."""

from __future__ import annotations

from pathlib import Path

from pairing.errors import StoreError, TableError, nearest
from pairing.model.columns import TABLES
from pairing.store.database import FILE_NAME, Database, is_url

__all__ = ["find", "prepare", "tables_in"]


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
            hint = (
                f"{nearest(folder.name, near)} Or make one with pairing init" if near else "make one with pairing init"
            )
            raise StoreError(f"there is no bench {folder}", hint)
        if not (folder / FILE_NAME).is_file():
            raise StoreError(f"{folder} is no bench: it has no {FILE_NAME}", "make one with pairing init")
        place = folder
    db = Database.at(place)
    db.check()
    return db


def tables_in(source: str | Path) -> dict[str, Path]:
    """Return the tables of an exported folder or workbook, by name."""
    path = Path(source)
    if path.is_dir():
        found = {name: path / f"{name}.csv" for name in TABLES if (path / f"{name}.csv").is_file()}
    elif path.suffix.casefold() in (".xlsx", ".xlsm") and path.is_file():
        from pairing.store.sheets import sheet_names

        found = dict.fromkeys(sheet_names(path), path)
    else:
        raise TableError(f"{path} is no folder or workbook with tables", "name each table: readings=…")
    if not found:
        raise TableError(f"{path} has no tables of a bench", f"name them: {', '.join(TABLES)}")
    return found
