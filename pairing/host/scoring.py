"""Asking rules: for their features over a table, which are checked, and for their reasons in words."""

from __future__ import annotations

import time
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pairing.api import AdditionTable, Recipe, RecipeTable, RuleLike
from pairing.errors import PluginError, first_few
from pairing.host import core
from pairing.host.fault import Fault
from pairing.host.fields import takes
from pairing.host.guard import attempt
from pairing.host.tables import addition_table_of, recipe_table_of
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.model.tables import backwards

__all__ = ["Clock", "because", "features", "width"]

SLOW_S = 0.25
"""A rule that takes longer than this over one table is named in the answer (our choice)."""
TOLERANCE = 1e-9
ASKED_AGAIN = 16
"""Recipes of each table that a rule is asked about a second time, in another order (our choice)."""
SAME = 1e-6
"""What two answers about one recipe may differ by: sums in another order round otherwise (our choice)."""

Lacking = dict[str, tuple[str, ...]]
"""What a rule needs and is not known, in words, with the ids for which it is not."""


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
    matrix : array, shape (len(table), n)
        In [-1, 1]: a column for each rule, for one with parts a column for each part. A faulty rule's columns are 0, as
        are rows in which a column that the rule needs is unknown.
    faults : tuple of Fault
        Faults, and notes on unknown values and slow rules.

    Raises
    ------
    PluginError
        Only when strict.
    """
    ends = np.cumsum([width(rule) for rule in rules], dtype=int).tolist()
    matrix = np.zeros((len(table), ends[-1] if ends else 0))
    faults: list[Fault] = []
    before = core.seen() if rules else ()
    for end, rule in zip(ends, rules, strict=True):
        blank = Fault(plugin=rule.id.partition(":")[0], stage="scoring", subject=rule.id, error="", note=True)
        _, fault = attempt(
            getattr(rule.feature, "ready", _here),
            plugin=blank.plugin,
            stage=blank.stage,
            subject=rule.id,
            strict=strict,
            watched=False,
        )
        if fault is not None:
            faults.append(fault)
            continue
        started = time.perf_counter()
        with np.errstate(all="ignore"):
            found, fault = attempt(
                partial(_scored, rule, table),
                plugin=blank.plugin,
                stage=blank.stage,
                subject=rule.id,
                defined=rule.feature,
                strict=strict,
                watched=False,
            )
        spent = time.perf_counter() - started
        if clock := getattr(rule, "clock", None):
            clock.add(len(table), spent)
        if fault is not None:
            faults.append(fault)
        elif found is not None:
            values, unknown = found
            matrix[:, end - width(rule) : end] = values if values.ndim == 2 else values[:, None]
            faults += [replace(blank, error=fact, ids=ids) for fact, ids in unknown.items()]
        if fault is None and spent > SLOW_S:
            faults.append(replace(blank, stage="slow", error=f"took {spent:.2f} s for {len(table)} rows"))
    plugins = first_few(dict.fromkeys(rule.id.partition(":")[0] for rule in rules))
    _, replaced = attempt(partial(core.check_core, before), plugin=plugins, stage="core", strict=strict, watched=False)
    return matrix, (*faults, *([replaced] if replaced else []))


def _here() -> None:
    """Nothing has to be ready for a rule that runs in this process."""


def width(rule: RuleLike) -> int:
    """How many features a rule has."""
    return len(getattr(rule, "parts", ())) or 1


def _scored(rule: RuleLike, table: RecipeTable | AdditionTable) -> tuple[NDArray[np.float64], Lacking]:
    found = values = _shaped(
        rule, rule.feature(copy(table)), len(table)
    )  # a table of its own: what it does to it is gone
    lacking: Lacking = {}
    for column in rule.needs:
        known = table.known(column)
        if not known.all():
            values = np.where(known if values.ndim == 1 else known[:, None], values, 0.0)
            state = "open" if column == "dose_g_per_kg" else "unknown"
            lacking[f"says nothing where {column} is {state}"] = table.unknown_ids(column)
    if not np.isfinite(values).all():
        row, value = _first(values, ~np.isfinite(values))
        raise PluginError(
            f"feature is {value} in row {row}, a finite number is needed", "add the unknown column to needs"
        )
    if values.size and np.abs(values).max() > 1 + TOLERANCE:
        row, value = _first(values, np.abs(values) == np.abs(values).max())
        raise PluginError(f"feature is {value:g} in row {row}, allowed is -1 to 1", "scale or clip it")
    _ask_again(rule, table, found)
    return values, lacking


def _ask_again(rule: RuleLike, table: RecipeTable | AdditionTable, values: NDArray[np.float64]) -> None:
    """Ask about some of the recipes in another order: the same recipe has the same answer whatever surrounds it."""
    if not len(table):
        return
    other, rows = backwards(table, ASKED_AGAIN)
    again = _shaped(rule, rule.feature(other), len(rows))
    differ = ~np.isclose(again, values[rows], rtol=0.0, atol=SAME, equal_nan=True)
    if differ.any():
        place, now = _first(again, differ)
        before = _first(values[rows], differ)[1]
        raise PluginError(
            f"feature was {before:g} in row {rows[place]}, and {now:g} when asked about the same "
            "recipe among others: it depends on other rows, on what was asked before or on chance",
            "let it rest on nothing but the recipe",
        )


def _first(values: NDArray[np.float64], where: NDArray[np.bool_]) -> tuple[int, float]:
    """Row and value of the first entry that a condition holds for."""
    place = tuple(np.argwhere(where)[0])
    return int(place[0]), float(values[place])


def _shaped(rule: RuleLike, result: Any, n: int) -> NDArray[np.float64]:
    values = np.asarray(result)
    if values.dtype.kind not in "biuf":
        raise PluginError(f"feature returned {values.dtype} values, numbers are needed", "return an array of floats")
    parts = len(getattr(rule, "parts", ()))
    if values.shape != (shape := (n, parts) if parts else (n,)):
        what = "one number per row of the table, and part" if parts else "one number per row of the table"
        raise PluginError(f"feature has shape {values.shape}, {shape} is needed", f"return {what}")
    return values.astype(np.float64)


def because(
    rule: RuleLike, recipe: Recipe, shelf: Shelf | None = None, *, strict: bool = False
) -> tuple[str, Fault | None]:
    """Ask a rule for its reason in words; its summary stands in when that fails.

    Parameters
    ----------
    rule : RuleLike
    recipe : Recipe
    shelf : Shelf, optional
        For a rule that wants to see the facts of that recipe, too.
    strict : bool
        Raise instead.
    """

    def ask() -> str:
        if takes(rule.because, 1):
            return _text(rule.because(recipe))
        if shelf is None:
            return rule.summary
        table = addition_table_of if rule.acts_on == "dose" else recipe_table_of
        return _text(rule.because(recipe, table(shelf, Recipes.of(shelf, [recipe]))))

    text, fault = attempt(
        ask,
        plugin=rule.id.partition(":")[0],
        stage="because",
        subject=rule.id,
        strict=strict,
    )
    return (rule.summary if text is None else text), fault


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise PluginError(f"because returned {value!r}, a sentence is needed", "return text")
    return "".join(c for c in " ".join(value.split()) if c.isprintable())
