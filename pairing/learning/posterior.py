"""What is known of the columns after the data: mean and covariance, exact or by joint draws."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy.sparse import issparse

__all__ = ["Posterior"]

Array = np.ndarray[Any, np.dtype[np.float64]]
CHUNK = 8192


def _rows(x: Any, matrix: Array) -> Array:
    return np.asarray(x @ matrix)


@dataclass(frozen=True)
class Posterior:
    """Mean and spread of the columns' weights.

    Attributes
    ----------
    mean : array, shape (n_columns,)
    cov : array, shape (n_columns, n_columns), or None
        Exact covariance.
    draw : callable or None
        Makes joint draws around the mean, shape (n_columns, n_draws), where the covariance is too large to hold; called
        when a spread is first asked for.
    """

    mean: Array
    cov: Array | None = None
    draw: Callable[[], Array] | None = None

    @cached_property
    def deviations(self) -> Array:
        """Joint draws around the mean."""
        assert self.draw is not None
        return self.draw()

    def variance(self, x: Any) -> Array:
        """Variance of ``x @ weights`` per row."""
        if x.shape[0] > CHUNK:
            return np.concatenate([self.variance(x[i : i + CHUNK]) for i in range(0, x.shape[0], CHUNK)])
        if self.cov is not None:
            half = _rows(x, self.cov)
            product = x.multiply(half).sum(axis=1) if issparse(x) else (x * half).sum(axis=1)
            return np.maximum(np.asarray(product).ravel(), 0.0)
        return (_rows(x, self.deviations) ** 2).mean(axis=1)

    def covariance(self, x: Any, other: Any) -> Array:
        """Covariance of ``x @ weights`` with ``other @ weights``, shape (rows of x, rows of other)."""
        if self.cov is not None:
            return np.asarray(other @ _rows(x, self.cov).T).T
        return _rows(x, self.deviations) @ _rows(other, self.deviations).T / self.deviations.shape[1]

    def sample(self, x: Any, n: int, rng: np.random.Generator) -> Array:
        """Joint draws of ``x @ weights``, shape (n, rows of x)."""
        centre = np.asarray(x @ self.mean).ravel()
        if self.cov is None:
            mix = rng.standard_normal((self.deviations.shape[1], n)) / np.sqrt(self.deviations.shape[1])
            return centre + (_rows(x, self.deviations) @ mix).T
        cov = self.covariance(x, x)
        values, vectors = np.linalg.eigh(cov)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        return centre + (root @ rng.standard_normal((len(values), n))).T
