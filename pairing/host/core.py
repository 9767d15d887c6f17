"""Noticing plugins that replace functions of the core, by identity, and putting them back."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Mapping
from typing import Any

from pairing.errors import PluginError

__all__ = ["Core", "check_core"]

_OURS = "pairing."
_ASKED = (property, classmethod, staticmethod)
_watched: list[Core] = []
"""The core as it was when plugins were last loaded."""


class Core:
    """Functions and classes of the package, and what is in its classes, as they were when they were first seen.

    It is watched from then on, at load and while plugins run.
    """

    def __init__(self) -> None:
        self._was: list[tuple[Any, Mapping[str, Any], str, Any]] = []
        self._modules: set[str] = set()
        self._classes: set[type] = set()
        self._see()
        _watched[:] = [self]

    def _see(self) -> None:
        """Remember what is in modules that are new."""
        for module_name in [name for name in list(sys.modules) if name not in self._modules]:
            self._modules.add(module_name)
            if f"{module_name}.".startswith(_OURS):
                self._see_module(sys.modules[module_name])

    def _see_module(self, module: Any) -> None:
        for name, value in list(vars(module).items()):
            if inspect.isfunction(value) or inspect.isclass(value):
                self._was.append((module, vars(module), name, value))
            if inspect.isclass(value) and value not in self._classes and f"{value.__module__}.".startswith(_OURS):
                self._classes.add(value)
                inside = [(n, v) for n, v in vars(value).items() if callable(v) or isinstance(v, _ASKED)]
                self._was += [(value, vars(value), n, v) for n, v in inside]

    def check(self) -> None:
        """Put back what is another now, and remember what is new.

        Raises
        ------
        PluginError
            Naming it, and where what stood in its place was written.
        """
        replaced = [
            (owner, name, was, now.get(name)) for owner, now, name, was in self._was if now.get(name) is not was
        ]
        for owner, name, was, _ in replaced:
            setattr(owner, name, was)
        if len(sys.modules) > len(self._modules):
            self._see()
        if replaced:
            owner, name, _, now = replaced[0]
            more = f" and {len(replaced) - 1} more" if len(replaced) > 1 else ""
            raise PluginError(
                f"it replaced {_named(owner)}.{name}{more}{_written(now)}, which was put back",
                "use hooks, and leave the core alone",
            )


def check_core() -> None:
    """Check the core as it was when plugins were last loaded; see `Core.check`."""
    for core in _watched:
        core.check()


def _named(owner: Any) -> str:
    return f"{owner.__module__}.{owner.__qualname__}" if inspect.isclass(owner) else str(owner.__name__)


def _written(value: Any) -> str:
    code = getattr(value, "__code__", None)
    return f" by what stands at {code.co_filename}:{code.co_firstlineno}" if code else ""
