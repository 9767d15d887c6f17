"""What the checks of all that hooks return have in common: names, sentences, functions, numbers."""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import fields
from typing import Any, TypeVar

from pairing.errors import PluginError

__all__ = ["check_call", "check_number", "check_text", "name_of", "named", "remade", "takes"]

T = TypeVar("T")
_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,79}")


def named(plugin: str, thing: Any, attribute: str) -> str:
    """Return the short name in an attribute, without the plugin's in front of it, or refuse it."""
    if not hasattr(thing, attribute):
        raise PluginError(f"it has no {attribute}", "return objects made by the classes of pairing.api")
    name = getattr(thing, attribute)
    if not isinstance(name, str) or not _NAME.fullmatch(name.removeprefix(f"{plugin}:")):
        raise PluginError(
            f"{type(thing).__name__}.{attribute} is {name!r}, a short name is needed",
            "use lower-case letters, digits and hyphens",
        )
    return name.removeprefix(f"{plugin}:")


def remade(kind: type[T], thing: Any, **changed: Any) -> T:
    """Return a copy of what a plugin returned, as one of our own objects."""
    values = {f.name: getattr(thing, f.name) for f in fields(kind) if f.init and hasattr(thing, f.name)}  # type: ignore[arg-type]
    return kind(**{**values, **changed})


def check_text(thing: Any, attribute: str) -> None:
    """Refuse what is no sentence."""
    value = getattr(thing, attribute, None)
    if not isinstance(value, str) or not value.strip():
        raise PluginError(f"{attribute} is {value!r}, a sentence is needed", f"say it in {attribute}=…")
    if not value.isprintable():
        raise PluginError(f"{attribute} is {value!r}, plain text in one line is needed", "take control characters out")


def check_call(thing: Any, attribute: str, *sizes: int) -> None:
    """Refuse what is no function of so many values, or of any of several numbers of them."""
    call = getattr(thing, attribute, None)
    if not callable(call):
        raise PluginError(f"{attribute} is {call!r}, a function is needed", f"give a function as {attribute}=…")
    if not any(takes(call, n) for n in sizes):
        wanted = " or ".join(map(str, sizes))
        raise PluginError(
            f"{attribute}{inspect.signature(call)} does not take {wanted} value(s)", "change its parameters"
        )


def takes(call: Callable[..., Any], n: int) -> bool:
    """Whether a function can be called with so many values; one whose parameters nobody can read is taken to."""
    try:
        inspect.signature(call).bind(*range(n))
    except TypeError:
        return False
    except ValueError:  # built-in functions may have no signature to read
        return True
    return True


def check_number(thing: Any, attribute: str, low: float, high: float, unit: str, remedy: str = "rescale it") -> None:
    """Refuse what is no finite number within a closed range."""
    value = getattr(thing, attribute, None)
    if not isinstance(value, int | float) or isinstance(value, bool) or not math.isfinite(value):
        raise PluginError(f"{attribute} is {value!r}, a number is needed", f"give it in {unit}")
    if not low <= value <= high:
        raise PluginError(f"{attribute} is {value:g}, allowed is {low:g} to {high:g} {unit}", remedy)


def name_of(thing: Any) -> str:
    """Return what to call an object in a message: its own name, or its kind."""
    return next(_names(thing), type(thing).__name__)


def _names(thing: Any) -> Iterator[str]:
    for attribute in ("id", "base_id", "flavouring_id", "name"):
        if isinstance(value := getattr(thing, attribute, None), str):
            yield value
