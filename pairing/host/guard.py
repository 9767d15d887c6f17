"""The one place in which a plugin's failure is caught, and where what rules return is checked."""

from __future__ import annotations

import contextlib
import dis
import importlib
import os
import signal
import time
import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextvars import ContextVar
from copy import copy
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from pairing.api import AdditionTable, Recipe, RecipeTable, RuleLike
from pairing.errors import PairingError, PluginError, StoppedInPlugin, first_few
from pairing.model.tables import backwards
from pairing.running import running

__all__ = ["Clock", "Fault", "Gathering", "attempt", "because", "features", "gathered", "gathering", "told"]

SLOW_S = 0.25
"""A rule that takes longer than this over one table is named in the answer (our choice)."""
TOLERANCE = 1e-9
ASKED_AGAIN = 16
"""Recipes of each table that a rule is asked about a second time, in another order (our choice)."""
SAME = 1e-6
"""What two answers about one recipe may differ by: sums in another order round otherwise (our choice)."""

T = TypeVar("T")
Lacking = dict[str, tuple[str, ...]]
"""What a rule needs and is not known, in words, with the ids for which it is not."""
_NOT_PLUGINS = ("<", f"{Path(__file__).parents[1]}{os.sep}", f"{Path(importlib.__file__).parent}{os.sep}")


@dataclass(frozen=True, kw_only=True)
class Fault:
    """What went wrong in a plugin, or what it had to leave out.

    Attributes
    ----------
    plugin, stage, hook, subject : str
        Which plugin, when (import, handshake, hook, object, scoring, …), in which hook, about which object.
    error : str
        What happened, with the value and what is allowed.
    ids : tuple of str
        Of the bases or flavourings that it is about, where a fact is lacking.
    remedy : str
        What to change.
    where : str
        ``file:line`` in the plugin, empty if unknown.
    note : bool
        True when nothing is broken but a person should know, such as rows with unknown values.
    """

    plugin: str
    stage: str
    error: str
    hook: str = ""
    subject: str = ""
    remedy: str = ""
    where: str = ""
    note: bool = False
    ids: tuple[str, ...] = ()

    @property
    def line(self) -> str:
        """All of it in one line."""
        return f"plugin {self.plugin}: {self.happened}"

    @property
    def happened(self) -> str:
        """What happened, where and what to change, without the plugin's name."""
        what = f"rule {self.subject} skipped" if self.stage == "scoring" and not self.note else self.subject
        error = f"{_with_ids(self.error, self.ids)}{f' — {self.remedy}' if self.remedy else ''}"
        parts = [self.hook, what, error]
        where = f" ({self.where})" if self.where else ""
        return " ".join((": ".join(p for p in parts if p) + where).split())

    @property
    def key(self) -> str:
        """Faults with one key are told once: a rule that fails does so on every table, each time with other counts."""
        return self.line if self.note and self.stage == "scoring" else f"{self.plugin} {self.stage} {self.subject}"

    def as_error(self) -> PluginError:
        """Return it as an exception, for strict loading."""
        return PluginError(self.line, "" if self.remedy else "mend or remove the plugin, or leave it out by --plugins")


@dataclass
class Clock:
    """Time that a rule took so far."""

    calls: int = 0
    rows: int = 0
    seconds: float = 0.0

    @property
    def ms_per_1000(self) -> float | None:
        """Milliseconds for 1000 rows; None before the first call."""
        return 1e6 * self.seconds / self.rows if self.rows else None

    def add(self, rows: int, seconds: float) -> None:
        """Count one call."""
        self.calls, self.rows, self.seconds = self.calls + 1, self.rows + rows, self.seconds + seconds


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
) -> tuple[T | None, Fault | None]:
    """Call a plugin and return its result, or None and what went wrong.

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

    Raises
    ------
    PluginError
        Only when strict.
    StoppedInPlugin
        When somebody pressed Ctrl+C meanwhile.
    """
    try:
        with running(plugin):
            return call(), None
    except passing:
        raise
    except BaseException as error:
        if _is_ctrl_c(error):
            raise StoppedInPlugin(f"plugin {plugin}{f' ({about})' if (about := subject or hook) else ''}") from error
        where = _where(error) or _defined(defined)
        fault = _told(Fault(plugin=plugin, stage=stage, hook=hook, subject=subject, error="", where=where), error)
        if strict:
            raise fault.as_error() from error
        return None, fault


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
        """Call a plugin, see `attempt`; a fault is kept, and the result is None."""
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
    return replace(fault, error=f"{type(error).__name__}: {error}".rstrip(": "))


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


