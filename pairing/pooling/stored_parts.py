"""Parts that any process can make again: what is asked of them travels, not they.

A part is named; how it is made is a chain of steps, each kept as a small file in a work folder that all processes see.
Whoever is asked of a part makes it from there, or finds it remembered. So a process that is lost takes nothing along:
whatever was asked of it is asked of another one, with the same answer.
"""

from __future__ import annotations

import hashlib
import os
import pickle
from collections import Counter, OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.memory import give_back
from pairing.learning.parts import added

__all__ = ["StoredParts", "read_whole", "remember", "write_whole"]

Key = tuple[str, str, str]
"""Work folder, step and part."""
BUDGET_BYTES = 50_000_000
"""What a process remembers of parts (our choice); what is beyond is read anew from the work folder each time."""
_KEPT = 2
"""Raised when a step or a stage keeps something else than before: what an older program left is then made anew."""


@dataclass(frozen=True)
class StoredParts:
    """Parts of Parquet files, as `pairing.learning.parts.Parts`.

    Attributes
    ----------
    work : str
        The work folder.
    names : tuple of str
        Of the parts.
    node : str
        The last step, as a file in the work folder.
    map : callable
        The built-in one, or that of a `concurrent.futures.Executor`.
    tasks : int
        Into how many tasks a question is cut: each hands back one sum.
    """

    work: str
    names: tuple[str, ...]
    node: str
    map: Callable[..., Iterable[Any]] = map
    tasks: int = 1

    def __getstate__(self) -> dict[str, Any]:
        """Leave out whoever is asked: what is kept of a run outlives its workers."""
        return self.__dict__ | {"map": map, "tasks": 1}

    @classmethod
    def begin(cls, work: Path, sources: Mapping[str, Any], **engine: Any) -> StoredParts:
        """Make parts that are their sources as yet."""
        node = _keep_node(work, ("sources", dict(sources), _KEPT))
        return cls(str(work), tuple(sources), node, **engine)

    def then(self, step: Callable[..., Any], *given: Any) -> StoredParts:
        """Return the parts as ``step(part, *given)`` makes them."""
        return replace(self, node=_keep_node(Path(self.work), ("step", self.node, step, given)))

    def beside(self, other: StoredParts) -> StoredParts:
        """Return pairs of these parts and of what was made of them otherwise."""
        return replace(self, node=_keep_node(Path(self.work), ("pair", self.node, other.node)))

    def sum(self, ask: Callable[..., Mapping[str, Any]], *given: Any) -> dict[str, Any]:
        """Return the sums, by name, of what every part answers."""
        return added(self._asked(ask, given))

    def _asked(self, ask: Callable[..., Any], given: tuple[Any, ...]) -> Iterable[Any]:
        groups = [self.names[i :: self.tasks] for i in range(min(self.tasks, len(self.names)))]
        n = len(groups)
        return self.map(_answer, [self.work] * n, [self.node] * n, groups, [ask] * n, [given] * n)


class _Mark:
    """A file that only tells what was written to it from anything else."""

    def __init__(self) -> None:
        self.found = hashlib.sha256()

    def write(self, content: Any) -> None:
        self.found.update(content)


def _keep_node(work: Path, content: tuple[Any, ...]) -> str:
    """Keep a step as a file, named by what it holds; return its name."""
    mark = _Mark()
    pickle.dump(content, mark, protocol=5)
    name = mark.found.hexdigest()[:24]
    place = work / "steps" / f"{name}.step"
    if not place.exists():
        place.parent.mkdir(parents=True, exist_ok=True)
        write_whole(place, content)
    return name


def write_whole(place: Path, content: Any) -> None:
    """Write an object so that nobody ever sees a part of it; it is not copied for that."""
    draft = place.with_name(f"{place.name}.{os.getpid()}.draft")
    with draft.open("wb") as file:
        pickle.dump(content, file, protocol=5)
    draft.replace(place)


def read_whole(place: Path) -> Any:
    """Read an object that `write_whole` wrote."""
    with place.open("rb") as file:
        return pickle.load(file)


# --- in whichever process is asked -----------------------------------------------------------------------------------


def _answer(
    work: str, node: str, names: Sequence[str], ask: Callable[..., Mapping[str, Any]], given: tuple[Any, ...]
) -> dict[str, Any]:
    """Answer for some parts, in sum."""
    return added(ask(_part(work, node, name), *given) for name in names)


@lru_cache(maxsize=2)  # what a step is given is as large as all shared columns
def _node(work: str, node: str) -> tuple[Any, ...]:
    content: tuple[Any, ...] = read_whole(Path(work) / "steps" / f"{node}.step")
    return content


