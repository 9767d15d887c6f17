"""Noticing plugins that replace functions of the core, by identity before and after they run, and putting them back."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Mapping, Sequence
from typing import Any

from pairing.errors import PluginError

__all__ = ["check_core", "put_back", "seen"]

_OURS = "pairing."
_ASKED = (property, classmethod, staticmethod)
_places: list[tuple[Any, Mapping[str, Any], str]] = []
"""Where functions and classes of the package stand, and what is in its classes: owner, what it holds, name."""
_modules: set[str] = set()
_classes: set[type] = set()


def seen() -> list[Any]:
    """Return what stands in each place of the core now, whoever put it there; to be compared after a plugin ran."""
    if len(sys.modules) != len(_modules):
        for name in [name for name in list(sys.modules) if name not in _modules]:
            _modules.add(name)
            if f"{name}.".startswith(_OURS):
                _watch(sys.modules[name])
    return [now.get(name) for _, now, name in _places]


def _watch(module: Any) -> None:
    for name, value in list(vars(module).items()):
        if inspect.isfunction(value) or inspect.isclass(value):
            _places.append((module, vars(module), name))
        if inspect.isclass(value) and value not in _classes and f"{value.__module__}.".startswith(_OURS):
            _classes.add(value)
            inside = [n for n, v in vars(value).items() if callable(v) or isinstance(v, _ASKED)]
            _places.extend((value, vars(value), n) for n in inside)


def put_back(before: Sequence[Any]) -> list[tuple[Any, str, Any]]:
    """Put back what is another than it was; return its owner, its name and what stood there instead."""
    replaced = [
        (owner, name, now.get(name), was)
        for (owner, now, name), was in zip(_places, before, strict=False)  # places may have been added meanwhile
        if now.get(name) is not was
    ]
    for owner, name, _, was in replaced:
        setattr(owner, name, was)
    return [(owner, name, other) for owner, name, other, _ in replaced]


def check_core(before: Sequence[Any]) -> None:
    """Put back what is another than it was.

    Raises
    ------
    PluginError
        Naming it, and where what stood in its place was written.
    """
    if replaced := put_back(before):
        owner, name, other = replaced[0]
        more = f" and {len(replaced) - 1} more" if len(replaced) > 1 else ""
        raise PluginError(
            f"it replaced {_named(owner)}.{name}{more}{_written(other)}, which was put back",
            "use hooks, and leave the core alone",
        )


def _named(owner: Any) -> str:
    return f"{owner.__module__}.{owner.__qualname__}" if inspect.isclass(owner) else str(owner.__name__)


def _written(value: Any) -> str:
    code = getattr(value, "__code__", None)
    return f" by what stands at {code.co_filename}:{code.co_firstlineno}" if code else ""
