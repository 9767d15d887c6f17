"""Fields that take what a table's cell takes, and hold what it means.

``Base(tags="grain;thin").tags`` is a frozenset: the constructor takes the text or the set, the field is always the set.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Generic, TypeVar, overload

__all__ = ["Amounts", "Given", "Ids", "Words"]

Held = TypeVar("Held")
Taken = TypeVar("Taken")


class Given(Generic[Held, Taken]):
    """A field of a dataclass of one type that may be given as another.

    The class itself reads what was given, in its ``__post_init__``; here stands of what type both are.

    Parameters
    ----------
    default : object
        What the field is when nothing is given.
    """

    def __init__(self, default: Any = None) -> None:
        self._default = default

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    @overload
    def __get__(self, obj: None, owner: type) -> Any: ...
    @overload
    def __get__(self, obj: object, owner: type) -> Held: ...
    def __get__(self, obj: object | None, owner: type) -> Any:
        return self._default if obj is None else obj.__dict__[self._name]

    def __set__(self, obj: object, value: Held | Taken) -> None:
        obj.__dict__[self._name] = value


Words = Given[frozenset[str] | None, Iterable[str] | str]
"""Words such as allergens or tags; None is unknown, and the empty set is none of them."""
Ids = Given[tuple[str, ...] | None, Iterable[str] | str]
"""Ids, in order; None is not stated."""
Amounts = Given[Mapping[str, float | None] | None, str]
"""How much of each part, by its name; an amount of None is not stated."""
