"""Data in one part or in many, of which only sums are asked.

All that the learner needs of readings is a sum over them. Whoever learns holds a `Parts` and asks it for sums, so that
one machine with the whole log is the case of one part, and a log that no machine holds is the case of many: each in a
process of its own, say, behind the ``map`` of a `concurrent.futures.Executor`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

__all__ = ["HeldParts", "Parts", "added"]


class Parts(Protocol):
    """Data in parts. A step and a question are pure functions of a part and of what is given to all of them alike."""

    def then(self, step: Callable[..., Any], *given: Any) -> Parts:
        """Return the parts as ``step(part, *given)`` makes them; a part that is lost can be made again."""
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

    def sum(self, ask: Callable[..., Mapping[str, Any]], *given: Any) -> dict[str, Any]:
        """Return the sums, by name, of what every part answers."""
        return added(self.each(ask, *given))

    def each(self, ask: Callable[..., Any], *given: Any) -> Iterable[Any]:
        """Return every part's own answer."""
        return self.map(lambda part: ask(part, *given), self.parts)


def added(answers: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Add answers by name."""
    total: dict[str, Any] = {}
    for answer in answers:
        for name, value in answer.items():
            total[name] = total[name] + value if name in total else value
    return total
