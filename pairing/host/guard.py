"""The one place in which a plugin's failure is caught."""

from __future__ import annotations

import contextlib
import dis
import importlib
import inspect
import os
import signal
import traceback
from collections.abc import Callable, Iterator
from contextvars import ContextVar
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

from pairing.errors import PairingError, StoppedInPlugin
from pairing.host import core
from pairing.host.fault import Fault
from pairing.running import running

__all__ = ["Gathering", "attempt", "gathered", "gathering"]

T = TypeVar("T")
_NOT_PLUGINS = ("<", f"{Path(__file__).parents[1]}{os.sep}", f"{Path(importlib.__file__).parent}{os.sep}")


def attempt(
    call: Callable[[], T],
    *,
    plugin: str,
    stage: str,
    hook: str = "",
    subject: str = "",
    defined: Any = None,
    strict: bool = False,
    passing: tuple[type[BaseException], ...] = (),
    watched: bool = True,
) -> tuple[T | None, Fault | None]:
    """Call a plugin and return its result, and what went wrong; the result is None where it failed.

    Parameters
    ----------
    call : callable without parameters
    plugin, stage, hook, subject : str
        For the fault.
    defined : callable, optional
        Function of the plugin whose place is named where the failure itself has none in it.
    strict : bool
        Raise instead, naming the plugin.

    passing : tuple of exceptions
        What is no failure and goes on to the caller, such as a page that asks to be drawn again.
    watched : bool
        Whether it may replace functions of the core, which are then put back: False where it only looks at objects,
        or where whoever calls watches several calls at once.

    Raises
    ------
    PluginError
        Only when strict.
    StoppedInPlugin
        When somebody pressed Ctrl+C meanwhile.
    """
    before, result = core.seen() if watched else (), None
    try:
        try:
            with running(plugin):
                result = call()
        except BaseException:
            core.put_back(before)
            raise
        core.check_core(before)
        return result, None
    except passing:
        raise
    except BaseException as error:
        if _is_ctrl_c(error):
            raise StoppedInPlugin(f"plugin {plugin}{f' ({about})' if (about := subject or hook) else ''}") from error
        where = getattr(error, "where", "") or _where(error) or _defined(defined)
        fault = _told(Fault(plugin=plugin, stage=stage, hook=hook, subject=subject, error="", where=where), error)
        if strict:
            raise fault.as_error() from error
        return result, fault


@dataclass
class Gathering:
    """Faults of some calls, one after the other.

    Attributes
    ----------
    strict : bool
        Raise the first one instead.
    subject : str
        What the calls are about, where a call does not say.
    faults : list of Fault
    """

    strict: bool = False
    subject: str = ""
    faults: list[Fault] = field(default_factory=list)

    def attempt(self, call: Callable[[], T], **about: Any) -> T | None:
        """Call a plugin, see `attempt`; a fault is kept."""
        result, fault = attempt(call, strict=self.strict, **{"subject": self.subject, **about})
        if fault:
            self.faults.append(fault)
        return result


_GATHERING: ContextVar[Gathering] = ContextVar("pairing_gathering")


@contextlib.contextmanager
def gathering(strict: bool = False, subject: str = "") -> Iterator[Gathering]:
    """Gather the faults of every hook that is called within: pluggy hands over results alone."""
    faults = Gathering(strict, subject)
    token = _GATHERING.set(faults)
    try:
        yield faults
    finally:
        _GATHERING.reset(token)


def gathered(call: Callable[[], T], **about: Any) -> T | None:
    """Call a plugin within `gathering`."""
    return _GATHERING.get().attempt(call, **about)


def _told(fault: Fault, error: BaseException) -> Fault:
    if isinstance(error, PairingError):
        return replace(fault, error=error.message, remedy=error.hint)
    if isinstance(error, SystemExit | KeyboardInterrupt):
        remedy = f"remove what raises {type(error).__name__}"
        return replace(fault, error="it tried to end the program", remedy=remedy)
    return replace(fault, error=f"{type(error).__name__}: {error}".rstrip(": "), raised=_raised(error))


def _raised(error: BaseException) -> str:
    return "MemoryError" if isinstance(error, MemoryError) else type(error).__name__


def _is_ctrl_c(error: BaseException) -> bool:
    """Tell the interrupt that the system sent from one that a plugin raised, by whether a ``raise`` made it."""
    if not isinstance(error, KeyboardInterrupt) or isinstance(error, StoppedInPlugin):
        return isinstance(error, StoppedInPlugin)
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    if trace is None:
        return True
    code = trace.tb_frame.f_code
    handler = getattr(signal.getsignal(signal.SIGINT), "__code__", None)
    return code is handler or dis.opname[code.co_code[trace.tb_lasti]] != "RAISE_VARARGS"


def _where(error: BaseException) -> str:
    """Return the deepest line in the first file that is neither ours nor the import machinery's."""
    if isinstance(error, SyntaxError) and error.filename:
        return f"{error.filename}:{error.lineno}"
    frames = [f for f in traceback.extract_tb(error.__traceback__) if not f.filename.startswith(_NOT_PLUGINS)]
    own = [f for f in frames if f.filename == frames[0].filename]
    return f"{own[-1].filename}:{own[-1].lineno}" if own else ""


def _defined(call: Any) -> str:
    code = getattr(inspect.unwrap(call) if callable(call) else None, "__code__", None)
    return f"{code.co_filename}:{code.co_firstlineno}" if code else ""
