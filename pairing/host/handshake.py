"""The first questions to a plugin: which API it was written for, and which of its functions are meant as hooks."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from typing import Any

from pairing.api import API_VERSION
from pairing.errors import PluginError
from pairing.host.registry import HOOKS, MARK

__all__ = ["check_api", "marked"]

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
        if inspect.isroutine(function) and (hasattr(function, MARK) or name in HOOKS):
            yield name, function
