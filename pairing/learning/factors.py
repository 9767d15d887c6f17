r"""Low-rank structure in a large table of cells: the collaborative filter.

The cells of a table (taster × flavouring, base × flavouring, flavouring × flavouring) are taken as products of a few
hidden traits of each side, :math:`v_{ij} \sim N(l_i \cdot r_j, \sigma^2 / w_ij)`. Those of the side with more items, of
which each tells little, are integrated out, :math:`l_i \sim N(0, I)`; those of the other have a prior,
:math:`r_j \sim N(0, \rho I)`, and are found by expectation–maximisation (Rubin & Thayer 1982, Psychometrika 47:69;
with cells that are missing, Tipping & Bishop 1999, J. R. Stat. Soc. B 61:611):

.. math::
    C_i &= \Big( I + \tfrac{1}{\sigma^2} \sum_j w_{ij} r_j r_j' \Big)^{-1}, \qquad
    m_i = C_i \, \tfrac{1}{\sigma^2} \sum_j w_{ij} v_{ij} r_j, \\
    r_j &= \Big( \tfrac{1}{\rho} I + \tfrac{1}{\sigma^2} \sum_i w_{ij} (m_i m_i' + C_i) \Big)^{-1}
           \tfrac{1}{\sigma^2} \sum_i w_{ij} v_{ij} m_i.

Without :math:`C_i`, the uncertainty of what is integrated out, this would be alternating least squares, which takes
noise for traits where an item has a few dozen cells. How large ρ is is chosen on cells held out, and where no traits
predict those better than none, there are none.

The rows of the table may lie in parts; only sums for its columns are asked of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.numbered import normals, uniforms
from pairing.learning.parts import Parts
from pairing.model.arrays import Floats, Ints

__all__ = ["Cells", "Factors", "Side", "fit_factors"]


RANKS = (10, 24)
"""Hidden traits of each side, at least and at most (our choice)."""
SOLVED = 2_000_000
"""Items times traits squared that are solved for at a time (our choice): of a larger table fewer traits are sought."""
SPREADS = (8.0, 1.6)
"""Variances ρ that are tried, largest first, each times the noise variance over the weight of a typical item (our
choice): about 1, an item's cells begin to tell its traits."""
ROUNDS = (3, 2, 3)
"""Rounds with the first variance, with each further one, and last with all cells (our choice)."""
HELD_OUT = 0.1
"""Share of the cells on which they are tried (our choice)."""
WORTH = 0.9995
"""Share of the error of no traits below which traits are worth having (our choice)."""


@dataclass(frozen=True)
class Cells:
    """Observed cells of a table, or those of one part of its rows.

    Attributes
    ----------
    row, column : int array, shape (n,)
        Rows are numbered over the whole table.
    value : array, shape (n,)
        Mean of what is left to explain.
    weight : array, shape (n,)
        Number of scores behind it.
    shape : (int, int)
        Of the whole table.
    symmetric : bool
        Cells are unordered pairs.
    """

    row: Ints
    column: Ints
    value: Floats
    weight: Floats
    shape: tuple[int, int]
    symmetric: bool = False

    def take(self, rows: Any) -> Cells:
        """Return some of them."""
        return replace(
            self, row=self.row[rows], column=self.column[rows], value=self.value[rows], weight=self.weight[rows]
        )

    def both_ways(self) -> Cells:
        """Return unordered pairs in both orders, each with half the weight."""
        row, column = np.append(self.row, self.column), np.append(self.column, self.row)
        return Cells(row, column, np.tile(self.value, 2), np.tile(self.weight, 2) / 2, self.shape)


@dataclass(frozen=True)
class Factors:
    """Hidden traits of rows and columns; ``symmetric``: a cell is the mean of both orders.

    ``rows`` are the numbers of the rows in ``left``, ascending.
    """

    rows: Ints
    left: Floats
    right: Floats
    symmetric: bool = False

    def cells(self, key: Ints) -> Floats:
        """Return the expected value of cells with key ``row · n_columns + column``; 0 for an unseen row."""
        row, column = np.divmod(key, len(self.right))
        value = (self._of(row) * self.right[column]).sum(axis=1)
        if self.symmetric:
            value = 0.5 * (value + (self._of(column) * self.right[row]).sum(axis=1))
        return np.asarray(value)

    def _of(self, row: Ints) -> Floats:
        """Return the traits of rows, by number."""
        if not len(self.rows):
            return np.zeros((len(row), self.right.shape[1]))
        at = np.minimum(np.searchsorted(self.rows, row), len(self.rows) - 1)
        return np.where((self.rows[at] == row)[:, None], self.left[at], 0.0)


@dataclass(frozen=True)
class Side:
    """Hidden traits of the items of one side.

    Attributes
    ----------
    mean : array, shape (n, rank)
    cov : array, shape (n, rank, rank), or None
        Where they are integrated out.
    """

    mean: Floats
    cov: Floats | None = None

    def products(self) -> Floats:
        """Return the expected products of traits, shape (n, rank · (rank + 1) / 2)."""
        one, two = np.tril_indices(self.mean.shape[1])
        found = self.mean[:, one] * self.mean[:, two]
        return found if self.cov is None else found + self.cov[:, one, two]


