"""Restricted maximum likelihood of block variances for problems that fit a dense matrix.

One iteration costs a Cholesky factorisation in the smaller of the two spaces, columns or rows. The variances are found
by average-information Newton steps (Gilmour, Thompson & Cullis 1995, Biometrics 51:1440) on their logarithms.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import issparse

from pairing.learning.inverse import Inverse, dense_inverse, invert, nested_inverse

__all__ = [
    "MAX_DENSE_COLUMNS",
    "Point",
    "Prior",
    "Problem",
    "column_point",
    "columns_from_rows",
    "maximise",
    "newton_step",
    "row_kernels",
    "row_point",
]

Array = np.ndarray[Any, np.dtype[np.float64]]
MAX_DENSE_COLUMNS = 1500
"""Columns up to which a solver is exact (our choice)."""
FLOOR = 1e-4
"""Least variance of a block or of the noise, relative to the variance of the response."""


@dataclass(frozen=True)
class Prior:
    """What is assumed of the columns before any data.

    Attributes
    ----------
    block : int array, shape (n_columns,)
        Block of each column; -1: variance fixed at ``scale``; -2: flat (no prior).
    mean : array, shape (n_columns,)
    scale : array, shape (n_columns,)
        Variance of a column relative to its block's (absolute for block -1).
    n_blocks : int
    pseudo_count, pseudo_var : array, shape (n_blocks + 1,)
        Scaled inverse chi-squared prior of each block's variance and, last, of the noise: so many imagined effects of
        that variance. A count of 0 is plain restricted maximum likelihood.
    """

    block: np.ndarray[Any, np.dtype[np.int64]]
    mean: Array
    scale: Array
    n_blocks: int
    pseudo_count: Array
    pseudo_var: Array

    def take(self, columns: Any) -> Prior:
        """Return the prior of some of the columns, with the blocks numbered as before."""
        own = self.block[columns], self.mean[columns], self.scale[columns]
        return Prior(*own, self.n_blocks, self.pseudo_count, self.pseudo_var)

    def variance(self, var: Array) -> Array:
        """Prior variance of every column, infinite where flat."""
        lookup = np.append(var, [1.0, 1.0])
        return np.where(self.block == -2, np.inf, lookup[self.block] * self.scale)

    def precision(self, var: Array) -> Array:
        """Prior precision of every column, 0 where flat."""
        return 1.0 / self.variance(var)


@dataclass(frozen=True)
class Problem:
    """Centred data: ``y`` less the prior means' part, columns, and weights: a row of weight 2 counts as two rows."""

    x: Any
    y: Array
    weight: Array
    prior: Prior
    noise_fixed: float | None = None

    @property
    def n_flat(self) -> int:
        """Number of columns without a prior."""
        return int((self.prior.block == -2).sum())

    @property
    def spread(self) -> float:
        """Weighted variance of the response; never 0."""
        centre = float(np.average(self.y, weights=self.weight)) if self.n_flat else 0.0
        return max(float(np.average((self.y - centre) ** 2, weights=self.weight)), 1e-6)

    @property
    def n(self) -> float:
        """Number of readings that the rows stand for."""
        return float(self.weight.sum())


@dataclass(frozen=True)
class Point:
    """The restricted log-likelihood at one set of variances, with what a Newton step needs.

    ``flat`` is what turns the response into the flat columns' weights, and their covariance (row space only).
    """

    value: float
    gradient: Array
    information: Array
    beta: Array
    cov: Array | None = None
    inverse: Inverse | None = None
    flat: tuple[Array, Array] | None = None


def column_point(problem: Problem, gram: Any, moment: Array, square: float, params: Array, inner: Any = None) -> Point:
    """Evaluate in column space.

    Parameters
    ----------
    gram, moment, square : X'WX, X'Wy, y'Wy of the centred data.
    params : log variances of the blocks, then of the noise.
    inner : columns of a nested block, if any; the Gram matrix is sparse then.
    """
    prior, n = problem.prior, problem.n
    k = prior.n_blocks
    var, noise = np.exp(params[:k]), float(np.exp(params[k]))
    precision = prior.precision(var)
    scaled = gram / noise
    inverse = dense_inverse(scaled, precision) if inner is None else nested_inverse(scaled, precision, inner)
    beta = inverse.solve(moment[:, None] / noise)[:, 0]
    rss = square - 2 * float(beta @ moment) + float(beta @ (gram @ beta))
    shrunk = precision > 0
    learned = prior.block >= 0
    block = prior.block[learned]
    size = np.bincount(block, minlength=k).astype(float)
    fit = np.bincount(block, beta[learned] ** 2 * precision[learned], minlength=k)
    spread, total = inverse.traces(precision, prior.block, k)
    quadratic = rss / noise + float(beta**2 @ precision)
    value = -0.5 * (
        (n - problem.n_flat) * np.log(2 * np.pi)
        + n * params[k]
        - float(np.log(precision[shrunk]).sum())
        + inverse.logdet
        + quadratic
    )
    effective = len(beta) - total
    gradient = 0.5 * np.append(fit + spread - size, rss / noise + effective - n)
    # average information: q_k = X_k beta_k, and the residual for the noise
    part = np.zeros((len(beta), k))
    part[learned, block] = beta[learned]
    weighted = np.column_stack([np.asarray(gram @ part), precision * beta * noise])
    products = np.empty((k + 1, k + 1))
    products[:k] = part.T @ weighted
    products[k, :k] = products[:k, k]
    products[k, k] = rss
    information = 0.5 * (products / noise - weighted.T @ inverse.solve(weighted) / noise**2)
    return Point(value, gradient, information, beta, inverse=inverse)


