"""Loading plugins: import, handshake, hooks and objects, one after the other, each behind the guard."""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import re
import sys
import time
import tomllib
import types
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pluggy

from pairing import hookspecs
from pairing.errors import PluginError, UnknownIdError, first_few, nearest
from pairing.host.find import Found, find, plugin_name
from pairing.host.guard import Fault, attempt
from pairing.host.handshake import check_api, check_hook, marked
from pairing.host.host import Host, Plugin
from pairing.host.objects import checked, name_of
from pairing.host.trusted import how_to_trust

__all__ = ["SETTINGS_FILE", "load", "load_module"]

SETTINGS_FILE = "plugins.toml"
"""File within a bench that holds the plugins' settings, one table per plugin."""
MOST_OBJECTS = 10_000
"""Objects of one hook beyond which it is taken never to end."""
NOT_TRUSTED = "the files in this bench's plugin folder do not run until you say so"
_NAME = re.compile(r"[a-z0-9][a-z0-9.-]*")
_LISTS = {
    "pairing_bases": "bases",
    "pairing_flavourings": "flavourings",
    "pairing_rules": "rules",
    "pairing_commands": "commands",
    "pairing_views": "views",
}
_IDS = ("id", "base_id", "flavouring_id", "name")


def load(
    bench_folder: str | Path | None = None,
    only: str | Iterable[str] | None = None,
    strict: bool = False,
    settings: Mapping[str, Mapping[str, Any]] | None = None,
) -> Host:
    """Find, import and check all plugins. A fault never stops the others.

    Parameters
    ----------
    bench_folder : path, optional
        The bench whose ``plugins/*.py`` are plugins too and whose ``plugins.toml`` holds their settings.
    only : text ``a,b`` or names, optional
        Load these alone; empty loads none. None loads all.
    strict : bool
        Raise on the first fault, for authors and automatic checks.
    settings : mapping of plugin name to mapping, optional
        Instead of the file.

    Returns
    -------
    Host

    Raises
    ------
    UnknownIdError
        When ``only`` names a plugin that is not there.
    PluginError
        Only when strict.
    """
    folder = Path(bench_folder) if bench_folder is not None else None
    found = find(folder)
    chosen = _chosen(only, found)
    loader = _Loader(folder, strict)
    loader.read_settings(settings, {f.name for f in found})
    for candidate in found:
        if chosen is not None and candidate.name not in chosen:
            loader.leave_out(candidate, "left out", "not among --plugins")
        elif candidate.trusted:
            loader.add(candidate)
        else:
            loader.leave_out(candidate, "not trusted", NOT_TRUSTED)
    loader.name_untrusted()
    return loader.host()


def load_module(module: Any, name: str, settings: Mapping[str, Any] | None = None, strict: bool = False) -> Host:
    """Check one plugin that is imported already and return a host with nothing else: for tests of a plugin.

    Parameters
    ----------
    module : module
    name : str
        What to call the plugin.
    settings : mapping, optional
        Its settings.
    strict : bool
        Raise on the first fault.
    """
    loader = _Loader(None, strict)
    loader.read_settings({name: settings or {}}, {plugin_name(name)})
    loader.add(Found(plugin_name(name), "module", "0", lambda: module))
    return loader.host()


def _chosen(only: str | Iterable[str] | None, found: list[Found]) -> set[str] | None:
    if only is None:
        return None
    names = {plugin_name(n) for n in (only.split(",") if isinstance(only, str) else only) if n.strip()}
    known = {f.name for f in found}
    if missing := sorted(names - known):
        raise UnknownIdError(f"no plugin {missing[0]!r}", nearest(missing[0], known))
    return names


