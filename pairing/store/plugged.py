"""What a bench has to do with plugins: which it loads, whom it asks to read a file, whom it tells of a trial."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.host import load
from pairing.store import cups
from pairing.store.events import event_of

if TYPE_CHECKING:
    from pairing.host import Host
    from pairing.host.guard import Fault

__all__ = ["Plugged"]

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

    def choose(self, only: str | Iterable[str] | None, strict: bool) -> None:
        """Load only these from now on (None: as before), or stop at the first fault."""
        self._only = self._only if only is None else only
        self._strict, self._host = strict, None

    @property
    def host(self) -> Host:
        """The plugins, found and checked."""
        if self._host is None:
            self._host = load(self._folder, self._only, self._strict)
            _report(fault for fault in self._host.faults if fault.stage in ("trust", "content"))
        return self._host

    def read(self, file: Any) -> Any:
        """Return the readings in a file that a plugin knows how to read, else None."""
        known = self.host.listens("pairing_read_trials")  # strict about plugins: raise before anything is stored
        if not known or not isinstance(file, str | Path) or not Path(file).is_file():
            return None
        table, faults = self.host.read_trials(file)
        _report(faults)
        return table

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


def _report(faults: Iterable[Fault]) -> None:
    for fault in faults:
        _LOG.warning("%s", fault.line)