def _part(work: str, node: str, name: str) -> Any:
    """Find or make a part."""
    key = (work, node, name)
    if key in _MEMORY.held:
        return _MEMORY.found(key)
    kept = _place(key)
    if kept.exists():
        part = _MEMORY.with_memo(key, read_whole(kept))
    else:
        kind, *content = _node(work, node)
        if kind == "sources":
            return content[0][name]
        if kind == "pair":
            return tuple(_part(work, one, name) for one in content)
        before, step, given = content
        part = step(_part(work, before, name), *given)
        give_back()
    if not _MEMORY.keep(key, part) and not kept.exists():
        _write(key, part)
        part = _MEMORY.with_memo(key, part)
    return part


def _place(key: Key) -> Path:
    """Where a part is kept that nobody has room to remember."""
    work, node, name = key
    return Path(work) / "parts" / f"{hashlib.sha256(name.encode()).hexdigest()[:16]}.{node}"


def _write(key: Key, part: Any) -> None:
    kept = _place(key)
    if Path(key[0]).exists():
        kept.parent.mkdir(exist_ok=True)
        write_whole(kept, part)


@dataclass
class _Memory:
    """What this process remembers, by step: of the steps that were asked last.

    Attributes
    ----------
    held : mapping of (work folder, step, part) to a part
    arrays : mapping of the same to the arrays in it, by address, and their bytes
    memos : mapping of the same to what a part that is not held has worked out
    steps : the steps, those that were asked last at the end
    """

    budget: int = BUDGET_BYTES
    held: dict[Key, Any] = field(default_factory=dict)
    arrays: dict[Key, dict[int, int]] = field(default_factory=dict)
    memos: dict[Key, Any] = field(default_factory=dict)
    steps: OrderedDict[tuple[str, str], None] = field(default_factory=OrderedDict)
    counted: Counter[int] = field(default_factory=Counter)
    total: int = 0

    def found(self, key: Key) -> Any:
        self.steps.move_to_end(key[:2])
        return self.held[key]

    def keep(self, key: Key, part: Any) -> bool:
        """Remember a part, putting away those of steps not asked for longest; False where there is no room for it.

        Parts of one step do not push each other out: each round asks for all of them. Arrays that several parts share
        count once.
        """
        arrays = dict(_arrays(part))
        self.steps[key[:2]] = None
        self.steps.move_to_end(key[:2])
        while (need := self._new(arrays)) + self.total > self.budget and next(iter(self.steps)) != key[:2]:
            self.forget(next(iter(self.steps)))
        if need + self.total > self.budget:
            return False
        self.total += need
        self.counted.update(arrays.keys())
        self.held[key], self.arrays[key] = part, arrays
        return True

    def _new(self, arrays: Mapping[int, int]) -> int:
        return sum(size for at, size in arrays.items() if not self.counted[at])

    def forget(self, step: tuple[str, str]) -> None:
        self.steps.pop(step, None)
        for key in [key for key in self.held if key[:2] == step]:
            if not _place(key).exists():
                _write(key, self.held[key])
            arrays = self.arrays.pop(key)
            self.counted.subtract(arrays.keys())
            self.total -= self._new(arrays)
            del self.held[key]
        for key in [key for key in self.memos if key[:2] == step]:
            del self.memos[key]
        give_back()

    def with_memo(self, key: Key, part: Any) -> Any:
        """Give a part that was read again what it had worked out."""
        if not hasattr(part, "memo"):
            return part
        self.steps[key[:2]] = None
        return replace(part, memo=self.memos.setdefault(key, {}))


_MEMORY = _Memory()


def remember(budget_bytes: int) -> None:
    """Set how much this process remembers; what it remembered is forgotten."""
    _MEMORY.__init__(budget=budget_bytes)  # type: ignore[misc]


def _arrays(part: Any) -> Iterator[tuple[int, int]]:
    """List the arrays in a part, and in the parts within it: where each lies, and its bytes."""
    if isinstance(part, np.ndarray):
        yield part.__array_interface__["data"][0], part.nbytes
    elif sparse.issparse(part):
        for array in (part.data, part.indices, part.indptr):
            yield from _arrays(array)
    elif isinstance(part, Mapping):
        for value in part.values():
            yield from _arrays(value)
    elif isinstance(part, tuple):
        if part and isinstance(part[0], str):
            yield id(part), 100 * len(part)
        else:
            for value in part:
                yield from _arrays(value)
    elif is_dataclass(part):
        for one in fields(part):
            yield from _arrays(getattr(part, one.name))
