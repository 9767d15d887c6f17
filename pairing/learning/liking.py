"""Liking: an additive Bayesian model of what people say of a cup, on top of the learned needed doses."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pairing.learning import columns as col
from pairing.learning.columns import Block, Columns, Encoded, Entries
from pairing.learning.design import Traits, Who, liking_entries, taster_entries
from pairing.learning.log import Recipes
from pairing.learning.penalty import expected_squares
from pairing.learning.posterior import Posterior
from pairing.learning.strength import Strength

__all__ = ["BLOCKS", "NOISE_COUNT", "NOISE_VAR", "OWN", "PENALTIES", "Liking", "penalty_entries", "stretched"]

Floats = np.ndarray[Any, np.dtype[np.float64]]
Ints = np.ndarray[Any, np.dtype[np.int64]]

COUNT = 5.0
"""Imagined effects behind each expected variance: with fewer, variances wander in a log of a few dozen cups. Chosen on
simulated palates; on others it made the planner a little better after 60 trials and no different after 30."""
BLOCKS = (
    Block("average", "average", 4.0, mean=5.0, fixed=True),
    Block("plain", "flavouring", 1.0, fixed=True),
    Block("flavourings", "pair", 0.5**2, mean=-0.3, fixed=True),
    Block("pairs", "pair", 0.5**2, mean=-0.2, fixed=True),
    Block("base", "base", 0.25, COUNT),
    Block("flavouring", "flavouring", 0.4, COUNT),
    Block("family", "family", 0.05, COUNT),
    Block("affinity", "affinity", 0.3, COUNT),
    Block("base*family", "affinity", 0.1, COUNT),
    Block("trait*flavouring", "affinity", 0.1, COUNT),
    Block("pair", "pair", 0.4, COUNT),
    Block("pair*base", "pair", 0.1, COUNT),
    Block("family*family", "pair", 0.1, COUNT),
    Block("taster", "taster", 0.3, COUNT),
    Block("taste", "taster", 0.2, COUNT),
    Block("taster*base", "taster", 0.05, COUNT),
    Block("cup", "cup", 0.05, COUNT),
    Block("session", "session", 0.05, COUNT),
    Block("too weak", "dose", 1.5**2, mean=2.0, fixed=True),
    Block("too strong", "dose", 1.5**2, mean=2.0, fixed=True),
)
NOISE_VAR, NOISE_COUNT = 0.9, 12.0
PENALTIES = ("too weak", "too strong")
OWN = ("average", "taster", "taste", "taster*base", "cup", "session")
"""Blocks that a taster's slope does not stretch."""


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
    rules: Any = None

    def entries(self, recipes: Recipes, who: Who) -> dict[str, Entries]:
        """Entries of the true liking of recipes."""
        out = self.common_entries(recipes)
        if not who.personal:
            return out
        rows, taster, share = who.shares()
        slope = np.append(self.slopes, 1.0)[np.minimum(taster, self.n_tasters)]
        total = np.bincount(rows, share, minlength=len(recipes))
        stretch = np.bincount(rows, share * slope, minlength=len(recipes)) + (1.0 - total)
        return stretched(out, stretch) | taster_entries(recipes, who, self.traits)

    def common_entries(self, recipes: Recipes) -> dict[str, Entries]:
        """Entries of what is the same for every taster."""
        out = liking_entries(recipes, self.traits) | penalty_entries(recipes, self.strength)
        if self.rules is not None:
            out |= self.rules.liking_entries(recipes, self.strength)
        return out

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


def penalty_entries(recipes: Recipes, strength: Strength, *, rough: bool = False) -> dict[str, Entries]:
    """Entries of the off-target penalty; an open dose has none, and without any strength nothing is known of it."""
    stated = np.nonzero(~np.isnan(recipes.log_dose))
    if not len(stated[0]) or not strength.informed:
        return {}
    rows = np.unique(stated[0])
    mean, sd = strength.needed(recipes.take(rows), rough=rough)
    place = np.searchsorted(rows, stated[0])
    distance = recipes.log_dose[stated] - mean[place, stated[1]]
    under, over = expected_squares(distance, sd[place, stated[1]])
    return {
        "too weak": Entries.of(stated[0], 0, -under),
        "too strong": Entries.of(stated[0], 0, -over),
    }
