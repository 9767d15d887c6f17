"""Noticing plugins that replace functions of the core, by identity before and after they run, and putting them back."""

from __future__ import annotations

import inspect
import operator
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pairing.errors import PluginError

__all__ = ["check_core", "put_back", "seen"]

_OURS = "pairing."
_ASKED = (property, classmethod, staticmethod)
_places: list[tuple[Any, Mapping[str, Any], Callable[[Any], tuple[Any, ...]], list[str]]] = []
"""Where functions and classes of the package stand, and what is in its classes: owner, what it holds, names.

An `operator.itemgetter` takes all values of an owner at once: this is asked before and after every call of a plugin.
"""
_modules: set[str] = set()
_classes: set[type] = set()


def seen() -> list[tuple[Any, ...]]:
    """Return what stands in each place of the core now, whoever put it there; to be compared after a plugin ran."""
    if len(sys.modules) != len(_modules):
        for name in [name for name in list(sys.modules) if name not in _modules]:
            _modules.add(name)
            if f"{name}.".startswith(_OURS):
                _watch(sys.modules[name])
    return [_now(held, all_of, names) for _, held, all_of, names in _places]


def _now(held: Mapping[str, Any], all_of: Callable[[Any], tuple[Any, ...]], names: list[str]) -> tuple[Any, ...]:
    try:
        return all_of(held)
    except KeyError:  # one of them was deleted
        return tuple(map(held.get, names))


def _watch(module: Any) -> None:
    held = {name: value for name, value in vars(module).items() if inspect.isfunction(value) or inspect.isclass(value)}
    _keep(module, list(held))
    for value in held.values():
        if inspect.isclass(value) and value not in _classes and f"{value.__module__}.".startswith(_OURS):
            _classes.add(value)
            inside = [n for n, v in vars(value).items() if callable(v) or isinstance(v, _ASKED)]
            _keep(value, inside)


def _keep(owner: Any, names: list[str]) -> None:
    if names:
        _places.append((owner, vars(owner), operator.itemgetter(*names, names[0]), names))  # of one name: a tuple, too


def put_back(before: Sequence[tuple[Any, ...]]) -> list[tuple[Any, str, Any]]:
    """Put back what is another than it was; return its owner, its name and what stood there instead."""
    replaced = [
        (owner, name, held.get(name), value)
        for (owner, held, all_of, names), was in zip(_places, before, strict=False)  # more may be watched by now
        if not all(map(operator.is_, _now(held, all_of, names), was))
        for name, value in zip(names, was, strict=False)
        if held.get(name) is not value
    ]
    for owner, name, _, was in replaced:
        setattr(owner, name, was)
    return [(owner, name, other) for owner, name, other, _ in replaced]


def check_core(before: Sequence[tuple[Any, ...]]) -> None:
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
