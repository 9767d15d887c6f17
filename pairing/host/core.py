"""Noticing plugins that replace functions of the core, by identity, and putting them back."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Mapping
from typing import Any

from pairing.errors import PluginError

__all__ = ["Core"]

_OURS = "pairing."
_ASKED = (property, classmethod, staticmethod)


class Core:
    """Functions and classes of the package, and what is in its classes, as they were when this was made."""

    def __init__(self) -> None:
        self._was: list[tuple[Any, Mapping[str, Any], str, Any]] = []
        seen: set[type] = set()
        for module in [m for name, m in list(sys.modules.items()) if f"{name}.".startswith(_OURS)]:
            for name, value in list(vars(module).items()):
                if inspect.isfunction(value) or inspect.isclass(value):
                    self._was.append((module, vars(module), name, value))
                if inspect.isclass(value) and value not in seen and f"{value.__module__}.".startswith(_OURS):
                    seen.add(value)
                    inside = [(n, v) for n, v in vars(value).items() if callable(v) or isinstance(v, _ASKED)]
                    self._was += [(value, vars(value), n, v) for n, v in inside]

    def check(self) -> None:
        """Put back what is another now.

        Raises
        ------
        PluginError
            Naming it.
        """
        replaced = [(owner, name, was) for owner, now, name, was in self._was if now.get(name) is not was]
        for owner, name, was in replaced:
            setattr(owner, name, was)
        if replaced:
            owner, name, _ = replaced[0]
            more = f" and {len(replaced) - 1} more" if len(replaced) > 1 else ""
            raise PluginError(
                f"it replaced {_named(owner)}.{name}{more}, which was put back",
                "use hooks, and leave the core alone",
            )


def _named(owner: Any) -> str:
    return f"{owner.__module__}.{owner.__qualname__}" if inspect.isclass(owner) else str(owner.__name__)
