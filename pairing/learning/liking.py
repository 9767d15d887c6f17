"""Liking: an additive Bayesian model of what people say of a cup, on top of the learned needed doses."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pairing.learning import columns as col
from pairing.learning import effects
from pairing.learning.adopted import NO_POOL, Adopted
from pairing.learning.block import About, Block, Entries, entries_of, in_use
from pairing.learning.columns import Columns, Encoded
from pairing.learning.design import Traits, Who
from pairing.learning.penalty import expected_squares
from pairing.learning.posterior import Posterior
from pairing.learning.rules import NO_RULES, RuleColumns
from pairing.learning.scatter import Scatter
from pairing.learning.scene import Scene
from pairing.learning.strength import Strength
from pairing.model.arrays import Floats
from pairing.model.recipes import Recipes

__all__ = ["BLOCKS", "NOISE_COUNT", "NOISE_VAR", "OWN", "Liking", "blocks_of", "penalty_entries", "stretched"]


COUNT = 5.0
"""Imagined effects behind each expected variance: with fewer, variances wander in a log of a few dozen cups (our
choice). Chosen on simulated palates; on others it made the planner a little better after 60 trials and no different
after 30."""
SEVERAL = About(what="several")
BLOCKS = (
    Block("average", "average", 4.0, mean=5.0, fixed=True, keys=effects.everywhere, common=False),
    Block("plain", "flavouring", 1.0, fixed=True, keys=effects.plain, about=About(what="plain")),
    Block(
        "flavourings",
        "pair",
        0.5**2,
        mean=-0.3,
        fixed=True,
        keys=effects.further_flavourings,
        about=About(what="several"),
    ),
    Block("pairs", "pair", 0.5**2, mean=-0.2, fixed=True, keys=effects.further_pairs, about=About(what="several")),
    Block("base", "base", 0.25, COUNT, keys=effects.base, about=About(base=True), between_bases=True),
    Block("flavouring", "flavouring", 0.4, COUNT, keys=effects.flavouring, about=About(flavourings=1)),
    Block("family", "family", 0.05, COUNT, keys=effects.family, about=About(families=1)),
    Block(
        "affinity",
        "affinity",
        0.3,
        COUNT,
        keys=effects.affinity,
        about=About(base=True, flavourings=1),
        between_bases=True,
        cells=True,
        table=("base", "flavouring"),
    ),
    Block(
        "base*family",
        "affinity",
        0.1,
        COUNT,
        keys=effects.base_family,
        about=About(base=True, families=1),
        between_bases=True,
    ),
    Block(
        "trait*flavouring",
        "affinity",
        0.1,
        COUNT,
        keys=effects.trait_flavouring,
        about=About(base=True, flavourings=1),
        between_bases=True,
    ),
    Block(
        "pair",
        "pair",
        0.4,
        COUNT,
        keys=effects.pair,
        about=About(flavourings=2),
        cells=True,
        table=("flavouring", "flavouring"),
    ),
    Block(
        "pair*base",
        "pair",
        0.1,
        COUNT,
        keys=effects.pair_base,
        about=About(flavourings=2),
        between_bases=True,
        cells=True,
    ),
    Block("family*family", "pair", 0.1, COUNT, keys=effects.family_family, about=About(families=2)),
    Block("taster", "taster", 0.3, COUNT, keys=effects.taster, common=False, local=True),
    Block(
        "taster*flavouring",
        "taster",
        0.2,
        COUNT,
        keys=effects.taster_flavouring,
        common=False,
        local=True,
        cells=True,
        table=("taster", "flavouring"),
    ),
    Block(
        "taster*base",
        "taster",
        0.05,
        COUNT,
        keys=effects.taster_base,
        between_bases=True,
        common=False,
        local=True,
        cells=True,
    ),
    Block("cup", "occasion", 0.05, COUNT, keys=effects.cup, common=False, local=True),
    Block("session", "occasion", 0.05, COUNT, keys=effects.session, common=False, local=True, least=2),
    Block("lot", "occasion", 0.03, COUNT, keys=effects.lot, local=True, least=2),
    Block("position", "occasion", 0.02, COUNT, keys=effects.position, common=False, least=2),
    Block("minutes", "occasion", 0.15**2, fixed=True, keys=effects.minutes, common=False),
    Block("temperature", "occasion", 0.3**2, fixed=True, keys=effects.temperature, common=False),
    Block("full glass", "occasion", 0.5**2, fixed=True, keys=effects.full_glass, common=False),
    Block("stepped", "occasion", 0.7**2, fixed=True, keys=effects.stepped, common=False),
    Block("too weak", "dose", 1.5**2, mean=2.0, fixed=True, about=About(what="too weak"), positive=True),
    Block("too strong", "dose", 1.5**2, mean=2.0, fixed=True, about=About(what="too strong"), positive=True),
)
"""What liking could rest on, for the average taster at the needed doses: expected variances, in squared points, and
means where they are not 0 (our choice). What belongs to the occasion is learned, and left out of predictions."""
NOISE_VAR, NOISE_COUNT = 0.9, 12.0
"""Expected variance of one score around the true liking, and the imagined scores behind it (our choice)."""
OWN = frozenset(block.name for block in BLOCKS if not block.common)
"""Blocks that a taster's slope does not stretch."""


