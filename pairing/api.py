"""All that a plugin needs: import from here and from nowhere else in the package.

A plugin is a module that declares ``PAIRING_API`` and marks functions with `hookimpl`:

>>> from pairing.api import Rule, hookimpl
>>> PAIRING_API = (1, 0)
>>> @hookimpl
... def pairing_rules(settings):
...     return [
...         Rule(
...             id="thin-is-better",
...             summary="Thin bases carry delicate flavourings better",
...             source="common practice (no source)",
...             acts_on="liking",
...             prior_mean=0.3,
...             prior_sd=0.3,
...             needs=("base_viscosity_mpa_s",),
...             feature=lambda table: (table.base_viscosity_mpa_s < 5) * 1.0,
...             because=lambda recipe: f"{recipe.base_id} is thin",
...         )
...     ]
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from os import PathLike
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

import pluggy

from pairing.errors import PairingError, PluginError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.tables import AdditionTable, RecipeTable

if TYPE_CHECKING:
    import argparse

    import pandas as pd
    from numpy.typing import NDArray

    from pairing.graph.collections import CoUse

__all__ = [
    "API_VERSION",
    "CORE_COLUMNS",
    "AdditionTable",
    "Base",
    "Command",
    "Composition",
    "Flavouring",
    "LogEvent",
    "PairingError",
    "PluginError",
    "Recipe",
    "RecipeTable",
    "Rule",
    "RuleLike",
    "View",
    "from_collections",
    "hookimpl",
]

API_VERSION = (1, 1)
"""Version of this interface. A plugin states the one it was written for as ``PAIRING_API``: the first number has to
be the same, the second at most this one. What is listed here is only ever added to within a first number."""

CORE_COLUMNS = ("fat*fat_loving", "companions")
"""Columns of the needed dose that the model has anyway, in natural log units: fat of the base (in standard deviations
over the bases) × ``fat_loving``; and the number of other flavourings in the cup."""

hookimpl = pluggy.HookimplMarker("pairing")
"""Mark a function as a hook: ``@hookimpl`` over ``def pairing_rules(settings): …``."""


@runtime_checkable
class RuleLike(Protocol):
    """What counts as a rule: anything with these fields. `Rule` is the ready-made one."""

    @property
    def id(self) -> str: ...  # noqa: D102
    @property
    def summary(self) -> str: ...  # noqa: D102
    @property
    def source(self) -> str: ...  # noqa: D102
    @property
    def acts_on(self) -> str: ...  # noqa: D102
    @property
    def prior_mean(self) -> float: ...  # noqa: D102
    @property
    def prior_sd(self) -> float: ...  # noqa: D102
    @property
    def needs(self) -> tuple[str, ...]: ...  # noqa: D102
    @property
    def feature(self) -> Callable[[Any], NDArray[Any]]: ...  # noqa: D102
    @property
    def because(self) -> Callable[[Recipe], str]: ...  # noqa: D102


@dataclass(frozen=True, kw_only=True)
class Rule:
    """An expectation with a prior weight, which the log then corrects.

    The model learns one weight per rule: effect = weight × feature. A rule is a prior, not a verdict.

    Attributes
    ----------
    id : str
        Short name, unique within the plugin, lower case with hyphens; the host calls it ``plugin:id``.
    summary : str
        One sentence that people read.
    source : str
        Where it comes from: a reference, or ``common practice (no source)``, or ``from memory``.
    acts_on : {"liking", "dose", "caution"}
        ``liking``: the feature has one value per recipe and the weight is in liking points. ``dose``: one value per
        addition, and the weight shifts the natural logarithm of the needed dose (0.7 doubles it). ``caution``: one
        value per recipe, above 0 where the caution applies; nothing is learned.
    prior_mean, prior_sd : float
        What the weight is expected to be before any cup was logged, and how far it may well be off.
    needs : tuple of str
        Columns without which the feature means nothing. Where one is unknown the host sets the feature to 0 and says
        so. A caution that should rather warn when in doubt leaves the column out and handles NaN itself.
    feature : callable
        ``feature(table) -> array in [-1, 1]``. `RecipeTable` in, shape (n,) out; for ``dose`` an `AdditionTable`.
    because : callable
        ``because(recipe) -> str``: the reason, or the caution, in words.
    severity : {"stop", "warn", "note"} or None
        Of a caution: ``stop`` is never suggested and never planned for a blind check. None: ``warn`` where the feature
        is 1, ``note`` where it is between 0 and 1.
    depends_on : tuple of path or text
        What the feature rests on beyond the plugin's own code and settings: files or folders that it reads (as
        `pathlib.Path`, relative to the plugin's file), or a text that changes with it. Where it is another, all is
        learned anew. A plugin may have a ``depends_on`` of its own beside ``PAIRING_API``.
    column : str or None
        Name of a column of the needed dose that the model has anyway, one of `CORE_COLUMNS`. The prior then informs
        that column instead of adding a second one that says the same.
    """

    id: str
    summary: str
    source: str
    acts_on: str
    feature: Callable[[Any], NDArray[Any]]
    because: Callable[[Recipe], str]
    prior_mean: float = 0.0
    prior_sd: float = 1.0
    needs: tuple[str, ...] = ()
    column: str | None = None
    severity: str | None = None
    depends_on: tuple[str | PathLike[str], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Command:
    """A command of its own for the command line, run as ``pairing NAME``.

    Attributes
    ----------
    name : str
        Lower case with hyphens; may not be one that the tool has already.
    summary : str
        One line for the help text.
    add_arguments : callable
        ``add_arguments(parser)`` with an `argparse.ArgumentParser`.
    run : callable
        ``run(arguments) -> int or None``, the exit code.
    """

    name: str
    summary: str
    run: Callable[[argparse.Namespace], int | None]
    add_arguments: Callable[[argparse.ArgumentParser], None] = lambda parser: None


@dataclass(frozen=True, kw_only=True)
class View:
    """A page of its own in the dashboard.

    Attributes
    ----------
    name : str
        Lower case with hyphens; the page's address.
    title : str
        What the navigation shows.
    show : callable
        ``show(bench, model)`` draws the page with Streamlit, which it imports itself when called. A fault in it is
        shown as a card on that page only.
    summary : str
        One sentence under the title.
    """

    name: str
    title: str
    show: Callable[[Any, Any], None]
    summary: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class LogEvent:
    """A change of trials that was just stored, as a listener hears of it. Since 1.1.

    Attributes
    ----------
    kind : {"log", "load", "correct", "undo"}
    revision : int
        The bench's last revision then.
    trial_ids : tuple of str
        The trials that it is about.
    readings : DataFrame
        Their rows of the ``readings`` table as they stand now; a trial that was taken back has none.
    """

    kind: str
    revision: int
    trial_ids: tuple[str, ...]
    readings: pd.DataFrame


@dataclass(frozen=True, kw_only=True)
class Composition:
    """What a table says of one drink or foodstuff, found by its name. Since 1.1.

    Attributes
    ----------
    name : str
        As the table has it.
    source : str
        The table, its edition and the entry: each value is shown with it.
    values : mapping of column to number
        Number columns of the ``bases`` table in their own units, such as ``fat_g_per_100g``. What the table does not
        say is left out: unknown is never zero.
    ranges : mapping of column to (low, high)
        What the table gives beside a value, where it gives a range.

    Examples
    --------
    >>> Composition(name="Oats, rolled", source="an invented table", values={"fat_g_per_100g": 7.1}).values
    {'fat_g_per_100g': 7.1}
    """

    name: str
    source: str
    values: Mapping[str, float]
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)


def from_collections(sets: Iterable[Iterable[str]]) -> CoUse:
    """Return the co-use graph of recipes given as sets of names; see `pairing.graph.from_collections`."""
    from pairing.graph import collections

    return collections.from_collections(sets)
