"""What was tried how often: sums over a log, or over the parts of one that no machine holds."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import pandas as pd

from pairing.learning.columns import Counts
from pairing.learning.design import additions_of, pairs_of
from pairing.learning.log import Log
from pairing.model.arrays import Floats, Ints

__all__ = ["Tally"]


@dataclass(frozen=True, eq=False)
class Tally:
    """Counts by cell, base · n + flavouring, and by pair in a base, (base · n + one) · n + other, n flavourings.

    Attributes
    ----------
    cups, liked : Counts
        Cups that hold a flavouring, and those with a liking.
    pairs, liked_pairs : Counts
        The same of pairs.
    judged, right : Counts
        Strengths that were given, and those that were 'just right'.
    top : array, shape (n,)
        Log of the highest dose of every flavouring, g/kg; -inf where there was none.
    """

    cups: Counts
    liked: Counts
    pairs: Counts
    liked_pairs: Counts
    judged: Counts
    right: Counts
    top: Floats

    @classmethod
    def of(cls, log: Log, n_flavourings: int) -> Tally:
        """Count a log, or a part that holds all readings of its cups."""
        adds, (row, one, two) = additions_of(log.recipes), pairs_of(log.recipes)
        cell = adds.base * n_flavourings + adds.flavouring
        pair = (log.recipes.base[row] * n_flavourings + one) * n_flavourings + two
        liked = ~np.isnan(log.liking)
        strength = log.strength[adds.row, adds.slot]
        top = np.full(n_flavourings, -np.inf)
        np.maximum.at(top, adds.flavouring, log.recipes.log_dose[adds.row, adds.slot])
        return cls(
            cups=_cups(log.cup[adds.row], cell),
            liked=_cups(log.cup[adds.row[liked[adds.row]]], cell[liked[adds.row]]),
            pairs=_cups(log.cup[row], pair),
            liked_pairs=_cups(log.cup[row[liked[row]]], pair[liked[row]]),
            judged=Counts.plain(cell[~np.isnan(strength)]),
            right=Counts.plain(cell[strength == 3]),
            top=top,
        )

    def __add__(self, other: Tally) -> Tally:
        """Return the counts of both; no cup is in both."""
        counts = {f.name: getattr(self, f.name) + getattr(other, f.name) for f in fields(self) if f.name != "top"}
        return Tally(**counts, top=np.maximum(self.top, other.top))


def _cups(cup: Ints, key: Ints) -> Counts:
    """Count the cups in which each key occurs."""
    n = int(key.max(initial=0)) + 1
    return Counts.plain(pd.unique(cup * n + key) % n)
