"""Checking what hooks return: every object is taken apart by its fields and made anew, or refused.

By fields and never by `isinstance`: the dashboard's reload replaces modules, and a plugin may bring classes of its own.
"""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any, TypeVar

from pairing.api import CORE_COLUMNS, Base, Command, Composition, Flavouring, Rule, View
from pairing.errors import PluginError, nearest
from pairing.host.guard import Clock
from pairing.model.caution import SEVERITIES
from pairing.model.columns import BASES, FLAVOURINGS
from pairing.nutrition.possible import check_possible

__all__ = ["HostedRule", "checked", "columns_for"]

T = TypeVar("T")
_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,79}")
_ACTS_ON = ("liking", "dose", "caution")
_PRIORS = {"liking": (4.0, 4.0, "liking points"), "dose": (3.0, 3.0, "log dose"), "caution": (4.0, 4.0, "points")}
"""Largest prior mean (either sign) and sd: half the liking scale; a factor of 20 in dose."""

LEAST_SD = 0.01
"""Least prior sd as a share of the largest: 0.04 points, 0.03 log dose (our choice)."""


@dataclass(frozen=True, kw_only=True)
class HostedRule(Rule):
    """A rule under its full name ``plugin:id``, with a clock that counts the time it takes."""

    clock: Clock = field(default_factory=Clock, compare=False, repr=False)


def checked(hook: str, plugin: str, thing: Any) -> Any:
    """Return a copy of what a hook returned under its full name, or refuse it.

    Raises
    ------
    PluginError, TableError
        Naming object, field, value, what is allowed and what to change.
    """
    return _CHECKS[hook](plugin, thing)


def columns_for(acts_on: str) -> frozenset[str]:
    """Return the columns that a rule may name in ``needs``."""
    names = {f"base_{c.name}" for c in BASES.columns if c.name != "base_id"} | set(FLAVOURINGS.names)
    return frozenset(names if acts_on == "dose" else names | {"dose_g_per_kg"})


def _named(plugin: str, thing: Any, attribute: str) -> str:
    name = getattr(thing, attribute, None)
    if not isinstance(name, str) or not _NAME.fullmatch(name.removeprefix(f"{plugin}:")):
        raise PluginError(
            f"{type(thing).__name__}.{attribute} is {name!r}, a short name is needed",
            "use lower-case letters, digits and hyphens",
        )
    return name.removeprefix(f"{plugin}:")


def _remade(kind: type[T], thing: Any, **changed: Any) -> T:
    values = {f.name: getattr(thing, f.name) for f in fields(kind) if f.init and hasattr(thing, f.name)}  # type: ignore[arg-type]
    return kind(**{**values, **changed})


def _base(plugin: str, thing: Any) -> Base:
    made = _remade(Base, thing, base_id=f"{plugin}:{_named(plugin, thing, 'base_id')}")
    check_possible(made)
    return made


def _flavouring(plugin: str, thing: Any) -> Flavouring:
    made = _remade(Flavouring, thing, flavouring_id=f"{plugin}:{_named(plugin, thing, 'flavouring_id')}")
    if made.label_dose is None and made.label_dose_g_per_kg is None:
        raise PluginError("label_dose and label_dose_g_per_kg are both empty", "give the supplier's direction")
    return made


def _rule(plugin: str, thing: Any) -> HostedRule:
    name = _named(plugin, thing, "id")
    for attribute in ("summary", "source"):
        _text(thing, attribute)
    acts_on = getattr(thing, "acts_on", None)
    if acts_on not in _ACTS_ON:
        raise PluginError(f"acts_on is {acts_on!r}", f"use one of: {', '.join(_ACTS_ON)}")
    _check_prior(thing, acts_on)
    for attribute in ("feature", "because"):
        _check_call(thing, attribute, 1)
    severity = _severity(thing, acts_on)
    needs, column = _needs(thing, acts_on), _column(thing, acts_on)
    return _remade(HostedRule, thing, id=f"{plugin}:{name}", needs=needs, column=column, severity=severity)


