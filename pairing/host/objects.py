"""Checking what hooks return: every object is taken apart by its fields and made anew, or refused.

By fields and never by `isinstance`: the dashboard's reload replaces modules, and a plugin may bring classes of its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from pairing.api import Attribute, Base, Baseline, Command, Composition, Flavouring, Reader, View, Writer
from pairing.errors import PluginError, nearest
from pairing.host.fields import check_call, check_text, named, remade
from pairing.host.rules import hosted_goal, hosted_limit, hosted_rule
from pairing.host.settings import declared_setting
from pairing.model.columns import BASES, TABLES
from pairing.nutrition.possible import check_possible

__all__ = ["checked"]

OURS = (".csv", ".tsv", ".txt", ".xlsx", ".parquet")
"""Ends of the files that the tool reads without a plugin."""
_SUFFIX = re.compile(r"(\.[A-Za-z0-9_-]{1,20}){1,3}")
_WORD = re.compile(r"[a-z][a-z0-9 _-]{0,39}")


def checked(hook: str, plugin: str, thing: Any) -> Any:
    """Return a copy of what a hook returned under its full name, or refuse it.

    Raises
    ------
    PluginError, TableError
        Naming object, field, value, what is allowed and what to change.
    """
    return _CHECKS[hook](plugin, thing)


def _base(plugin: str, thing: Any) -> Base:
    made = remade(Base, thing, base_id=f"{plugin}:{named(plugin, thing, 'base_id')}")
    check_possible(made)
    return made


def _flavouring(plugin: str, thing: Any) -> Flavouring:
    made = remade(Flavouring, thing, flavouring_id=f"{plugin}:{named(plugin, thing, 'flavouring_id')}")
    if made.label_dose is None and made.label_dose_g_per_kg is None:
        raise PluginError("label_dose and label_dose_g_per_kg are both empty", "give the supplier's direction")
    return made


def _command(plugin: str, thing: Any) -> Command:
    named(plugin, thing, "name")
    check_text(thing, "summary")
    check_call(thing, "add_arguments", 1)
    check_call(thing, "run", 1, 3)
    return remade(Command, thing)


def _view(plugin: str, thing: Any) -> View:
    named(plugin, thing, "name")
    check_text(thing, "title")
    if getattr(thing, "summary", ""):
        check_text(thing, "summary")
    check_call(thing, "show", 2)
    return remade(View, thing, name=f"{plugin}:{named(plugin, thing, 'name')}")


_STATED = {c.name for c in BASES.columns if c.kind == "number"}
"""Number columns of the bases, which a table of compositions may state."""


def _composition(plugin: str, thing: Any) -> Composition:
    for attribute in ("name", "source"):
        check_text(thing, attribute)
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


def _reader(plugin: str, thing: Any) -> Reader:
    check_call(thing, "read", 1)
    return remade(Reader, thing, **_format(plugin, thing))


def _writer(plugin: str, thing: Any) -> Writer:
    check_call(thing, "write", 2)
    tables = tuple(getattr(thing, "tables", ()))
    for table in tables:
        if table not in TABLES:
            raise PluginError(f"tables names {table!r}, which is no table", nearest(str(table), TABLES))
    return remade(Writer, thing, tables=tables, **_format(plugin, thing))


def _format(plugin: str, thing: Any) -> dict[str, Any]:
    check_text(thing, "summary")
    given = getattr(thing, "suffixes", ())
    suffixes = (given,) if isinstance(given, str) else tuple(given)
    if taken := [suffix for suffix in suffixes if str(suffix).casefold() in OURS]:
        raise PluginError(f"suffixes names {taken[0]}, which the tool reads itself", "write a longer one: .cups.csv")
    bad = [suffix for suffix in suffixes if not isinstance(suffix, str) or not _SUFFIX.fullmatch(suffix)]
    if bad or not suffixes:
        raise PluginError(f"suffixes is {given!r}, ends of file names are needed", 'write suffixes=(".cups",)')
    return {"id": f"{plugin}:{named(plugin, thing, 'id')}", "suffixes": tuple(s.casefold() for s in suffixes)}


def _baseline(plugin: str, thing: Any) -> Baseline:
    for attribute in ("summary", "source"):
        check_text(thing, attribute)
    check_call(thing, "guess", 2)
    return remade(Baseline, thing, id=f"{plugin}:{named(plugin, thing, 'id')}")


def _attribute(_: str, thing: Any) -> Attribute:
    for attribute in ("name", "question", "source", "low", "high"):
        check_text(thing, attribute)
    if not _WORD.fullmatch(thing.name):
        raise PluginError(f"name is {thing.name!r}, a word is needed", "use lower-case letters, such as sweetness")
    return remade(Attribute, thing)


_CHECKS: dict[str, Callable[[str, Any], Any]] = {
    "pairing_attributes": _attribute,
    "pairing_baselines": _baseline,
    "pairing_bases": _base,
    "pairing_commands": _command,
    "pairing_compositions": _composition,
    "pairing_flavourings": _flavouring,
    "pairing_goals": hosted_goal,
    "pairing_limits": hosted_limit,
    "pairing_readers": _reader,
    "pairing_rules": hosted_rule,
    "pairing_settings": declared_setting,
    "pairing_views": _view,
    "pairing_writers": _writer,
}