def row_kernels(problem: Problem) -> tuple[list[Array], Array, Array]:
    """Make the kernels of each block, of the fixed columns, and the flat columns, for row space."""
    prior, x = problem.prior, problem.x
    n = len(problem.y)

    def kernel(columns: Any) -> Array:
        part = x[:, columns]
        scaled = part.multiply(prior.scale[columns]).tocsr() if issparse(part) else part * prior.scale[columns]
        product = scaled @ part.T
        return np.asarray(product.toarray() if issparse(product) else product)

    kernels = [kernel(np.flatnonzero(prior.block == b)) for b in range(prior.n_blocks)]
    fixed = np.flatnonzero(prior.block == -1)
    flat = x[:, np.flatnonzero(prior.block == -2)]
    return (
        kernels,
        kernel(fixed) if len(fixed) else np.zeros((n, n)),
        np.asarray(flat.toarray() if issparse(flat) else flat),
    )


def row_point(problem: Problem, kernels: tuple[list[Array], Array, Array], params: Array) -> Point:
    """Evaluate in row space; ``beta`` holds the projected response P y."""
    blocks, fixed, flat = kernels
    k, n = len(blocks), len(problem.y)
    var, noise = np.exp(params[:k]), float(np.exp(params[k]))
    total = fixed + np.diag(noise / problem.weight)
    for v, kernel in zip(var, blocks, strict=True):
        total += v * kernel
    inverse, logdet = invert(total)
    projector, logdet_flat, kept = inverse, 0.0, None
    if flat.shape[1]:
        half = inverse @ flat
        cov, logdet_flat = invert(flat.T @ half)
        kept = cov @ half.T, cov
        projector = inverse - half @ kept[0]
    py = projector @ problem.y
    q = np.column_stack(
        [*(v * (kernel @ py) for v, kernel in zip(var, blocks, strict=True)), noise / problem.weight * py]
    )
    trace = [v * float(np.vdot(projector, kernel)) for v, kernel in zip(var, blocks, strict=True)]
    trace.append(noise * float((np.diag(projector) / problem.weight).sum()))
    repeats = problem.n - n
    trace[-1] += repeats
    value = -0.5 * (
        (problem.n - flat.shape[1]) * np.log(2 * np.pi)
        + repeats * params[k]
        + float(np.log(problem.weight).sum())
        + logdet
        + logdet_flat
        + float(problem.y @ py)
    )
    return Point(value, 0.5 * (q.T @ py - np.array(trace)), 0.5 * q.T @ projector @ q, py, projector, flat=kept)


def maximise(
    evaluate: Callable[[Array], Point],
    prior: Prior,
    start: Array,
    *,
    floor: float,
    fixed_noise: bool,
    tol: float,
    max_iter: int,
) -> tuple[Array, Point, int]:
    """Climb to the best log variances, none below ``log(floor)``, by damped Newton steps.

    Returns
    -------
    params : array
        Log variances of blocks, then noise.
    point : Point
        The likelihood there.
    n_iter : int
    """
    free = np.ones(len(start), bool)
    free[-1] = not fixed_noise
    least = float(np.log(floor))
    params = start.copy()
    point = evaluate(params)
    value = _score(prior, params, point, free)[0]
    for n_iter in range(1, max_iter + 1):
        step = newton_step(prior, params, point, free, least)
        for _ in range(12):
            trial = evaluate(params + step)
            new = _score(prior, params + step, trial, free)[0]
            if new >= value - 1e-9:
                break
            step *= 0.4
        else:
            return params, point, n_iter
        params, point, value = params + step, trial, new
        if np.abs(step).max() < tol:
            return params, point, n_iter
    return params, point, max_iter


def _score(prior: Prior, params: Array, point: Point, free: Any) -> tuple[float, Array, Array]:
    """Likelihood, gradient and information with the prior of the variances included."""
    count = prior.pseudo_count
    pull = count * prior.pseudo_var * np.exp(-params)
    value = point.value - 0.5 * float((count * params + pull)[free].sum())
    return value, point.gradient + 0.5 * (pull - count), point.information + 0.5 * np.diag(pull)


def newton_step(prior: Prior, params: Array, point: Point, free: Any, least: float) -> Array:
    """One damped step on the log variances, none of which falls below ``least``."""
    _, gradient, information = _score(prior, params, point, free)
    damped = information[np.ix_(free, free)] + 1e-6 * np.eye(int(free.sum()))
    damped[np.diag_indices_from(damped)] += 1e-3 * np.abs(gradient[free])
    step = np.zeros_like(params)
    step[free] = np.clip(np.linalg.solve(damped, gradient[free]), -2.5, 2.5)
    return np.maximum(params + step, least) - params


def columns_from_rows(problem: Problem, params: Array, point: Point) -> tuple[Array, Array]:
    """Posterior mean (less the prior mean) and covariance of the columns, from the row-space point at ``params``."""
    prior = problem.prior
    assert point.cov is not None
    flat = prior.block == -2
    variance = np.where(flat, 0.0, prior.variance(np.exp(params[: prior.n_blocks])))
    dense = np.asarray(problem.x.toarray() if issparse(problem.x) else problem.x)
    scaled = dense * variance
    cov = np.diag(variance) - scaled.T @ point.cov @ scaled
    beta = scaled.T @ point.beta
    if point.flat is not None:
        gain, flat_cov = point.flat
        beta[flat] = gain @ problem.y
        cross = -gain @ scaled
        cov[flat] = cross
        cov[:, flat] = cross.T
        cov[np.ix_(flat, flat)] = flat_cov
    return beta, cov
