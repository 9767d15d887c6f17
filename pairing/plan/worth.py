"""What a trial is worth: how much the best liking that is known is expected to rise through it.

The correlated knowledge gradient. A score y of candidate x moves the posterior mean of every recipe r along a line,
μ'(r) = μ(r) + cov(r, x) / √(var(x) + noise²) · Z with Z standard normal; the worth of x is E[max_r μ'(r)] − max_r μ(r).
Terms that all recipes share cancel, and confirming a known good cup is worth something by itself.

References
----------
P. Frazier, W. Powell, S. Dayanik, The knowledge-gradient policy for correlated normal beliefs, INFORMS Journal on
Computing 21 (2009) 599–613.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

__all__ = ["Joint", "expected_best", "expected_improvement"]

_Z = np.linspace(-5.0, 5.0, 81)
_DENSITY = np.exp(-0.5 * _Z**2)
_CHANCE = _DENSITY / _DENSITY.sum()
_CHUNK = 2_000_000


@dataclass(frozen=True)
class Joint:
    """Joint normal belief about the true liking of some recipes.

    Attributes
    ----------
    mean : array (n,)
    cov : array (n, n)
    noise_var : float or array (n,)
        Variance of one score around the true liking; with what a cup misses its dose by, per recipe.
    """

    mean: np.ndarray
    cov: np.ndarray
    noise_var: np.ndarray

    def slopes(self, at: np.ndarray) -> np.ndarray:
        """Return how far each mean moves per unit of surprise in a score of each recipe in ``at``: (len(at), n)."""
        surprise = np.sqrt(np.maximum(self.cov[at, at] + self.noise_var[at], 1e-12))
        return np.asarray(self.cov[at] / surprise[:, None])

    def tasted(self, x: int) -> Joint:
        """Return the belief after a cup of recipe ``x`` that is still to be scored: surer, means as they were."""
        column = self.cov[:, x]
        shrink = np.outer(column, column) / max(float(column[x] + self.noise_var[x]), 1e-12)
        return replace(self, cov=self.cov - shrink)

    def worth(self, at: np.ndarray, reference: np.ndarray) -> np.ndarray:
        """Return the expected rise of the best mean among ``reference`` and itself, per recipe in ``at``, points."""
        at, reference = np.asarray(at), np.asarray(reference)
        slopes = self.slopes(at)
        own = slopes[np.arange(len(at)), at]
        found = expected_best(self.mean[at], own, self.mean[reference], slopes[:, reference])
        return np.asarray(np.maximum(found - self.mean[reference].max(), 0.0))


def expected_best(own_mean: np.ndarray, own_slope: np.ndarray, mean: np.ndarray, slopes: np.ndarray) -> np.ndarray:
    """Return E[max(own_mean + own_slope Z, max_r mean_r + slopes_r Z)] per candidate.

    Parameters
    ----------
    own_mean, own_slope : array (n,)
    mean : array (m,)
    slopes : array (n, m)

    Examples
    --------
    >>> expected_best(np.zeros(1), np.ones(1), np.zeros(1), np.zeros((1, 1))).round(2).tolist()  # φ(0) = 0.399
    [0.4]
    """
    out = np.empty(len(own_mean))
    step = max(1, _CHUNK // max(1, len(mean) * len(_Z)))
    for start in range(0, len(own_mean), step):
        part = slice(start, start + step)
        top = own_mean[part, None] + own_slope[part, None] * _Z
        lines = mean[None, :, None] + slopes[part, :, None] * _Z
        out[part] = np.maximum(top, lines.max(axis=1)) @ _CHANCE
    return out


def expected_improvement(mean: np.ndarray, sd: np.ndarray, best: float) -> np.ndarray:
    """Marginal expected improvement, which takes every recipe for independent: kept for comparison and for screening.

    References
    ----------
    D. Jones, M. Schonlau, W. Welch, Journal of Global Optimization 13 (1998) 455–492.
    """
    safe = np.maximum(sd, 1e-9)
    z = (mean - best) / safe
    return np.asarray((mean - best) * ndtr(z) + safe * np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi))