def _severity(thing: Any, acts_on: str) -> str | None:
    severity = getattr(thing, "severity", None)
    if severity is None or (acts_on == "caution" and severity in SEVERITIES):
        return severity
    raise PluginError(
        f"severity is {severity!r}, allowed for a rule on caution is one of: {', '.join(SEVERITIES)}", "leave it out"
    )


def _check_prior(thing: Any, acts_on: str) -> None:
    most_mean, most_sd, unit = _PRIORS[acts_on]
    for attribute, low, high in (("prior_mean", -most_mean, most_mean), ("prior_sd", LEAST_SD * most_sd, most_sd)):
        value = getattr(thing, attribute, None)
        if not isinstance(value, int | float) or isinstance(value, bool) or not math.isfinite(value):
            raise PluginError(f"{attribute} is {value!r}, a number is needed", f"give it in {unit}")
        if not low <= value <= high:
            verdict = "a prior that no cup can move is a verdict: widen it" if attribute == "prior_sd" else "rescale it"
            raise PluginError(f"{attribute} is {value:g}, allowed is {low:g} to {high:g} {unit}", verdict)


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


def _text(thing: Any, attribute: str) -> None:
    value = getattr(thing, attribute, None)
    if not isinstance(value, str) or not value.strip():
        raise PluginError(f"{attribute} is {value!r}, a sentence is needed", f"say it in {attribute}=…")


def _check_call(thing: Any, attribute: str, n: int) -> None:
    call = getattr(thing, attribute, None)
    if not callable(call):
        raise PluginError(f"{attribute} is {call!r}, a function is needed", f"give a function as {attribute}=…")
    try:
        signature = inspect.signature(call)
    except ValueError:  # built-in functions may have no signature to read
        return
    try:
        signature.bind(*range(n))
    except TypeError:
        raise PluginError(f"{attribute}{signature} does not take {n} value(s)", "change its parameters") from None


def _command(plugin: str, thing: Any) -> Command:
    _named(plugin, thing, "name")
    _text(thing, "summary")
    for attribute in ("add_arguments", "run"):
        _check_call(thing, attribute, 1)
    return _remade(Command, thing)


def _view(plugin: str, thing: Any) -> View:
    _named(plugin, thing, "name")
    _text(thing, "title")
    _check_call(thing, "show", 2)
    return _remade(View, thing, name=f"{plugin}:{_named(plugin, thing, 'name')}")


_STATED = {c.name for c in BASES.columns if c.kind == "number"}
"""Number columns of the bases, which a table of compositions may state."""


def _composition(plugin: str, thing: Any) -> Composition:
    for attribute in ("name", "source"):
        _text(thing, attribute)
    values, ranges = (getattr(thing, attribute, {}) for attribute in ("values", "ranges"))
    if not (isinstance(values, Mapping) and isinstance(ranges, Mapping)):
        raise PluginError("values and ranges have to be mappings of columns", "write values={'fat_g_per_100g': 1.5}")
    for column in (*values, *ranges):
        if column not in _STATED:
            raise PluginError(f"{column!r} is no number column of the bases", nearest(str(column), _STATED))
    for column, (low, high) in ranges.items():
        if not low <= values.get(column, low) <= high:
            raise PluginError(f"the range of {column} is {low} to {high}", "write (low, high), with the value between")
        for end in (low, high):
            Base(base_id="looked-up", name=thing.name, **{column: end})
    Base(base_id="looked-up", name=thing.name, **values)
    return Composition(
        name=thing.name.strip(),
        source=f"{thing.source.strip()} (plugin {plugin})",
        values=MappingProxyType(dict(values)),
        ranges=MappingProxyType(dict(ranges)),
    )


_CHECKS: dict[str, Callable[[str, Any], Any]] = {
    "pairing_bases": _base,
    "pairing_flavourings": _flavouring,
    "pairing_rules": _rule,
    "pairing_commands": _command,
    "pairing_compositions": _composition,
    "pairing_views": _view,
}


def name_of(thing: Any) -> str:
    """Return what to call an object in a message: its own name, or its kind."""
    return next(_names(thing), type(thing).__name__)


def _names(thing: Any) -> Iterator[str]:
    for attribute in ("id", "base_id", "flavouring_id", "name"):
        if isinstance(value := getattr(thing, attribute, None), str):
            yield value