@dataclass(frozen=True)
class _Model:
    """What all parts are told: traits, the prior variance ρ, and whether the columns are what is integrated out."""

    rank: int
    spread: float
    columns_out: bool
    seed: int
    columns: Side | None = None

    def solved(self, half: Floats, rhs: Floats, *, columns: bool) -> Side:
        """Solve for traits, given sums of weighted products of the other side's and of weighted values."""
        integrated = columns == self.columns_out
        one, two = np.tril_indices(self.rank)
        place = np.empty((self.rank, self.rank), np.int64)
        place[one, two] = place[two, one] = np.arange(len(one))
        half[:, np.diag(place)] += 1.0 if integrated else 1.0 / self.spread
        gram = half.take(place.ravel(), axis=1).reshape(-1, self.rank, self.rank)
        if not integrated:
            return Side(np.asarray(np.linalg.solve(gram, rhs[:, :, None])[:, :, 0], np.float64))
        cov = np.asarray(np.linalg.inv(gram), np.float64)
        return Side((cov @ rhs[:, :, None])[:, :, 0], cov)


@dataclass(frozen=True)
class _Table:
    """Cells of one part, as matrices over its own rows and over all columns; weights over the noise variance."""

    rows: Ints
    weight: Any
    value: Any
    test: Cells

    @classmethod
    def of(cls, cells: Cells, noise_var: float, held_out: float) -> _Table:
        """Make it, with some of the cells held out."""
        held = uniforms(cells.row * cells.shape[1] + cells.column, 1, 1)[:, 0] < held_out
        train, test = cells.take(~held), cells.take(held)
        if cells.symmetric:
            train = train.both_ways()
        rows, row = np.unique(train.row, return_inverse=True)
        at, shape = (row, train.column), (len(rows), cells.shape[1])
        weight = train.weight / noise_var
        value = sparse.csr_matrix((weight * train.value, at), shape)
        return cls(rows, sparse.csr_matrix((weight, at), shape), value, test)

    def size(self) -> dict[str, Any]:
        """Return the number of rows, and sums of their weights, of the squares of these, and of the columns'."""
        rows, columns = (np.asarray(self.weight.sum(axis=axis)).ravel() for axis in (1, 0))
        return {"rows": len(self.rows), "total": rows.sum(), "squares": rows @ rows, "columns": columns}

    def traits(self, model: _Model) -> Side:
        """Traits of the rows, given those of the columns; drawn at random where there are none yet."""
        if model.columns is None:
            return Side(np.sqrt(model.spread) * normals(self.rows, model.seed, model.rank))
        half = np.asarray(self.weight @ model.columns.products())
        return model.solved(half, np.asarray(self.value @ model.columns.mean), columns=False)

    def round(self, model: _Model) -> dict[str, Any]:
        """Return what the columns' traits follow from."""
        rows = self.traits(model)
        half = np.asarray(self.weight.T @ rows.products())
        return {"half": half, "rhs": np.asarray(self.value.T @ rows.mean)}

    def error(self, model: _Model) -> dict[str, Any]:
        """Return the squared error of the cells held out, with these traits and with none."""
        cells, found = self.test, self.factors(model)
        guess = found.cells(cells.row * cells.shape[1] + cells.column)
        weight, value = cells.weight, cells.value
        return {"error": float(weight @ (value - guess) ** 2), "none": float(weight @ value**2)}

    def factors(self, model: _Model) -> Factors:
        """Return the traits of the rows of this part, and of the columns."""
        assert model.columns is not None
        return Factors(self.rows, self.traits(model).mean, model.columns.mean, self.test.symmetric)


def fit_factors(cells: Parts, noise_sd: float, *, seed: int = 0) -> Parts | None:
    """Find hidden traits, None where they do not help.

    Parameters
    ----------
    cells : Parts of Cells
        Each has rows of its own; the columns are those of all.
    noise_sd : float
        Spread of one score.

    Returns
    -------
    Parts of Factors, or None
    """
    held = cells.then(_Table.of, noise_sd**2, HELD_OUT)
    size = held.sum(_Table.size)
    n_columns = len(size["columns"])
    columns_out = n_columns > size["rows"]
    squares = size["squares"] if columns_out else size["columns"] @ size["columns"]
    typical = squares / max(size["total"], 1e-12)
    rank = int(np.clip(np.sqrt(SOLVED / (n_columns + size["rows"])), *RANKS))
    best: tuple[float, _Model] | None = None
    model, last = _Model(rank, SPREADS[0] / typical, columns_out, seed), np.inf
    for rounds, spread in zip((ROUNDS[0], *[ROUNDS[1]] * len(SPREADS)), SPREADS, strict=False):
        model = _improved(held, _with_spread(model, spread / typical), rounds)
        told = held.sum(_Table.error, model)
        if told["error"] < min(WORTH * told["none"], best[0] if best else np.inf):
            best = told["error"], model
        if best and told["error"] > last:
            break
        last = told["error"]
    if best is None:
        return None
    whole = cells.then(_Table.of, noise_sd**2, 0.0)
    return whole.then(_Table.factors, _improved(whole, best[1], ROUNDS[2]))


def _with_spread(model: _Model, spread: float) -> _Model:
    """Give what is not integrated out another prior variance, and traits of that size."""
    columns = model.columns
    if columns is not None and not model.columns_out:
        columns = Side(columns.mean * np.sqrt(spread / model.spread))
    return replace(model, spread=spread, columns=columns)


def _improved(tables: Parts, model: _Model, rounds: int) -> _Model:
    for _ in range(rounds):
        sums = tables.sum(_Table.round, model)
        model = replace(model, columns=model.solved(sums["half"], sums["rhs"], columns=True))
    return model
