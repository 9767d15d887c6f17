"""Block variances and posterior for problems too large for a dense matrix.

Linear systems are solved for several right-hand sides at once by conjugate gradients with a diagonal preconditioner,
multiplying by the rows and their transpose: with many cells the Gram matrix would be larger than both. The trace that a
variance needs is the diagonal approximation plus a stochastic correction (Hutchinson 1990, Commun. Stat. Simul.
19:433); draws of the posterior come from perturbing data and prior (Papandreou & Yuille 2010, NIPS 23).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.exact import Prior
from pairing.learning.inverse import invert

__all__ = ["Gram", "draws", "fit_variances", "small_columns", "solve"]

Array = np.ndarray[Any, np.dtype[np.float64]]
MAX_SMALL = 400
"""Columns that are inverted together to lead the conjugate gradients (our choice)."""
WORTH_MERGING = 0.8
"""Rows that are alike are merged where fewer than this share are distinct (our choice)."""
LOOKED_AT = 20_000
"""Rows from which that share is told (our choice)."""
PIECE = 100_000
"""Rows that are multiplied at a time, so that little room is taken (our choice)."""


class Gram:
    """The matrix X'WX, never formed.

    Rows that are alike, as the sips of a stepped cup are, are taken together.

    Parameters
    ----------
    x : sparse matrix, shape (n, p)
    weight : array, shape (n,)
    inner : int array, optional
        Columns of a nested block (no row in two of them): `solve` takes them out exactly.
    small : int array, optional
        Other columns, few of them, whose part of the matrix is inverted to lead the way.
    """

    def __init__(self, x: Any, weight: Array, inner: Any = None, small: Any = None) -> None:
        x, weight = _alike(x.tocsr(), weight)
        self.root = _scaled(x, np.sqrt(weight)) if (weight != 1.0).any() else x
        self.transposed = self.root.T  # a view: scattering into few columns beats gathering from many rows
        self._diagonal = _squares(self.root)
        self.inner = np.zeros(0, np.int64) if inner is None else inner
        self.outer = np.setdiff1d(np.arange(x.shape[1]), self.inner)
        self._rows = self.root[:, self.outer] if len(self.inner) else self.root
        self._columns = self._rows.T
        self.cross = (self.root[:, self.inner].T @ self._rows).tocsr()
        self.cross_transposed = self.cross.T.tocsr()
        self.small = np.zeros(0, np.int64) if small is None else np.searchsorted(self.outer, small)
        self._small = np.zeros((len(self.small), len(self.small)))
        for start in range(0, self._rows.shape[0], PIECE):
            part = self._rows[start : start + PIECE][:, self.small]
            self._small += (part.T @ part).toarray()

    def diagonal(self) -> Array:
        """Return the diagonal."""
        return self._diagonal

    def __matmul__(self, other: Array) -> Array:
        return np.asarray(self.transposed @ (self.root @ other))

    def times_outer(self, other: Array) -> Array:
        """Multiply the part of the outer columns alone."""
        return np.asarray(self._columns @ (self._rows @ other))

    def small_inverse(self, precision: Array, spread: Array) -> Array:
        """Return the inverse of the small columns' part, what is nested taken out with ``spread``."""
        nested = self.cross_transposed[self.small]
        part = self._small + np.diag(precision[self.outer[self.small]])
        return invert(part - (nested.multiply(spread[None, :]) @ nested.T).toarray())[0]


def _scaled(x: Any, factor: Array) -> Any:
    """Multiply every row by its factor; indices are shared, not copied."""
    return sparse.csr_matrix((x.data * np.repeat(factor, np.diff(x.indptr)), x.indices, x.indptr), x.shape)


def _squares(x: Any) -> Array:
    """Sum of squares of every column, in pieces that take little room."""
    out = np.zeros(x.shape[1])
    for start in range(0, x.nnz, 10 * PIECE):
        part = slice(start, start + 10 * PIECE)
        out += np.bincount(x.indices[part], x.data[part] ** 2, minlength=x.shape[1])
    return out


def _alike(x: Any, weight: Array) -> tuple[Any, Array]:
    """Keep one of the rows that are alike, with the sum of their weights."""
    unlike = np.random.default_rng(0).standard_normal(x.shape[1])
    some = x[:LOOKED_AT] @ unlike
    if len(np.unique(some)) > WORTH_MERGING * len(some):
        return x, weight
    _, first, group = np.unique(x @ unlike, return_index=True, return_inverse=True)
    return x[first], np.asarray(np.bincount(group, weight), np.float64)


def small_columns(block: Any, nested: Any) -> Any:
    """Return the columns of the smallest blocks, as many as are quickly inverted together."""
    size = np.bincount(block[block >= 0], minlength=1)
    order = np.argsort(size, kind="stable")
    if nested is not None:
        order = order[order != block[nested[0]]]
    few = order[np.cumsum(size[order]) + (block < 0).sum() <= MAX_SMALL]
    return np.flatnonzero((block < 0) | np.isin(block, few))