def blocks_of(traits: Traits, rules: RuleColumns = NO_RULES, pool: Adopted = NO_POOL) -> tuple[Block, ...]:
    """Return the blocks of liking for a shelf, with what other kitchens and rules expect of them."""
    return in_use(rules.liking_blocks(pool.blocks(BLOCKS)), traits.n_bases)


@dataclass(frozen=True)
class Liking:
    """Learned liking of recipes.

    Attributes
    ----------
    noise_sd : float
        Spread of one score around the true liking, points.
    variances : mapping of block name to float
    evidence_n : int
        Scores that it rests on.
    slopes : array, shape (n_tasters,)
        How much of the scale each taster uses; their mean is 1.
    scatter : Scatter
        How the spread of scores differs by taster, and in stepped cups; ``noise_sd`` is that of the average taster in a
        fresh cup.
    """

    traits: Traits
    strength: Strength
    columns: Columns
    posterior: Posterior
    variances: dict[str, float]
    noise_sd: float
    n_tasters: int
    evidence_n: int
    slopes: Floats
    scatter: Scatter
    rules: RuleColumns = NO_RULES
    pool: Adopted = NO_POOL

    def entries(self, recipes: Recipes, who: Who) -> dict[str, Entries]:
        """Entries of the true liking of recipes: what all like alike, by each one's slope, and what is their own."""
        rows, taster, share = who.each()
        slopes = np.append(self.slopes, 1.0)
        weight: Floats = share * slopes[np.minimum(taster, self.n_tasters)]
        stretch = np.bincount(rows, weight, minlength=len(recipes)).astype(float)
        out = entries_of(self.columns.blocks, Scene.of_recipes(recipes, self.traits, who if who.personal else None))
        out |= self.pool.entries(out) | self.rules.liking_entries(recipes, self.strength.needed)
        out = stretched(out, stretch) | penalty_entries(recipes, self.strength, who, slopes=slopes)
        return self.columns.only(out)

    def encode(self, recipes: Recipes, who: Who | None = None) -> Encoded:
        """Encode the true liking of recipes."""
        asked = Who.everyone(len(recipes), self.n_tasters) if who is None else who
        return self.columns.encode(self.entries(recipes, asked), len(recipes), self.variances)

    def mean(self, rows: Encoded) -> Floats:
        """Return the expected true liking, points, before the ends of the scale."""
        return col.mean(self.posterior, rows)

    def sd(self, rows: Encoded) -> Floats:
        """Return the standard deviation of the true liking, points."""
        return np.sqrt(col.variance(self.posterior, rows))


def stretched(entries: dict[str, Entries], slope: Floats) -> dict[str, Entries]:
    """Multiply what is common to all tasters by each row's slope."""
    return {k: e if k in OWN else replace(e, value=e.value * slope[e.row]) for k, e in entries.items()}


def penalty_entries(
    recipes: Recipes, strength: Strength, who: Who, *, slopes: Floats | None = None, rough: bool = False
) -> dict[str, Entries]:
    """Entries of the off-target penalty; an open dose has none, and without any strength nothing is known of it.

    A dose is off by what each taster needs; the mean of several tasters loses the mean of what each loses, by each
    one's slope (``slopes``: of every taster and of a new one).
    """
    stated = np.unique(np.nonzero(~np.isnan(recipes.log_dose))[0])
    if not len(stated) or not strength.informed:
        return {}
    row, taster, share = who.take(stated).each()
    if slopes is not None:
        share = share * slopes[np.minimum(taster, who.n_tasters)]
    asked = recipes.take(stated[row])
    mean, sd = strength.needed(asked, Who(taster, who.n_tasters, who.among), rough=rough)
    at = np.nonzero(~np.isnan(asked.log_dose))
    under, over = expected_squares(asked.log_dose[at] - mean[at], sd[at])
    return {
        "too weak": Entries.of(stated[row[at[0]]], 0, -under * share[at[0]]),
        "too strong": Entries.of(stated[row[at[0]]], 0, -over * share[at[0]]),
    }
