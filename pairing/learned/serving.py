"""How much of the dose that a sip likes a whole glass wants: expected, then learned from full glasses."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pairing.learning import columns as col
from pairing.learning.block import Entries
from pairing.model.constants import Z80
from pairing.model.recipe import Recipe
from pairing.quantities.readable import between

if TYPE_CHECKING:
    from pairing.learning.answers import Answers

__all__ = ["ServingShare", "served", "serving_share"]


class ServingShare(NamedTuple):
    """Needed dose in a full glass ÷ in a sip, with 80 % limits, and the strengths judged by the glass behind it."""

    share: float
    low: float
    high: float
    readings: int

    def __str__(self) -> str:
        """Say it in words.

        Examples
        --------
        >>> str(ServingShare(0.85, 0.7, 1.03, 0))
        'some 85 % (70–103 %, nobody judged a full glass here yet) of what a sip likes'
        """
        n = self.readings
        known = f"from {n} judged by the glass" if n else "nobody judged a full glass here yet"
        limits = between(100 * self.low, 100 * self.high, ".0f")
        return f"some {100 * self.share:.0f} % ({limits} %, {known}) of what a sip likes"


def serving_share(model: Answers) -> ServingShare:
    """Return what share of the dose of a sip a full glass needs.

    It starts from `SERVING_SHARE`, and strengths that were judged after a full glass correct it, for all flavourings
    together.
    """
    strength, log = model.strength, model.log
    one = Entries.of(np.zeros(1, np.int64), np.zeros(1, np.int64))
    rows = strength.columns.encode({"full glass": one}, 1, strength.variances)
    mean, sd = (
        float(v[0]) for v in (col.mean(strength.posterior, rows), col.variance(strength.posterior, rows) ** 0.5)
    )
    judged = int((~np.isnan(log.strength[log.full_glass])).sum())
    return ServingShare(math.exp(mean), math.exp(mean - Z80 * sd), math.exp(mean + Z80 * sd), judged)


def served(recipe: Recipe, share: ServingShare) -> Recipe:
    """Return a recipe at the doses of a full glass, from those that a sip likes.

    Examples
    --------
    >>> dict(served(Recipe("oat", {"plum": 2.0}), ServingShare(0.85, 0.7, 1.0, 0)).doses)
    {'plum': 1.7}
    """
    doses = {i: None if d is None else float(f"{d * share.share:.4g}") for i, d in recipe.doses.items()}
    return Recipe(recipe.base_id, doses)