def solve(gram: Gram, precision: Array, rhs: Array, *, start: Array | None = None, tol: float = 1e-5) -> Array:
    """Solve ``(gram + diag(precision)) x = rhs`` for every column of ``rhs``."""
    outer, inner, cross, back = gram.outer, gram.inner, gram.cross, gram.cross_transposed
    diagonal, own = gram.diagonal() + precision, precision[outer][:, None]
    spread = 1.0 / diagonal[inner]

    def schur(v: Array) -> Array:
        return np.asarray(gram.times_outer(v) + own * v - np.asarray(back @ (spread[:, None] * (cross @ v))))

    left = diagonal[outer] - np.asarray(back.multiply(back) @ spread)
    lead = _lead(left, gram.small, gram.small_inverse(precision, spread))
    right = rhs[outer] - np.asarray(back @ (spread[:, None] * rhs[inner]))
    x = np.empty_like(rhs)
    x[outer] = _conjugate(schur, lead, right, None if start is None else start[outer], tol)
    x[inner] = spread[:, None] * (rhs[inner] - np.asarray(cross @ x[outer]))
    return x


def _lead(diagonal: Array, small: Any, inverse: Array) -> Callable[[Array], Array]:
    """Return the preconditioner: the small columns' inverse, and the others' diagonal."""
    spread = (1.0 / np.maximum(diagonal, 1e-12))[:, None]

    def lead(residual: Array) -> Array:
        out = spread * residual
        out[small] = inverse @ residual[small]
        return out

    return lead


def _conjugate(
    times: Callable[[Array], Array], lead: Callable[[Array], Array], rhs: Array, start: Array | None, tol: float
) -> Array:
    """Solve for every column of ``rhs`` by preconditioned conjugate gradients."""
    x = np.zeros_like(rhs) if start is None else start.copy()
    residual = rhs - times(x)
    z = lead(residual)
    direction = z.copy()
    rz = (residual * z).sum(0)
    goal = tol**2 * (rhs * lead(rhs)).sum(0) + 1e-300
    for _ in range(500):
        if (rz <= goal).all():
            break
        product = times(direction)
        step = rz / np.maximum((direction * product).sum(0), 1e-300)
        x += step * direction
        residual -= step * product
        z = lead(residual)
        new = (residual * z).sum(0)
        direction = z + (new / np.maximum(rz, 1e-300)) * direction
        rz = new
    return x


def fit_variances(
    gram: Gram,
    moment: Array,
    square: float,
    n_rows: float,
    prior: Prior,
    start: Array,
    *,
    floor: float,
    fixed_noise: bool,
    rng: np.random.Generator,
    init: Array | None = None,
    max_iter: int = 12,
    tol: float = 0.05,
) -> tuple[Array, Array, int]:
    """Find variances by MacKay's fixed-point updates (1992, Neural Computation 4:415).

    Returns
    -------
    params : array
        Log variances of the blocks, then of the noise.
    beta : array
        Posterior mean less the prior mean, at the variances one update earlier.
    n_iter : int
    """
    k, p = prior.n_blocks, len(moment)
    params = start.copy()
    probe = rng.choice([-1.0, 1.0], size=p)
    learned = prior.block >= 0
    block = prior.block[learned]
    size = np.bincount(block, minlength=k)
    solution = np.zeros((p, 2))
    if init is not None:
        solution[:, 0] = init
    for n_iter in range(1, max_iter + 1):  # noqa: B007 - handed back
        noise = float(np.exp(params[k]))
        precision = prior.precision(np.exp(params[:k])) * noise
        solution = solve(gram, precision, np.column_stack([moment, probe]), start=solution, tol=1e-3)
        beta = solution[:, 0]
        diagonal = 1.0 / np.maximum(gram.diagonal() + precision, 1e-12)
        variance = diagonal + probe * (solution[:, 1] - diagonal * probe)
        shrinkage = np.clip(variance * precision, 0.0, 1.0) if p < 64 else variance * precision
        lost = np.bincount(block, shrinkage[learned], minlength=k)
        gamma = np.clip(size - lost, 1e-3 * size, size)
        fit = np.bincount(block, beta[learned] ** 2 / prior.scale[learned], minlength=k)
        count, target = prior.pseudo_count, prior.pseudo_var
        new = params.copy()
        new[:k] = np.log(np.maximum((fit + count[:k] * target[:k]) / (gamma + count[:k]), floor))
        if not fixed_noise:
            rss = square - 2 * float(beta @ moment) + float(beta @ (gram @ beta))
            effective = p - float(shrinkage.sum())
            freedom = max(n_rows - effective, 0.02 * n_rows)
            new[k] = np.log(max((rss + count[k] * target[k]) / (freedom + count[k]), floor))
        change = np.abs(new - params).max()
        params = new
        if change < tol:
            break
    return params, solution[:, 0], n_iter


def draws(gram: Gram, prior: Prior, params: Array, rng: np.random.Generator, n: int) -> Array:
    """Draw deviations from the posterior mean, shape (n_columns, n)."""
    k = prior.n_blocks
    noise = float(np.exp(params[k]))
    precision = prior.precision(np.exp(params[:k]))
    rows, columns = gram.root.shape
    rhs = np.asarray(gram.transposed @ rng.standard_normal((rows, n))) / np.sqrt(noise)
    rhs += rng.standard_normal((columns, n)) * np.sqrt(precision)[:, None]
    return solve(gram, precision * noise, rhs * noise, tol=3e-3)
