"""Settings of plugins: what a plugin declares, checked against what the bench's file says."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pairing.api import Setting
from pairing.api.settings import KINDS
from pairing.errors import PluginError, nearest
from pairing.host.fault import Fault
from pairing.host.fields import check_text, remade

if TYPE_CHECKING:
    from pairing.model.shelf import Shelf

__all__ = ["EACH", "SETTINGS_FILE", "declared_setting", "in_words", "misspelt", "settled"]

SETTINGS_FILE = "plugins.toml"
"""File within a bench that holds the plugins' settings, one table per plugin."""
EACH = ("", "base", "flavouring", "taster", "name")
"""What a setting may have a value for each of."""
_NAME = re.compile(r"[a-z][a-z0-9_]{0,59}")
_OWN = ("folder",)
"""Names that the host itself hands over among the settings."""


def declared_setting(plugin: str, thing: Any) -> Setting:
    """Return a setting that a plugin declares, or refuse it."""
    name = getattr(thing, "name", None)
    if not isinstance(name, str) or not _NAME.fullmatch(name) or name in _OWN:
        raise PluginError(f"name is {name!r}, a short name is needed", "use lower-case letters, digits and underscores")
    check_text(thing, "about")
    for attribute, known in (("kind", KINDS), ("each", EACH)):
        if (value := getattr(thing, attribute, known[0])) not in known:
            raise PluginError(f"{attribute} is {value!r}", f"use one of: {', '.join(filter(None, known))}")
    setting = remade(Setting, thing)
    if setting.choices and setting.kind != "text":
        raise PluginError(f"choices are for texts, the kind is {setting.kind}", "leave choices out")
    if setting.default is not None and setting.kind != "file":
        read_setting(setting, setting.default, None)
    return setting


def settled(
    declared: Sequence[Setting], given: Mapping[str, Any], folder: Path | None, attempt: Callable[..., Any]
) -> dict[str, Any]:
    """Return the settings that a plugin is handed: those given that are right, and defaults where nothing is given.

    Parameters
    ----------
    declared : sequence of Setting
        Empty: nothing is checked.
    given : mapping
        The plugin's table of the file.
    folder : Path or None
        The bench's.
    attempt : callable
        Calls what may refuse a setting, and keeps the fault: ``attempt(call, subject=name)``.
    """
    if not declared:
        return dict(given)
    known = {setting.name: setting for setting in declared}
    found = {s.name: s.default for s in declared if s.default is not None}
    for name, value in given.items():
        if name in known and known[name].each and isinstance(value, Mapping):
            right = {
                key: one
                for key, given_one in value.items()
                if (one := attempt(partial(_one_of, known[name], key, given_one, folder), subject=name)) is not None
            }
        else:
            right = attempt(partial(_read, known, name, value, folder), subject=name)
        if right is not None:
            found[name] = right
    return found


def _read(known: Mapping[str, Setting], name: str, value: Any, folder: Path | None) -> Any:
    if name not in known:
        raise PluginError(f"there is no setting {name!r}", nearest(name, known))
    return read_setting(known[name], value, folder)


def _one_of(setting: Setting, key: str, value: Any, folder: Path | None) -> Any:
    """Read the value for one id: what is wrong with it leaves the others in force."""
    return _value(setting, f"{setting.name} of {key}", value, folder)


def read_setting(setting: Setting, value: Any, folder: Path | None) -> Any:
    """Return the value of a setting as the plugin is handed it, or refuse it.

    Examples
    --------
    >>> read_setting(Setting(name="most", about="The most", kind="number", low=0), 5, None)
    5.0
    """
    if not setting.each:
        return _value(setting, setting.name, value, folder)
    if not isinstance(value, Mapping):
        told = f"{setting.name} is {value!r}, a value for each {setting.each} is needed"
        raise PluginError(told, f"write [plugin.{setting.name}] and below it one line for each")
    return {str(key): _one_of(setting, key, v, folder) for key, v in value.items()}


def _value(setting: Setting, name: str, value: Any, folder: Path | None) -> Any:
    if setting.kind == "yes-no":
        if not isinstance(value, bool):
            raise PluginError(f"{name} is {value!r}", "write true or false")
        return value
    if setting.kind in ("number", "whole"):
        return _number(setting, name, value)
    if not isinstance(value, str) or not value.strip():
        raise PluginError(f"{name} is {value!r}, a text is needed", 'write it in quotes: "…"')
    if setting.choices and value not in setting.choices:
        raise PluginError(f"{name} is {value!r}", nearest(value, setting.choices))
    if setting.kind == "text":
        return value
    path = (folder or Path()) / value
    if not path.exists():
        raise PluginError(f"{name}: there is no {path}", "put the file there, or correct the path")
    return path


def _number(setting: Setting, name: str, value: Any) -> float | int:
    unit = f" {setting.unit}" if setting.unit else ""
    whole = setting.kind == "whole"
    number = isinstance(value, int if whole else int | float) and not isinstance(value, bool) and math.isfinite(value)
    if not number:
        kind = "whole number" if whole else "number"
        raise PluginError(f"{name} is {value!r}, a {kind} is needed", f"write a {kind}{f' of{unit}' if unit else ''}")
    low = -math.inf if setting.low is None else setting.low
    high = math.inf if setting.high is None else setting.high
    if not low <= value <= high:
        raise PluginError(f"{name} is {value:g}{unit}, allowed is {in_words(setting)}", "correct it")
    return value if whole else float(value)


def in_words(setting: Setting) -> str:
    """Say what a setting may be.

    Examples
    --------
    >>> in_words(Setting(name="most", about="The most", kind="number", low=0, high=5, unit="g/kg"))
    'number, 0 to 5 g/kg'
    >>> in_words(Setting(name="names", about="Names", each="flavouring"))
    'text for each flavouring'
    """
    low, high, unit = setting.low, setting.high, setting.unit
    if low is None and high is None:
        span = unit
    else:
        ends = f"{low:g} to {high:g}" if low is not None and high is not None else ""
        span = f"{ends or (f'{low:g} or more' if high is None else f'up to {high:g}')} {unit}".strip()
    what = ", ".join(filter(None, (setting.kind, span, " or ".join(setting.choices))))
    return f"{what} for each {setting.each}" if setting.each else what


def misspelt(
    declared: Mapping[str, Sequence[Setting]], settings: Mapping[str, Mapping[str, Any]], shelf: Shelf
) -> Iterator[Fault]:
    """Yield a fault for each id in the settings that is not on the shelf: a limit for nobody stops nothing.

    Parameters
    ----------
    declared : mapping of plugin to settings
    settings : mapping of plugin to its settings as read
    shelf : Shelf
    """
    known: dict[str, Iterable[str]] = {
        "base": shelf.bases,
        "flavouring": shelf.flavourings,
        "taster": shelf.tasters,
    }
    for plugin, all_of_it in declared.items():
        for setting in all_of_it:
            for key in settings.get(plugin, {}).get(setting.name, ()) if setting.each in known else ():
                if key not in known[setting.each]:
                    yield Fault(
                        plugin=plugin,
                        stage="settings",
                        subject=f"{setting.name}.{key}",
                        error=f"{SETTINGS_FILE} names {key!r}, which is no {setting.each} of this bench",
                        remedy=nearest(key, known[setting.each]),
                    )
