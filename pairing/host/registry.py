"""pluggy's registry, in which every hook of a plugin is registered by itself, and each call goes through the guard.

pluggy checks the parameters, puts the calls in order and stops at the first result, as plugin authors know it; one hook
that it refuses leaves the plugin's others where they are.
"""

from __future__ import annotations

import functools
import inspect
import itertools
import time
import types
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import pluggy

from pairing import hookspecs
from pairing.api import hookimpl
from pairing.errors import PluginError, nearest
from pairing.host import guard
from pairing.host.objects import checked

__all__ = ["BRINGING", "HOOKS", "MARK", "Brought", "PerPlugin", "new_registry", "register"]

HOOKS: dict[str, tuple[str, ...]] = {
    name: tuple(inspect.signature(getattr(hookspecs, name)).parameters) for name in hookspecs.__all__
}
"""Names of the hooks with the names of their parameters."""
MARK = f"{hookimpl.project_name}_impl"
"""Attribute that ``@hookimpl`` sets on a function, with its options."""
MOST_OBJECTS = 10_000
"""Objects of one hook beyond which it is taken never to end."""


class PerPlugin(dict[str, Any]):
    """An argument of a hook, of which every plugin is handed its own part."""


@dataclass(frozen=True)
class Brought:
    """What one plugin's hook returned: its objects, still to be checked, and how long it took."""

    plugin: str
    hook: Callable[..., Any]
    things: tuple[Any, ...]
    seconds: float


class _Registry(pluggy.PluginManager):
    """pluggy's own, which looks at what stands in a namespace alone, not at the two dozen methods of every object."""

    def parse_hookimpl_opts(self, plugin: object, name: str) -> pluggy.HookimplOpts | None:
        return super().parse_hookimpl_opts(plugin, name) if name in vars(plugin) else None


def new_registry() -> pluggy.PluginManager:
    """Return a registry that knows the hooks and no plugin."""
    registry = _Registry(hookimpl.project_name)
    registry.add_hookspecs(hookspecs)
    return registry


def register(
    registry: pluggy.PluginManager, plugin: str, name: str, function: Callable[..., Any], *, watched: bool = True
) -> str:
    """Add one hook of a plugin and return which hook it is, empty if it is optional and not known here.

    Parameters
    ----------
    registry : PluginManager
    plugin : str
    name : str
        Of the function; its mark may name another hook (``specname``).
    function : callable
    watched : bool
        False where whoever loads watches its hooks that bring objects, all of them at once.

    Raises
    ------
    PluginError
        When it is not marked, no known hook, a wrapper or asynchronous, or asks for what the hook does not hand over.
    """
    options = getattr(function, MARK, None)
    if options is None:
        raise PluginError(f"{name} is not marked as a hook", "write @hookimpl above it, or rename it")
    hook = options.get("specname") or name
    if hook not in HOOKS:
        if options.get("optionalhook"):
            return ""
        raise PluginError(f"{hook} is no hook", nearest(hook, HOOKS))
    if options.get("wrapper") or options.get("hookwrapper"):
        raise PluginError(f"{name} is a wrapper", "return its own objects: no plugin stands round another's hooks")
    if inspect.iscoroutinefunction(function) or inspect.isasyncgenfunction(function):
        raise PluginError(f"{name} is asynchronous", "write a plain function")
    alone = types.SimpleNamespace(**{name: _guarded(plugin, hook, function, watched or hook not in BRINGING)})
    try:
        registry.register(alone, f"{plugin}:{name}")
    except pluggy.PluginValidationError as error:
        raise PluginError(" ".join(str(error).split()), f"write {name}({', '.join(HOOKS[hook])})") from None
    return hook


def _guarded(plugin: str, hook: str, function: Callable[..., Any], watched: bool) -> Callable[..., Any]:
    """Return what pluggy calls in place of a hook: it looks and is marked the same, and never raises unless strict."""
    receive = _RECEIVE.get(hook)

    def own(value: Any) -> Any:
        return value[plugin] if isinstance(value, PerPlugin) else value

    @functools.wraps(function)
    def guarded(*values: Any, **named: Any) -> Any:
        started = time.perf_counter()

        def call() -> Any:
            found = function(*map(own, values), **{name: own(value) for name, value in named.items()})
            return receive(plugin, found) if receive else _several(found)

        about = {"plugin": plugin, "stage": "hook", "hook": hook, "defined": function, "watched": watched}
        found = guard.gathered(call, **about)
        return found if receive else Brought(plugin, function, found or (), time.perf_counter() - started)

    return guarded


def _several(things: Iterable[Any]) -> tuple[Any, ...]:
    if isinstance(things, str | Mapping) or not isinstance(things, Iterable):
        raise PluginError(f"it returned {type(things).__name__}, a list is needed", "return [...], empty for nothing")
    found = tuple(itertools.islice(things, MOST_OBJECTS + 1))
    if len(found) > MOST_OBJECTS:
        raise PluginError(f"it brings more than {MOST_OBJECTS} objects", "does it ever end? bring fewer")
    return found


def _table(_: str, found: Any) -> Any:
    if found is not None and not hasattr(found, "columns"):
        raise TypeError(f"it returned {type(found).__name__}, a DataFrame or None is needed")
    return found


def _nothing(*_: Any) -> None:
    """Whatever a listener returns says nothing."""


def _entries(plugin: str, found: Any) -> tuple[Any, ...]:
    """Keep the entries of a look-up that are good; each of the others is a fault of its own."""
    hook = "pairing_compositions"
    about: dict[str, Any] = {"plugin": plugin, "stage": "object", "hook": hook}
    kept = (guard.gathered(partial(checked, hook, plugin, thing), **about) for thing in _several(found))
    return tuple(thing for thing in kept if thing is not None)


_RECEIVE: dict[str, Callable[[str, Any], Any]] = {
    "pairing_compositions": _entries,
    "pairing_read_trials": _table,
    "pairing_trial_logged": _nothing,
    "pairing_logged": _nothing,
}
"""What becomes of what a hook returns, where that is not a number of objects."""
BRINGING = tuple(hook for hook in HOOKS if hook not in _RECEIVE)
"""Hooks that are called once, at load, and bring objects."""
