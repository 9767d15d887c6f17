"""What is known of the columns after the data: mean and covariance, exact or by joint draws."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from scipy import sparse
from scipy.sparse import issparse
from scipy.special import log_ndtr

from pairing.learning.inverse import Inverse

__all__ = ["Posterior", "draws_for"]

Array = np.ndarray[Any, np.dtype[np.float64]]
CHUNK = 8192
FEW_DRAWS = 4
N_DRAWS = 32
"""Draws that stand for a posterior whose covariance is too large to hold (our choice)."""
MANY_COLUMNS = 30_000
"""Columns beyond which half as many draws are made (our choice)."""


def draws_for(n_columns: int) -> int:
    """Return how many draws stand for a posterior of so many columns."""
    return N_DRAWS if n_columns <= MANY_COLUMNS else N_DRAWS // 2


def _rows(x: Any, matrix: Array) -> Array:
    return np.asarray(x @ matrix)


@dataclass(frozen=True)
class Posterior:
    """Mean and spread of the columns' weights.

    Attributes
    ----------
    mean : array, shape (n_columns,)
    cov : array, shape (n_columns, n_columns), or None
        Exact covariance; of the outer columns alone where some are nested.
    inverse : Inverse or None
        The same with its nested columns.
    draw : callable or None
        Makes n joint draws around the mean, shape (n_columns, n), where the covariance is too large to hold; called
        when a spread is first asked for.
    n_draws : int
        How many of them.
    """

    mean: Array
    cov: Array | None = None
    inverse: Inverse | None = None
    draw: Callable[[int], Array] | None = None
    n_draws: int = N_DRAWS

    @cached_property
    def deviations(self) -> Array:
        """Joint draws around the mean."""
        assert self.draw is not None
        return self.draw(self.n_draws)

    def variance(self, x: Any) -> Array:
        """Variance of ``x @ weights`` per row."""
        if x.shape[0] > CHUNK:
            return np.concatenate([self.variance(x[i : i + CHUNK]) for i in range(0, x.shape[0], CHUNK)])
        if self.cov is not None:
            outer, nested = self._project(x)
            half = _rows(outer, self.cov)
            product = outer.multiply(half).sum(axis=1) if issparse(outer) else (outer * half).sum(axis=1)
            out = np.maximum(np.asarray(product).ravel(), 0.0)
            return np.asarray(out if nested is None else out + nested.power(2) @ self._spread)
        return np.asarray((_rows(x, self.deviations) ** 2).mean(axis=1))

    def positive(self, column: int) -> Posterior:
        r"""Return what is known given that a column's weight is above 0, by its first two moments.

        With :math:`a = m / s` and :math:`\lambda = \varphi(a) / \Phi(a)` the truncated normal has mean
        :math:`m + s\lambda` and variance :math:`s^2 (1 - \lambda(\lambda + a))` (Johnson, Kotz & Balakrishnan
        1994, Continuous Univariate Distributions 1, ch. 13); the other columns follow by their covariance with it.
        """
        if self.cov is None:
            return self
        unit = np.zeros((len(self.mean), 1))
        unit[column] = 1.0
        nested = self.inverse is not None and self.inverse.bridge is not None
        place = int(np.searchsorted(self.inverse.outer, column)) if nested and self.inverse else column
        own = self.cov[:, place]
        variance = float(own[place])
        sd = float(np.sqrt(variance))
        ratio = float(self.mean[column]) / sd
        rate = float(np.exp(-0.5 * ratio**2 - log_ndtr(ratio)) / np.sqrt(2 * np.pi))
        full = self.inverse.solve(unit)[:, 0] if nested and self.inverse else own
        mean = self.mean + full * (rate / sd)
        cov = self.cov - np.outer(own, own) * (rate * (rate + ratio) / variance)
        return replace(self, mean=mean, cov=cov, inverse=replace(self.inverse, core=cov) if self.inverse else None)

    @property
    def _spread(self) -> Array:
        assert self.inverse is not None
        return np.asarray(self.inverse.spread)

    def _project(self, x: Any) -> tuple[Any, Any]:
        if self.inverse is None or self.inverse.bridge is None:
            return x, None
        return self.inverse.project(x.tocsr() if issparse(x) else sparse.csr_matrix(x))

    def rough_variance(self, x: Any) -> Array:
        """Variance of ``x @ weights`` per row, right on average over many rows; from a few draws in a large problem."""
        if self.draw is None:
            return self.variance(x)
        return np.asarray((_rows(x, self.draw(FEW_DRAWS)) ** 2).mean(axis=1))

    def covariance(self, x: Any, other: Any) -> Array:
        """Covariance of ``x @ weights`` with ``other @ weights``, shape (rows of x, rows of other)."""
        if self.cov is not None:
            (outer, nested), (others, others_nested) = self._project(x), self._project(other)
            out = np.asarray(others @ _rows(outer, self.cov).T).T
            if nested is None:
                return out
            return np.asarray(out + np.asarray((nested.multiply(self._spread[None, :]) @ others_nested.T).todense()))
        return np.asarray(_rows(x, self.deviations) @ _rows(other, self.deviations).T / self.deviations.shape[1])

    def sample(self, x: Any, n: int, rng: np.random.Generator) -> Array:
        """Joint draws of ``x @ weights``, shape (n, rows of x)."""
        centre = np.asarray(x @ self.mean).ravel()
        if self.cov is None:
            mix = rng.standard_normal((self.deviations.shape[1], n)) / np.sqrt(self.deviations.shape[1])
            return np.asarray(centre + (_rows(x, self.deviations) @ mix).T)
        cov = self.covariance(x, x)
        values, vectors = np.linalg.eigh(cov)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        return np.asarray(centre + (root @ rng.standard_normal((len(values), n))).T)
