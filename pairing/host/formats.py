"""Files of kinds that plugins know: read into tables, and written from tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from pairing.errors import PluginError, nearest
from pairing.host.guard import Gathering
from pairing.model.columns import TABLES

if TYPE_CHECKING:
    import pandas as pd

    from pairing.api import Reader
    from pairing.host.fault import Fault
    from pairing.host.host import Host

__all__ = ["read_file", "write_file", "writer_for"]


class _Format(Protocol):
    @property
    def id(self) -> str: ...
    @property
    def suffixes(self) -> tuple[str, ...]: ...


F = TypeVar("F", bound=_Format)


def read_file(host: Host, path: Path) -> tuple[dict[str, pd.DataFrame] | None, tuple[Fault, ...]]:
    """Ask the plugins for the tables in a file: readers whose ending fits, then those that look at every file.

    Returns
    -------
    tables : dict of table name to DataFrame, or None
        None when nobody knows the file.
    faults : tuple of Fault
        After a fault the next one is asked.
    """
    asked = Gathering(host.strict, path.name)
    for reader in _fitting(host.readers, path):
        about: dict[str, Any] = {"stage": "read", "hook": "pairing_readers", "defined": reader.read}
        found = asked.attempt(partial(_tables, reader, path), plugin=_plugin(reader), **about)
        if found is not None:
            return found, tuple(asked.faults)
    if not host.listens("pairing_read_trials"):
        return None, tuple(asked.faults)
    table, faults = host.read_trials(path)
    return (None if table is None else {"readings": table}), (*asked.faults, *faults)


def writer_for(host: Host, path: Path) -> Any:
    """Return the writer whose ending fits a path best; None when no plugin has one."""
    return next(iter(_fitting(host.writers, path)), None)


def write_file(writer: Any, tables: Mapping[str, pd.DataFrame], path: Path) -> None:
    """Let a plugin write tables; a file that is there is replaced only when all of it is written.

    Raises
    ------
    PluginError
        When the writer fails, or cannot hold a table that is not empty.
    """
    unheld = [name for name, table in tables.items() if writer.tables and name not in writer.tables and len(table)]
    if unheld:
        told = f"{path.name}: {writer.id} cannot hold {', '.join(unheld)}"
        raise PluginError(told, f"name the tables to write: {', '.join(writer.tables)}")
    unfinished = path.with_name(f".unfinished-{path.name}")
    try:
        about: dict[str, Any] = {"stage": "write", "hook": "pairing_writers", "defined": writer.write}
        Gathering(strict=True, subject=path.name).attempt(
            partial(writer.write, dict(tables), unfinished), plugin=_plugin(writer), **about
        )
        if not unfinished.is_file():
            raise PluginError(
                f"plugin {_plugin(writer)}: {writer.id} wrote no file", "let write(tables, path) make one"
            )
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)


def _fitting(formats: Iterable[F], path: Path) -> list[F]:
    """Return the formats whose ending the name has, the longest ending first."""
    name = path.name.casefold()
    fits = {f.id: max((len(s) for s in f.suffixes if name.endswith(s)), default=0) for f in formats}
    return sorted((f for f in formats if fits[f.id]), key=lambda f: -fits[f.id])


def _plugin(format: _Format) -> str:
    return format.id.partition(":")[0]


def _tables(reader: Reader, path: Path) -> dict[str, pd.DataFrame]:
    found: Any = reader.read(path)
    if not isinstance(found, Mapping):
        raise PluginError(f"read returned {type(found).__name__}", 'return tables by name: {"readings": frame}')
    for name, table in found.items():
        if name not in TABLES:
            raise PluginError(f"read returned a table {name!r}", nearest(str(name), TABLES))
        if not hasattr(table, "columns"):
            raise PluginError(f"{name} is {type(table).__name__}", "return DataFrames")
    return dict(found)