class _Loader:
    """Gathers what becomes the host."""

    def __init__(self, folder: Path | None, strict: bool) -> None:
        self._folder, self._strict = folder, strict
        self._manager = pluggy.PluginManager("pairing")
        self._manager.add_hookspecs(hookspecs)
        self._settings: dict[str, Mapping[str, Any]] = {}
        self._plugins: list[Plugin] = []
        self._faults: list[Fault] = []
        self._lists: dict[str, list[Any]] = {name: [] for name in (*_LISTS.values(), "readers", "listeners")}

    def host(self) -> Host:
        lists: dict[str, Any] = {name: tuple(found) for name, found in self._lists.items()}
        return Host(plugins=tuple(self._plugins), faults=tuple(self._faults), strict=self._strict, **lists)

    def read_settings(self, given: Mapping[str, Mapping[str, Any]] | None, known: set[str]) -> None:
        """Take the settings, and point out those of a plugin that is not there."""
        if given is None:
            path = self._folder / SETTINGS_FILE if self._folder else None
            if path is None or not path.exists():
                return
            given = self._try(partial(_toml, path), plugin=SETTINGS_FILE, stage="settings") or {}
        for name, values in given.items():
            self._settings[plugin_name(name)] = values if isinstance(values, Mapping) else {}
            if plugin_name(name) not in known:
                text = "settings for a plugin that is not installed"
                self._tell(Fault(plugin=name, stage="settings", error=text, remedy=nearest(name, known), note=True))

    def leave_out(self, found: Found, state: str, reason: str) -> None:
        self._plugins.append(
            Plugin(name=found.name, version=found.version, origin=found.origin, state=state, reason=reason)
        )

    def name_untrusted(self) -> None:
        """Say in one line which plugins do not run for want of trust."""
        names = [plugin.name for plugin in self._plugins if plugin.state == "not trusted"]
        if names and self._folder:
            error, remedy = f"not trusted: {NOT_TRUSTED}", how_to_trust(self._folder)
            self._tell(Fault(plugin=first_few(names), stage="trust", error=error, remedy=remedy))

    def add(self, found: Found) -> None:
        """Load one plugin and note how it fared."""
        before, started = len(self._faults), time.perf_counter()
        with contextlib.redirect_stdout(sys.stderr):  # what a plugin prints must not end up within a JSON answer
            plugin = self._load(found)
        mine = [f for f in self._faults[before:] if not f.note]
        state = "off" if plugin.api is None else "partly" if mine else "loaded"
        reason = "; ".join(replace(f, plugin="").line.removeprefix("plugin : ") for f in mine)
        self._plugins.append(replace(plugin, state=state, reason=reason, load_s=time.perf_counter() - started))

    def _load(self, found: Found) -> Plugin:
        plugin = Plugin(name=found.name, version=found.version, origin=found.origin, state="off")
        if self._try(partial(self._check_name, found), plugin=found.name, stage="find") is None:
            return plugin
        module = self._try(found.bring, plugin=found.name, stage="import")
        if module is None:
            return plugin
        api = self._try(partial(check_api, module), plugin=found.name, stage="handshake")
        if api is None:
            return plugin
        functions = {
            name: function
            for name, function in self._try(lambda: list(marked(module)), plugin=found.name, stage="handshake") or ()
            if self._try(partial(_accepted, name, function), plugin=found.name, stage="handshake")
        }
        self._manager.register(types.SimpleNamespace(**functions), found.name)
        objects = {name: self._call(found.name, name) for name in functions}
        settings = self._settings.get(found.name, {})
        digest = self._try(partial(_digest, module, settings), plugin=found.name, stage="handshake") or ""
        return replace(plugin, api=api, hooks=tuple(functions), objects=MappingProxyType(objects), digest=digest)

    def _check_name(self, found: Found) -> str:
        if not _NAME.fullmatch(found.name):
            raise PluginError(f"{found.origin}: {found.name!r} cannot be a name", "use letters, digits and hyphens")
        if taken := [p.origin for p in self._plugins if p.name == found.name]:
            raise PluginError(f"{found.origin}: the name is taken by {taken[0]}", "rename or remove one of them")
        return found.name

    def _call(self, plugin: str, hook: str) -> int:
        """Call one hook of one plugin, or keep it for later, and return how many objects it brought."""
        (impl,) = (i for i in getattr(self._manager.hook, hook).get_hookimpls() if i.plugin_name == plugin)
        if hook not in _LISTS:
            kind = "readers" if hook == "pairing_read_trials" else "listeners"
            self._lists[kind].append((plugin, partial(_hand, impl.function, len(impl.argnames))))
            return 1
        handed = {"settings": MappingProxyType({**self._settings.get(plugin, {}), "folder": self._folder})}
        arguments = [handed[name] for name in impl.argnames]
        things = self._try(lambda: _several(impl.function(*arguments)), plugin=plugin, stage="hook", hook=hook)
        kept = self._lists[_LISTS[hook]]
        before = len(kept)
        for thing in things or ():
            self._keep(plugin, hook, thing, kept)
        return len(kept) - before

    def _keep(self, plugin: str, hook: str, thing: Any, kept: list[Any]) -> None:
        about = {"plugin": plugin, "stage": "object", "hook": hook}
        name = self._try(partial(name_of, thing), **about)
        made = name and self._try(lambda: _unused(checked(hook, plugin, thing), kept), subject=name, **about)
        if made is not None:
            kept.append((plugin, made) if hook == "pairing_commands" else made)

    def _try(self, call: Callable[[], Any], **about: str) -> Any:
        result, fault = attempt(call, strict=self._strict, **about)
        if fault:
            self._faults.append(fault)
        return result

    def _tell(self, fault: Fault) -> None:
        if self._strict and not fault.note:
            raise fault.as_error()
        self._faults.append(fault)


def _digest(module: Any, settings: Mapping[str, Any]) -> str:
    """Hash what a plugin's answers rest on, as far as one can see: its file and its settings."""
    try:
        source = Path(getattr(module, "__file__", None) or "").read_bytes()
    except OSError:
        source = b""
    return hashlib.sha256(source + repr(sorted(settings.items())).encode()).hexdigest()[:8]


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise PluginError(
            f"{path.name} cannot be read: {error}", 'write [plugin-name] and then key = "value"'
        ) from None


def _several(things: Iterable[Any]) -> list[Any]:
    found = list(itertools.islice(things, MOST_OBJECTS + 1))
    if len(found) > MOST_OBJECTS:
        raise PluginError(f"it brings more than {MOST_OBJECTS} objects", "does it ever end? bring fewer")
    return found


def _hand(function: Callable[..., Any], n: int, *values: Any) -> Any:
    """Call a hook with as many of the values as it asks for."""
    return function(*values[:n])


def _accepted(name: str, function: Callable[..., Any]) -> bool:
    check_hook(name, function)
    return True


def _unused(made: Any, kept: list[Any]) -> Any:
    ids = {_id(k[1] if isinstance(k, tuple) else k) for k in kept}
    if _id(made) in ids:
        raise PluginError(f"the name {_id(made)!r} is used twice", "rename one of them")
    return made


def _id(thing: Any) -> str:
    return next(value for a in _IDS if (value := getattr(thing, a, None)) is not None)