def features(
    rules: Sequence[RuleLike], table: RecipeTable | AdditionTable, *, strict: bool = False
) -> tuple[NDArray[np.float64], tuple[Fault, ...]]:
    """Ask every rule for its feature and check what comes back.

    Parameters
    ----------
    rules : sequence of RuleLike
        All acting on what the table holds: additions for ``dose``, recipes for ``liking`` and ``caution``.
    table : RecipeTable or AdditionTable
    strict : bool
        Raise on the first fault.

    Returns
    -------
    matrix : array, shape (len(table), len(rules))
        In [-1, 1]. A faulty rule's column is 0, as are rows in which a column that the rule needs is unknown.
    faults : tuple of Fault
        Faults, and notes on unknown values and slow rules.

    Raises
    ------
    PluginError
        Only when strict.
    """
    matrix = np.zeros((len(table), len(rules)))
    faults: list[Fault] = []
    for j, rule in enumerate(rules):
        blank = Fault(plugin=rule.id.partition(":")[0], stage="scoring", subject=rule.id, error="", note=True)
        started = time.perf_counter()
        with np.errstate(all="ignore"):
            found, fault = attempt(
                partial(_scored, rule, table),
                plugin=blank.plugin,
                stage=blank.stage,
                subject=rule.id,
                defined=rule.feature,
                strict=strict,
            )
        spent = time.perf_counter() - started
        if clock := getattr(rule, "clock", None):
            clock.add(len(table), spent)
        if fault is not None:
            faults.append(fault)
        elif found is not None:
            matrix[:, j], unknown = found
            faults += [replace(blank, error=fact, ids=ids) for fact, ids in unknown.items()]
        if spent > SLOW_S:
            faults.append(replace(blank, stage="slow", error=f"took {spent:.2f} s for {len(table)} rows"))
    return matrix, tuple(faults)


def _defined(call: Any) -> str:
    code = getattr(call, "__code__", None)
    return f"{code.co_filename}:{code.co_firstlineno}" if code else ""


def _scored(rule: RuleLike, table: RecipeTable | AdditionTable) -> tuple[NDArray[np.float64], Lacking]:
    found = values = _shaped(rule.feature(copy(table)), len(table))  # a table of its own: what it does to it is gone
    lacking: Lacking = {}
    for column in rule.needs:
        known = table.known(column)
        if not known.all():
            values = np.where(known, values, 0.0)
            state = "open" if column == "dose_g_per_kg" else "unknown"
            lacking[f"says nothing where {column} is {state}"] = table.unknown_ids(column)
    if not np.isfinite(values).all():
        row = int(np.flatnonzero(~np.isfinite(values))[0])
        raise PluginError(
            f"feature is {values[row]} in row {row}, a finite number is needed", "add the unknown column to needs"
        )
    if values.size and np.abs(values).max() > 1 + TOLERANCE:
        row = int(np.abs(values).argmax())
        raise PluginError(f"feature is {values[row]:g} in row {row}, allowed is -1 to 1", "scale or clip it")
    _ask_again(rule, table, found)
    return values, lacking


def _ask_again(rule: RuleLike, table: RecipeTable | AdditionTable, values: NDArray[np.float64]) -> None:
    """Ask about some of the recipes in another order: the same recipe has the same answer whatever surrounds it."""
    if not len(table):
        return
    other, rows = backwards(table, ASKED_AGAIN)
    again = _shaped(rule.feature(other), len(rows))
    differ = ~np.isclose(again, values[rows], rtol=0.0, atol=SAME, equal_nan=True)
    if differ.any():
        place = int(np.flatnonzero(differ)[0])
        raise PluginError(
            f"feature was {values[rows[place]]:g} in row {rows[place]}, and {again[place]:g} when asked about the same "
            "recipe among others: it depends on other rows, on what was asked before or on chance",
            "let it rest on nothing but the recipe",
        )


def _shaped(result: Any, n: int) -> NDArray[np.float64]:
    values = np.asarray(result)
    if values.dtype.kind not in "biuf":
        raise PluginError(f"feature returned {values.dtype} values, numbers are needed", "return an array of floats")
    if values.shape != (n,):
        raise PluginError(
            f"feature has shape {values.shape}, ({n},) is needed", "return one number per row of the table"
        )
    return values.astype(np.float64)


def told(faults: Iterable[Fault], names: Mapping[str, str] = MappingProxyType({})) -> list[str]:
    """Return notes for people, one for each fact that is lacking, with the rules and the named items that it is about.

    Faults are left out.

    Examples
    --------
    >>> notes = [Fault(plugin="p", stage="scoring", subject=f"p:{x}", error="says nothing", note=True) for x in "ab"]
    >>> told(notes)
    ['p:a, p:b: says nothing']
    """
    subjects: dict[str, dict[str, None]] = {}
    lacking: dict[str, dict[str, None]] = {}
    for fault in faults:
        if fault.note:
            subjects.setdefault(fault.error, {})[fault.subject or fault.plugin] = None
            lacking.setdefault(fault.error, {}).update(dict.fromkeys(fault.ids))
    return [
        f"{', '.join(named)}: {_with_ids(fact, tuple(names.get(i, i) for i in lacking[fact]))}"
        for fact, named in subjects.items()
    ]


def _with_ids(fact: str, ids: tuple[str, ...]) -> str:
    """Append the ids that a fact is about, the first few by name."""
    return f"{fact}: {first_few(ids)}" if ids else fact


def because(rule: RuleLike, recipe: Recipe, *, strict: bool = False) -> tuple[str, Fault | None]:
    """Ask a rule for its reason in words; its summary stands in when that fails."""
    text, fault = attempt(
        lambda: _text(rule.because(recipe)),
        plugin=rule.id.partition(":")[0],
        stage="because",
        subject=rule.id,
        strict=strict,
    )
    return (rule.summary if text is None else text), fault


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise PluginError(f"because returned {value!r}, a sentence is needed", "return text")
    return value.strip()
