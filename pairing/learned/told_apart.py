"""What can be told from nothing, when many things are looked at."""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.model.arrays import Bools

__all__ = ["MAX_FALSE", "told_apart"]

MAX_FALSE = 0.05
"""Share of what is found that may be false, on average (Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57, 289–300)."""


def told_apart(p: Any, tested: Any) -> Bools:
    """Tell what is on one side of nothing, either one.

    Parameters
    ----------
    p : array, shape (n,)
        Chance that it is above nothing.
    tested : bool array, shape (n,)
        What there is anything to tell of; the rest is never told.

    Examples
    --------
    >>> told_apart([0.5, 0.999, 0.0004, 0.0004], [True, True, True, False]).tolist()
    [False, True, True, False]
    """
    from scipy.stats import false_discovery_control

    chance, out = np.asarray(p, np.float64), np.zeros(len(tested), dtype=bool)
    at = np.flatnonzero(np.asarray(tested) & ~np.isnan(chance))
    if len(at):
        out[at] = false_discovery_control(2 * np.minimum(chance[at], 1 - chance[at])) <= MAX_FALSE
    return out
