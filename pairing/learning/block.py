"""A block of effects, declared in one place: its name, its keys, its prior and what is special about it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from pairing.model.arrays import Floats, Ints

__all__ = ["About", "Block", "Entries", "entries_of", "in_use"]


@dataclass(frozen=True)
class Entries:
    """Nonzeros of one block: row, key, value, and the key's variance relative to the block's."""

    row: Ints
    key: Ints
    value: Floats
    scale: Floats

    @classmethod
    def of(cls, row: Any, key: Any, value: Any = 1.0, scale: Any = 1.0) -> Entries:
        """Make entries, broadcasting value and scale."""
        row = np.asarray(row, np.int64)
        return cls(
            row,
            np.asarray(np.broadcast_to(key, row.shape), np.int64),
            np.asarray(np.broadcast_to(value, row.shape), np.float64),
            np.asarray(np.broadcast_to(scale, row.shape), np.float64),
        )


@dataclass(frozen=True)
class About:
    """What an effect is about, for an explanation: what its key names, or else ``what`` in a word.

    Attributes
    ----------
    base : bool
        It is about the base.
    flavourings, families : int
        The key ends in so many of them; see `pairing.learning.explain`.
    what : str
    """

    base: bool = False
    flavourings: int = 0
    families: int = 0
    what: str = ""


@dataclass(frozen=True)
class Block:
    """Effects that share a variance.

    Attributes
    ----------
    name : str
    kind : str
        What an explanation calls it.
    var : float
        Expected variance; the variance itself when ``fixed``.
    count : float
        Imagined effects behind that expectation.
    mean : float
        Prior mean of each effect.
    fixed : bool
        The variance is not learned; infinite is a flat prior.
    keys : callable or None
        Makes the block's entries from a `pairing.learning.scene.Scene`; None where they follow from something else (a
        rule's feature, what is learned of the needed dose).
    about : About
    between_bases : bool
        The effects tell one base from another: with a single base there is nothing for them to say.
    common : bool
        All tasters share the effects, each by the slope of their own use of the scale.
    positive : bool
        The effects are above 0, whatever the data say.
    local : bool
        The effects are a taster's, a session's, a cup's or a kitchen's own.
    cells : bool
        There are as many effects as there are combinations, most of which are seen once or never: in a large log those
        seen most come first.
    table : (str, str) or None
        The items of rows and columns of a table with a low-rank part: ``taster``, ``base`` or ``flavouring``.
    least : int
        With fewer keys than this the block cannot be told from others.
    """

    name: str
    kind: str
    var: float
    count: float = 2.0
    mean: float = 0.0
    fixed: bool = False
    keys: Callable[[Any], Entries] | None = None
    about: About = About()
    between_bases: bool = False
    common: bool = True
    positive: bool = False
    local: bool = False
    cells: bool = False
    table: tuple[str, str] | None = None
    least: int = 1


def in_use(blocks: Iterable[Block], n_bases: int) -> tuple[Block, ...]:
    """Return the blocks that can say something of a shelf with so many bases."""
    return tuple(block for block in blocks if n_bases > 1 or not block.between_bases)


def entries_of(blocks: Iterable[Block], scene: Any) -> dict[str, Entries]:
    """Make the entries of every block that has some in a scene."""
    made = {block.name: block.keys(scene) for block in blocks if block.keys is not None}
    return {name: found for name, found in made.items() if len(found.row)}
