"""The first questions to a plugin: which API it was written for, and whether its hooks are ones that exist."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from typing import Any

from pairing import hookspecs
from pairing.api import API_VERSION, hookimpl
from pairing.errors import PluginError, nearest

__all__ = ["HOOKS", "check_api", "check_hook", "marked"]

HOOKS: dict[str, tuple[str, ...]] = {
    name: tuple(inspect.signature(getattr(hookspecs, name)).parameters) for name in hookspecs.__all__
}
"""Names of the hooks with the names of their parameters."""
_MARK = f"{hookimpl.project_name}_impl"
_HOST = ".".join(map(str, API_VERSION))


def check_api(plugin: Any) -> tuple[int, int]:
    """Return the API version that a plugin declares, or refuse it."""
    add = f"write PAIRING_API = {API_VERSION} at the top of the plugin"
    version = getattr(plugin, "PAIRING_API", None)
    if version is None:
        raise PluginError("PAIRING_API is missing", add)
    whole = isinstance(version, tuple | list) and all(type(part) is int for part in version)
    if not whole or len(version) != 2:
        raise PluginError(f"PAIRING_API is {version!r}, two whole numbers are needed", add)
    major, minor = version
    if major != API_VERSION[0]:
        raise PluginError(
            f"PAIRING_API is {major}.{minor}, this host speaks {_HOST}: the first number has to be {API_VERSION[0]}",
            "install the version of the plugin that fits, or port it" if major < API_VERSION[0] else "update pairing",
        )
    if minor > API_VERSION[1]:
        raise PluginError(f"PAIRING_API is {major}.{minor}, newer than {_HOST} of this host", "update pairing")
    return major, minor


def marked(plugin: Any) -> Iterator[tuple[str, Callable[..., Any]]]:
    """Yield the functions of a plugin that are meant as hooks: marked, or named like one."""
    for name in sorted(dir(plugin)):
        function = getattr(plugin, name, None)
        if inspect.isroutine(function) and (hasattr(function, _MARK) or name in HOOKS):
            yield name, function


def check_hook(name: str, function: Callable[..., Any]) -> None:
    """Refuse a function that is no known hook, or that asks for what the hook does not hand over."""
    if name not in HOOKS:
        raise PluginError(f"{name} is no hook", nearest(name, HOOKS))
    options = getattr(function, _MARK, None)
    if options is None:
        raise PluginError(f"{name} is not marked as a hook", "write @hookimpl above it, or rename it")
    if used := [option for option, value in options.items() if value]:
        raise PluginError(f"{name} sets {', '.join(used)}", "write a plain @hookimpl: hooks run in the order of names")
    if inspect.iscoroutinefunction(function) or inspect.isasyncgenfunction(function):
        raise PluginError(f"{name} is asynchronous", "write a plain function")
    _check_parameters(name, inspect.signature(function))


def _check_parameters(name: str, signature: inspect.Signature) -> None:
    handed = HOOKS[name]
    usual = (inspect.Parameter.POSITIONAL_ONLY, inspect.Parameter.POSITIONAL_OR_KEYWORD)
    for parameter in signature.parameters.values():
        if parameter.default is parameter.empty and (parameter.name not in handed or parameter.kind not in usual):
            allowed = f"({', '.join(handed)})"
            told = f"{name}{signature} asks for {parameter}, handed over is {allowed}"
            raise PluginError(told, f"write {name}{allowed}")
