"""The hooks of a plugin, each called once, at load (readers, listeners and look-ups whenever there is something)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pluggy

from pairing.api import (
    Attribute,
    Base,
    Baseline,
    Command,
    Composition,
    Flavouring,
    Goal,
    Limit,
    LogEvent,
    Reader,
    RuleLike,
    Setting,
    View,
    Writer,
)

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "pairing_attributes",
    "pairing_baselines",
    "pairing_bases",
    "pairing_commands",
    "pairing_compositions",
    "pairing_flavourings",
    "pairing_goals",
    "pairing_limits",
    "pairing_logged",
    "pairing_read_trials",
    "pairing_readers",
    "pairing_rules",
    "pairing_settings",
    "pairing_trial_logged",
    "pairing_views",
    "pairing_writers",
]

hookspec = pluggy.HookspecMarker("pairing")


@hookspec
def pairing_settings() -> Iterable[Setting]:  # type: ignore[empty-body]
    """Return the settings that you read. They are checked before any other hook is called, and missing ones filled in.

    A setting that is not declared, or not of its kind or in its range, is refused by name and not handed over. Without
    this hook nothing is checked. Since 1.1.
    """


@hookspec
def pairing_bases() -> Iterable[Base]:  # type: ignore[empty-body]
    """Return bases, offered beside those of the bench. A bad one is refused, the rest stay."""


@hookspec
def pairing_flavourings() -> Iterable[Flavouring]:  # type: ignore[empty-body]
    """Return flavourings, offered beside those of the bench. A bad one is refused, the rest stay."""


@hookspec
def pairing_rules(settings: Mapping[str, Any]) -> Iterable[RuleLike]:  # type: ignore[empty-body]
    """Return scoring rules. A faulty rule is off, and the answers say so.

    Parameters
    ----------
    settings : mapping
        This plugin's part of the bench's ``plugins.toml``, read-only; ``settings["folder"]`` is the bench's folder, or
        None without one.
    """


@hookspec
def pairing_limits(settings: Mapping[str, Any]) -> Iterable[Limit]:  # type: ignore[empty-body]
    """Return hard limits of what is suggested. A faulty one is off, and the answers say so. Since 1.1.

    Parameters
    ----------
    settings : mapping
        As of ``pairing_rules``.
    """


@hookspec
def pairing_goals(settings: Mapping[str, Any]) -> Iterable[Goal]:  # type: ignore[empty-body]
    """Return what else a suggestion is worth. A faulty one is off, and the answers say so. Since 1.1.

    Parameters
    ----------
    settings : mapping
        As of ``pairing_rules``.
    """


@hookspec
def pairing_baselines() -> Iterable[Baseline]:  # type: ignore[empty-body]
    """Return guesses that ``pairing evaluate`` puts beside the model. A faulty one is left out. Since 1.1."""


@hookspec
def pairing_attributes() -> Iterable[Attribute]:  # type: ignore[empty-body]
    """Return what cups can be judged by beside strength and liking. A faulty one is left out. Since 1.1."""


@hookspec
def pairing_readers() -> Iterable[Reader]:  # type: ignore[empty-body]
    """Return how to read kinds of files, by the ends of their names. A faulty one is left out. Since 1.1."""


@hookspec
def pairing_writers() -> Iterable[Writer]:  # type: ignore[empty-body]
    """Return how to write kinds of files, by the ends of their names. A faulty one is left out. Since 1.1."""


@hookspec(firstresult=True)
def pairing_read_trials(path: Path) -> pd.DataFrame | None:
    """Return the readings in a file, as the ``readings`` table has them, or None if it is not of a kind known here.

    The first plugin that returns a table wins. After a fault the next one is tried.

    Parameters
    ----------
    path : Path
    """


@hookspec
def pairing_commands() -> Iterable[Command]:  # type: ignore[empty-body]
    """Return commands for the command line. A faulty one is dropped."""


@hookspec
def pairing_views() -> Iterable[View]:  # type: ignore[empty-body]
    """Return pages for the dashboard. A fault in one is shown on that page only."""


@hookspec
def pairing_compositions(text: str) -> Iterable[Composition]:  # type: ignore[empty-body]
    """Return what your tables say of drinks or foodstuffs of that name, nearest first. A bad entry is left out.

    Called whenever somebody looks something up; nothing of it is used before that person takes it over, and never over
    a label's value. Since 1.1.

    Parameters
    ----------
    text : str
        What was typed, such as ``oat drink``.
    """


@hookspec
def pairing_trial_logged(trial: Any) -> None:
    """Take note of a trial that was just stored. A fault is reported; logging never fails.

    Parameters
    ----------
    trial : DataFrame
        Its rows of the ``readings`` table.
    """


@hookspec
def pairing_logged(event: LogEvent) -> None:
    """Take note of trials that were logged, loaded, corrected or undone. A fault is reported; nothing is lost.

    Since 1.1; ``pairing_trial_logged`` hears of logged trials only.

    Parameters
    ----------
    event : LogEvent
        Its ``kind`` is ``log``, ``load``, ``correct`` or ``undo``.
    """
