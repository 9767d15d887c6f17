"""What is worked out once about objects that never change, and forgotten with them."""

from __future__ import annotations

import weakref
from collections.abc import Callable, Hashable
from typing import Any, Generic, TypeVar

__all__ = ["IdentityCache"]

T = TypeVar("T")


class IdentityCache(Generic[T]):
    """Answers about objects, kept for as long as all of these live; two objects that are equal have each their own.

    Examples
    --------
    >>> class Thing: ...
    >>> thing, lengths = Thing(), IdentityCache()
    >>> lengths.of((thing,), lambda: 3), lengths.of((thing,), lambda: 4), lengths.of((Thing(),), lambda: 5)
    (3, 3, 5)
    """

    def __init__(self) -> None:
        self._kept: dict[Hashable, tuple[tuple[weakref.ref[Any], ...], T]] = {}

    def __len__(self) -> int:
        return len(self._kept)

    def of(self, objects: tuple[Any, ...], make: Callable[[], T], more: Hashable = None) -> T:
        """Return what is known of some objects, and of ``more`` beside them, and make it the first time."""
        key = (*map(id, objects), more)
        kept = self._kept.get(key)
        if kept is None:

            def forget(_: object) -> None:
                self._kept.pop(key, None)

            kept = tuple(weakref.ref(one, forget) for one in objects), make()
            self._kept[key] = kept
        return kept[1]
