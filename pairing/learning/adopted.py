r"""What other kitchens know, as a prior for the effects of one shelf.

An effect of this bench is taken as :math:`a \, m_k + d_k`: what the pool expects of key k, times a share a that all
effects have in common, and what is this bench's own, :math:`d_k \sim N(0, \tau + v_k)`: τ is by how much kitchens
differ, :math:`v_k` how little the pool knows of that key. The share, :math:`a \sim N(1, \sigma_a^2)`, and τ are
learned from this bench's own cups with everything else: a pool that has nothing in common with it is soon not listened
to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import numpy as np

from pairing.learning.block import Block, Entries
from pairing.learning.columns import places
from pairing.learning.ordinal import Ordinal
from pairing.model.arrays import Floats, Ints

__all__ = ["NO_POOL", "POOL", "Adopted", "Known"]

POOL = "pool"
"""Name of the block that holds the share."""
SHARE_SD = 0.2
"""How far the share may be from 1 (our choice)."""
LEFT = 0.25
"""Share of the variance that a single effect keeps once a pool tells its mean (our choice)."""
LEAST_VARIANCE = 1e-3


@dataclass(frozen=True, eq=False)
class Known:
    """What a pool knows of one block, by the keys of a shelf.

    Attributes
    ----------
    keys : int array, shape (n,)
        Ascending.
    mean, variance : arrays, shape (n,)
    between : float
        Variance of kitchens around what they share.
    otherwise : float
        Variance, in the pool, of what the kitchens share of a key that it does not know.
    """

    keys: Ints
    mean: Floats
    variance: Floats
    between: float
    otherwise: float

    def scale(self, key: Ints) -> Floats:
        """Variances of keys relative to that between kitchens."""
        at = places(self.keys, key)
        known = np.append(self.variance, self.otherwise)[at]
        return np.asarray(1.0 + known / self.between)

    def expected(self, key: Ints) -> Floats:
        """Return what the pool expects of keys, 0 where it does not know them."""
        return np.append(self.mean, 0.0)[places(self.keys, key)]


@dataclass(frozen=True, eq=False)
class Adopted:
    """A prior for one response.

    Attributes
    ----------
    known : mapping of block name to Known
    means : mapping of block name to float
        Prior means of blocks with a single effect.
    variances : mapping of block name to float
        Expected variances of blocks of which nothing else is known.
    count : float
        Imagined effects behind each variance between kitchens.
    ordinal : Ordinal or None
        Where strength words change, as the pool has it.
    """

    known: Mapping[str, Known] = field(default_factory=dict)
    means: Mapping[str, float] = field(default_factory=dict)
    variances: Mapping[str, float] = field(default_factory=dict)
    count: float = 20.0
    ordinal: Ordinal | None = None

    def blocks(self, blocks: tuple[Block, ...]) -> tuple[Block, ...]:
        """Return blocks as the pool expects them, with one more for the share."""
        if not self.known:
            return blocks
        share = Block(POOL, "pool", SHARE_SD**2, mean=1.0, fixed=True)
        return (*(self._informed(block) for block in blocks), share)

    def _informed(self, block: Block) -> Block:
        if block.name in self.means:
            return replace(block, mean=self.means[block.name], var=LEFT * block.var)
        if block.name in self.variances:
            return replace(block, var=self.variances[block.name], count=self.count)
        if (known := self.known.get(block.name)) is None or block.keys is None:
            return block
        return replace(block, var=known.between, count=self.count, keys=partial(_scaled, block.keys, known))

    def entries(self, made: Mapping[str, Entries]) -> dict[str, Entries]:
        """Make the entries of the share, from those of other blocks."""
        found = list(self.parts(made).values())
        if not found:
            return {}
        row = np.concatenate([one.row for one in found])
        value = np.concatenate([one.value for one in found])
        total = np.bincount(row, value)
        rows = np.unique(row)
        return {POOL: Entries.of(rows, 0, total[rows])}

    def parts(self, made: Mapping[str, Entries]) -> dict[str, Entries]:
        """Return what the pool expects of each entry of the blocks that it knows, as entries of the share."""
        out = {}
        for name, known in self.known.items():
            if name in made and len(made[name].row):
                one = made[name]
                out[name] = Entries.of(one.row, one.key, one.value * known.expected(one.key))
        return out


def _scaled(keys: Any, known: Known, scene: Any) -> Entries:
    """Make entries whose variances are as the pool has them."""
    made: Entries = keys(scene)
    return replace(made, scale=made.scale * known.scale(made.key))


NO_POOL = Adopted()
"""Nothing is known from others."""
