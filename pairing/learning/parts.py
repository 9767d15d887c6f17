"""Data in one part or in many, of which only sums are asked.

All that the learner needs of readings is a sum over them. Whoever learns holds a `Parts` and asks it for sums, so that
one machine with the whole log is the case of one part, and a log that no machine holds is the case of many: each in a
process of its own, say, behind the ``map`` of a `concurrent.futures.Executor`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

__all__ = ["HeldParts", "Parts", "Placed", "added"]


class Parts(Protocol):
    """Data in parts. A step and a question are pure functions of a part and of what is given to all of them alike."""

    def then(self, step: Callable[..., Any], *given: Any) -> Parts:
        """Return the parts as ``step(part, *given)`` makes them; a part that is lost can be made again."""
        ...

    def beside(self, other: Any) -> Parts:
        """Return pairs of these parts and of what was made of them otherwise."""
        ...

    def sum(self, ask: Callable[..., Mapping[str, Any]], *given: Any) -> dict[str, Any]:
        """Return the sums, by name, of what ``ask(part, *given)`` answers."""
        ...


@dataclass(frozen=True)
class HeldParts:
    """Parts in the memory of this process.

    Attributes
    ----------
    parts : tuple
    map : callable
        The built-in one, or that of an executor of threads.

    Examples
    --------
    >>> halves = HeldParts(([1, 2], [3]))
    >>> halves.then(lambda part, more: [*part, more], 10).sum(lambda part: {"total": sum(part)})
    {'total': 26}
    """

    parts: tuple[Any, ...]
    map: Callable[..., Iterable[Any]] = map

    def then(self, step: Callable[..., Any], *given: Any) -> HeldParts:
        """Return the parts as a step makes them."""
        return HeldParts(tuple(self.each(step, *given)), self.map)

    def beside(self, other: HeldParts) -> HeldParts:
        """Return pairs of parts."""
        return HeldParts(tuple(zip(self.parts, other.parts, strict=True)), self.map)

    def sum(self, ask: Callable[..., Mapping[str, Any]], *given: Any) -> dict[str, Any]:
        """Return the sums, by name, of what every part answers."""
        return added(self.each(ask, *given))

    def each(self, ask: Callable[..., Any], *given: Any) -> Iterable[Any]:
        """Return every part's own answer."""
        return self.map(lambda part: ask(part, *given), self.parts)


@dataclass(frozen=True, eq=False)
class Placed:
    """An array of n rows that holds nothing but 0 in most of them.

    Attributes
    ----------
    at : int array, shape (m,)
        Which rows hold something, each once.
    values : array, shape (m, …)
    n : int
    """

    at: Any
    values: Any
    n: int

    def onto(self, total: Any) -> Any:
        """Add it to a whole array, in place; to none: return it whole."""
        out = np.zeros((self.n, *self.values.shape[1:])) if total is None else total
        out[self.at] += self.values
        return out


def added(answers: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Add answers by name: arrays in place, what grows with every answer in a tree, so that nothing is gone over often.

    Examples
    --------
    >>> added([{"n": 1, "who": ("a",)}, {"n": 2}, {"who": ("b",)}])
    {'n': 3, 'who': ('a', 'b')}
    """
    sums: dict[str, list[tuple[int, Any]]] = {}
    for answer in answers:
        for name, value in answer.items():
            held = sums.setdefault(name, [])
            if isinstance(value, Placed):
                held[:] = [(2, value.onto(held[0][1] if held else None))]
                continue
            if held and isinstance(value, np.ndarray):
                n, total = held.pop()
                held.append((2, np.add(total, value, out=total if n > 1 else None)))
                continue
            held.append((1, value))
            while len(held) > 1 and held[-1][0] == held[-2][0]:
                n, last = held.pop()
                held[-1] = 2 * n, held[-1][1] + last
    return {name: _joined([value for _, value in held]) for name, held in sums.items()}


def _joined(values: list[Any]) -> Any:
    """Add what is left, the smallest first, in its order."""
    total = values.pop()
    while values:
        total = values.pop() + total
    return total
