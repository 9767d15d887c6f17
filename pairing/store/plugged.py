"""What a bench has to do with plugins: which it loads, whom it asks to read a file, whom it tells of a trial."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.host import load
from pairing.host.formats import read_file, write_file, writer_for
from pairing.host.settings import SETTINGS_FILE
from pairing.host.trusted import FOLDER
from pairing.store import cups
from pairing.store.events import event_of

if TYPE_CHECKING:
    import pandas as pd

    from pairing.host import Host
    from pairing.host.fault import Fault

__all__ = ["Plugged"]

Stamp = tuple[tuple[str, int, int], ...]
"""Name, time and size of files."""
_LOG = logging.getLogger("pairing")


class Plugged:
    """The plugins of one bench, loaded when first needed.

    Parameters
    ----------
    folder : path or None
        The bench's folder; None on a server.
    """

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder
        self._only: str | Iterable[str] | None = os.environ.get("PAIRING_PLUGINS")
        self._strict = False
        self._host: Host | None = None
        self._stamp: Stamp = ()

    def choose(self, only: str | Iterable[str] | None, strict: bool) -> None:
        """Load only these from now on (None: as before), or stop at the first fault."""
        self._only = self._only if only is None else only
        self._strict, self._host = strict, None

    @property
    def host(self) -> Host:
        """The plugins, found and checked."""
        if self._host is None:
            self._stamp = _stamp(self._folder)
            self._host = load(self._folder, self._only, self._strict)
            _report(fault for fault in self._host.faults if fault.stage in ("trust", "content"))
        return self._host

    def forget_old(self) -> bool:
        """Forget the plugins where a file of theirs or their settings are others than when they were loaded.

        Returns
        -------
        bool
            Whether they were: the next question loads them anew.
        """
        if self._host is None or self._stamp == _stamp(self._folder):
            return False
        self._host = None
        return True

    def read(self, file: Any) -> dict[str, pd.DataFrame] | None:
        """Return the tables in a file of a kind that a plugin knows, else None."""
        host = self.host  # strict about plugins: raise before anything is stored
        if not isinstance(file, str | Path) or not Path(file).is_file():
            return None
        tables, faults = read_file(host, Path(file))
        _report(faults)
        return tables

    def write(self, path: Path, tables: Callable[[], Mapping[str, pd.DataFrame]]) -> bool:
        """Let the plugin that knows the end of a file's name write tables into it; False when none does."""
        writer = writer_for(self.host, path)
        if writer is not None:
            write_file(writer, tables(), path)
        return writer is not None

    def tell(
        self, kind: str, ask: Callable[..., Any], *, revision: int | None = None, trial_id: str | None = None
    ) -> None:
        """Tell the plugins that listen what is stored; what goes wrong with them is reported, never raised.

        Parameters
        ----------
        kind : {"log", "load", "correct", "undo"}
        ask : callable
            Calls a function with a transaction of the bench.
        revision : int, optional
            The change, or what was taken back; None where there is nothing to tell.
        trial_id : str, optional
            The trial, where it is about one.
        """
        if kind == "log" and self.host.listens("pairing_trial_logged"):
            _report(self.host.trial_logged(ask(cups.readings_of, trial_id)))
        if (revision, trial_id) != (None, None) and self.host.listens("pairing_logged"):
            event = ask(event_of, kind, revision, trial_id)
            if event.trial_ids:
                _report(self.host.logged(event))


def _stamp(folder: Path | None) -> Stamp:
    """Tell the plugin files of a bench as they lie there now from what they were, without reading them."""
    if folder is None:
        return ()
    files = [folder / SETTINGS_FILE, *sorted((folder / FOLDER).rglob("*"))]
    kept = (path for path in files if "__pycache__" not in path.parts and path.is_file())
    return tuple((str(path), (found := path.stat()).st_mtime_ns, found.st_size) for path in kept)


def _report(faults: Iterable[Fault]) -> None:
    for fault in faults:
        _LOG.warning("%s", fault.line)
