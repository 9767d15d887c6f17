"""Low-rank structure in a large table of cells: the collaborative filter.

Cells (taster × flavouring, base × flavouring, flavouring × flavouring) are taken as the product of a few hidden traits
of each side, found by weighted alternating least squares (Hu, Koren & Volinsky 2008, Proc. ICDM:263). Items that were
tasted more often carry a larger penalty (Zhou et al. 2008, Proc. AAIM:337); how large is chosen on cells held out, and
where no traits predict those better than none, there are none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse

__all__ = ["Cells", "Factors", "fit_factors"]

Floats = np.ndarray[Any, np.dtype[np.float64]]
Ints = np.ndarray[Any, np.dtype[np.int64]]

RANK = 12
"""Hidden traits of each side (our choice)."""
GROWTH = 0.65
"""The penalty of an item grows with this power of its weight (our choice; 1 in Zhou et al.)."""
PENALTIES = (1.0, 1.6, 2.4)
"""Penalties that are tried, each times the spread of a score and √(10 · rank) (our choice)."""
HELD_OUT = 0.1
"""Share of the cells on which they are tried (our choice)."""


@dataclass(frozen=True)
class Cells:
    """Observed cells.

    Attributes
    ----------
    row, column : int array, shape (n,)
    value : array, shape (n,)
        Mean of what is left to explain.
    weight : array, shape (n,)
        Number of scores behind it.
    shape : (int, int)
    """

    row: Ints
    column: Ints
    value: Floats
    weight: Floats
    shape: tuple[int, int]

    def take(self, rows: Any) -> Cells:
        """Return some of them."""
        return Cells(self.row[rows], self.column[rows], self.value[rows], self.weight[rows], self.shape)

    def both_ways(self) -> Cells:
        """Return unordered pairs in both orders, each with half the weight."""
        row, column = np.append(self.row, self.column), np.append(self.column, self.row)
        return Cells(row, column, np.tile(self.value, 2), np.tile(self.weight, 2) / 2, self.shape)


@dataclass(frozen=True)
class Factors:
    """Hidden traits of rows and columns; ``symmetric``: a cell is the mean of both orders."""

    left: Floats
    right: Floats
    symmetric: bool = False

    def cells(self, key: Ints) -> Floats:
        """Return the expected value of cells with key ``row · n_columns + column``; 0 for an unseen row."""
        row, column = np.divmod(key, len(self.right))
        known = np.minimum(row, len(self.left) - 1)
        value = (self.left[known] * self.right[column]).sum(axis=1)
        if self.symmetric:
            value = 0.5 * (value + (self.left[column] * self.right[known]).sum(axis=1))
        return np.where(row < len(self.left), value, 0.0)


def fit_factors(
    cells: Cells, noise_sd: float, *, symmetric: bool = False, rank: int = RANK, seed: int = 0
) -> Factors | None:
    """Find hidden traits, None where they do not help.

    Parameters
    ----------
    cells : Cells
    noise_sd : float
        Spread of one score.
    symmetric : bool
        Cells are unordered pairs.
    """
    rng = np.random.default_rng(seed)
    held = rng.random(len(cells.value)) < HELD_OUT
    train, test = cells.take(~held), cells.take(held)
    base = noise_sd * np.sqrt(10.0 * rank)
    best: tuple[float, Floats] | None = None
    least = float(test.weight @ test.value**2)
    start = 0.3 * np.random.default_rng(0).standard_normal((cells.shape[1], rank))
    key = test.row * cells.shape[1] + test.column
    for penalty in PENALTIES:
        found = _alternate(train, base * penalty, start, symmetric, n_iter=5 if best is None else 3)
        start = found.right
        error = float(test.weight @ (test.value - found.cells(key)) ** 2)
        if error < 0.999 * least:
            best, least = (penalty, found.right), error
    return None if best is None else _alternate(cells, base * best[0], best[1], symmetric, n_iter=6)


def _alternate(cells: Cells, penalty: float, right: Floats, symmetric: bool, n_iter: int) -> Factors:
    if symmetric:
        cells = cells.both_ways()
    at = cells.row, cells.column
    weight = sparse.csr_matrix((cells.weight, at), cells.shape)
    value = sparse.csr_matrix((cells.weight * cells.value, at), cells.shape)
    ways = [(weight, value), (weight.T.tocsr(), value.T.tocsr())]
    ridges = [penalty * _growth(w) for w, _ in ways]
    left = right
    for _ in range(n_iter):
        left = _solve_side(*ways[0], right, ridges[0])
        right = _solve_side(*ways[1], left, ridges[1])
    return Factors(left, right, symmetric)


def _growth(weight: Any) -> Floats:
    """Penalty of each item relative to that of a typical score's item."""
    total = np.asarray(weight.sum(axis=1)).ravel()
    typical = float((total**2).sum() / max(total.sum(), 1e-12))
    return np.asarray((np.maximum(total, 1.0) / max(typical, 1.0)) ** GROWTH)


def _solve_side(weight: Any, value: Any, other: Floats, ridge: Floats) -> Floats:
    n, rank = weight.shape[0], other.shape[1]
    one, two = np.tril_indices(rank)
    place = np.empty((rank, rank), np.int64)
    place[one, two] = place[two, one] = np.arange(len(one))
    half = np.asarray(weight @ (other[:, one] * other[:, two]))
    half[:, np.diag(place)] += ridge[:, None]
    gram = half.take(place.ravel(), axis=1).reshape(n, rank, rank)
    return np.asarray(np.linalg.solve(gram, np.asarray(value @ other)[:, :, None])[:, :, 0])
