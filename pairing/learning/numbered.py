"""Random numbers by the number of what they belong to, not by the order of drawing.

A row, or a column, draws the same numbers in whichever part it stands and however often a part has to be done again.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.special import ndtri

from pairing.model.arrays import Floats, Ints

__all__ = ["mixed", "normals", "signs", "uniforms"]

GOLDEN, FIRST, SECOND = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)


def _finish(x: Any) -> Any:
    """Scatter the bits of whole numbers: the finaliser of SplitMix64 (Steele, Lea & Flood 2014, Proc. OOPSLA:453)."""
    x = (x ^ (x >> np.uint64(30))) * FIRST
    x = (x ^ (x >> np.uint64(27))) * SECOND
    return x ^ (x >> np.uint64(31))


def mixed(number: Any, place: Any) -> Ints:
    """Make one number of two, which no other two are likely to give; shape as theirs."""
    start = _finish(np.asarray(number).astype(np.uint64) * GOLDEN)
    return np.asarray(_finish(start + np.asarray(place).astype(np.uint64) * GOLDEN) >> np.uint64(1)).astype(np.int64)


def _mixed(number: Any, seed: int, n: int, first: int = 0) -> Any:
    """Mix numbers, a seed and n places from the first on into whole numbers, shape (numbers, n).

    Once over the numbers and once more over the places.
    """
    start = _finish(np.asarray(number).astype(np.uint64) * GOLDEN + _finish(np.array([seed], np.uint64) + GOLDEN))
    return _finish(start[:, None] + np.arange(first + 1, first + n + 1, dtype=np.uint64) * GOLDEN)


def signs(number: Any, seed: int, n: int) -> Floats:
    """Draw −1 or 1, shape (numbers, n).

    Examples
    --------
    >>> bool((signs([7, 5], 0, 4)[1] == signs([5], 0, 4)[0]).all())
    True
    """
    return np.asarray(1.0 - 2.0 * (_mixed(number, seed, n) >> np.uint64(63)).astype(np.float64))


def uniforms(number: Any, seed: int, n: int, first: int = 0) -> Floats:
    """Draw numbers between 0 and 1, both left out, shape (numbers, n); of more than these, those from the first on."""
    return np.asarray(((_mixed(number, seed, n, first) >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53)


def normals(number: Any, seed: int, n: int, first: int = 0) -> Floats:
    """Draw standard normal numbers, shape (numbers, n); of more than these, those from the first on."""
    return np.asarray(ndtri(uniforms(number, seed, n, first)))
