"""Checking what is asked about every recipe: scoring rules, hard limits and goals, all as `HostedRule`."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import wraps
from typing import Any

import numpy as np

from pairing.api import CORE_COLUMNS, Rule
from pairing.errors import PluginError, nearest
from pairing.host.fields import check_call, check_number, check_text, named, remade
from pairing.host.scoring import Clock
from pairing.model.caution import SEVERITIES
from pairing.model.columns import BASES, FLAVOURINGS
from pairing.model.served import SERVED_COLUMNS

__all__ = ["HostedRule", "columns_for", "hosted_goal", "hosted_limit", "hosted_rule"]

_NOTE = re.compile(r"[^:;@]*(@aftertaste)?")
_ACTS_ON = ("liking", "dose", "off-note", "caution")
MOST_PARTS = 50
"""Features that one rule may have (our choice)."""
_PRIORS = {
    "liking": (4.0, 4.0, "liking points"),
    "dose": (3.0, 3.0, "log dose"),
    "off-note": (3.0, 3.0, "log odds"),
    "caution": (4.0, 4.0, "points"),
}
"""Largest prior mean (either sign) and sd: half the liking scale; a factor of 20 in dose, or in the odds of a note."""

LEAST_SD = 0.01
"""Least prior sd as a share of the largest: 0.04 points, 0.03 log dose (our choice)."""


@dataclass(frozen=True, kw_only=True)
class HostedRule(Rule):
    """A rule under its full name ``plugin:id``, with a clock that counts the time it takes.

    A hard limit of the planner acts on ``limit`` (its feature is 1 where a recipe passes), a goal on ``goal``.
    """

    clock: Clock = field(default_factory=Clock, compare=False, repr=False)


def columns_for(acts_on: str) -> frozenset[str]:
    """Return the columns that a rule may name in ``needs``."""
    names = {f"base_{c.name}" for c in BASES.columns if c.name != "base_id"} | set(FLAVOURINGS.names)
    return frozenset(names | {"dose_g_per_kg"} | (set() if acts_on == "dose" else set(SERVED_COLUMNS)))


def hosted_rule(plugin: str, thing: Any) -> HostedRule:
    """Return a scoring rule under its full name, or refuse it."""
    name = named(plugin, thing, "id")
    for attribute in ("summary", "source"):
        check_text(thing, attribute)
    acts_on = getattr(thing, "acts_on", None)
    if acts_on not in _ACTS_ON:
        raise PluginError(f"acts_on is {acts_on!r}", f"use one of: {', '.join(_ACTS_ON)}")
    _check_prior(thing, acts_on)
    check_call(thing, "feature", 1)
    check_call(thing, "because", 1, 2)
    severity = _severity(thing, acts_on)
    changed = {"needs": _needs(thing, acts_on), "column": _column(thing, acts_on), "parts": _parts(thing, acts_on)}
    note = _note(thing, acts_on)
    return remade(HostedRule, thing, id=f"{plugin}:{name}", severity=severity, note=note, **changed)


def _note(thing: Any, acts_on: str) -> str:
    note = getattr(thing, "note", "")
    if not isinstance(note, str) or bool(note.strip()) != (acts_on == "off-note") or not _NOTE.fullmatch(note):
        wanted = "a word such as 'beany'" if acts_on == "off-note" else "nothing, for it acts on no off-note"
        raise PluginError(f"note is {note!r}, {wanted} is needed", "name one off-note, as it is logged")
    return note.strip().casefold()


def _severity(thing: Any, acts_on: str) -> str | None:
    severity = getattr(thing, "severity", None)
    if severity is None or (acts_on == "caution" and severity in SEVERITIES):
        return severity
    raise PluginError(
        f"severity is {severity!r}, allowed for a rule on caution is one of: {', '.join(SEVERITIES)}", "leave it out"
    )


def _check_prior(thing: Any, acts_on: str) -> None:
    most_mean, most_sd, unit = _PRIORS[acts_on]
    check_number(thing, "prior_mean", -most_mean, most_mean, unit)
    verdict = "a prior that no cup can move is a verdict: widen it"
    check_number(thing, "prior_sd", LEAST_SD * most_sd, most_sd, unit, verdict)


def _needs(thing: Any, acts_on: str) -> tuple[str, ...]:
    needs = getattr(thing, "needs", ())
    if isinstance(needs, str) or not all(isinstance(n, str) for n in needs):
        raise PluginError(f"needs is {needs!r}, a tuple of column names is needed", "write needs=('base_ph',)")
    for need in needs:
        if need not in (known := columns_for(acts_on)):
            raise PluginError(f"needs names {need!r}, which is no column", nearest(need, known))
    return tuple(needs)


def _column(thing: Any, acts_on: str) -> str | None:
    column = getattr(thing, "column", None)
    if column is None or (acts_on == "dose" and column in CORE_COLUMNS):
        return column
    raise PluginError(
        f"column is {column!r}, allowed for a rule on dose is one of: {', '.join(CORE_COLUMNS)}", "leave it out"
    )


def _parts(thing: Any, acts_on: str) -> tuple[float | str, ...]:
    parts = getattr(thing, "parts", ())
    if isinstance(parts, str) or not all(isinstance(part, str | int | float) for part in parts):
        raise PluginError(f"parts is {parts!r}, a tuple of numbers or of names is needed", "write parts=(0, 5, 10)")
    parts = tuple(parts)
    if not parts:
        return ()
    if acts_on not in ("liking", "dose") or getattr(thing, "column", None):
        raise PluginError("parts are for rules on liking or dose that bring columns of their own", "leave parts out")
    if not 2 <= len(parts) <= MOST_PARTS or len(set(parts)) < len(parts):
        told = f"parts is {parts!r}, allowed are 2 to {MOST_PARTS} that differ"
        raise PluginError(told, "a curve needs few points: the prior fills what cups do not say")
    curve = [part for part in parts if not isinstance(part, str)]
    if curve and (len(curve) < len(parts) or sorted(curve) != curve):
        raise PluginError(f"parts is {parts!r}, numbers have to ascend and stand without names", "sort them")
    return parts


def hosted_limit(plugin: str, thing: Any) -> HostedRule:
    """Return a hard limit of the planner as what is asked for every candidate, or refuse it."""
    return _wanted("limit", plugin, thing, "passes")


def hosted_goal(plugin: str, thing: Any) -> HostedRule:
    """Return a goal of the planner as what is asked for every candidate, or refuse it; its points: the prior mean."""
    check_number(thing, "points", 0.0, _PRIORS["liking"][0], "liking points")
    return _wanted("goal", plugin, thing, "feature", float(thing.points))


def _wanted(acts_on: str, plugin: str, thing: Any, asked: str, points: float = 0.0) -> HostedRule:
    for attribute in ("summary", "source"):
        check_text(thing, attribute)
    check_call(thing, asked, 1)
    check_call(thing, "because", 1, 2)
    call = getattr(thing, asked)
    return HostedRule(
        id=f"{plugin}:{named(plugin, thing, 'id')}",
        summary=thing.summary,
        source=thing.source,
        acts_on=acts_on,
        feature=_as_feature(call) if acts_on == "limit" else call,
        because=thing.because,
        needs=_needs(thing, acts_on),
        prior_mean=points,
    )


def _as_feature(passes: Callable[[Any], Any]) -> Callable[[Any], Any]:
    @wraps(passes)
    def feature(table: Any) -> Any:
        found = np.asarray(passes(table))
        if found.dtype != np.bool_:
            raise PluginError(f"passes returned {found.dtype} values, True or False is needed", "return a comparison")
        return found

    return feature
