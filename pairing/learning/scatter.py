"""How far scores scatter around the true liking: by who gave them, and whether the cup had been stepped to its dose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pairing.model.arrays import Floats, Ints

__all__ = ["Scatter", "fit_scatter", "taster_ratios"]

SPREAD = 0.35
"""Standard deviation by which the log variances of tasters, and of stepped and fresh cups, are expected to differ (our
choice)."""
STEPS = 30
MOST = 1.5
"""How far from that of all a log variance may lie (our choice): a few scores alike must not outweigh a log."""


@dataclass(frozen=True, eq=False)
class Scatter:
    """Variances of scores, relative to that of the average taster in a fresh cup.

    Attributes
    ----------
    tasters : array, shape (n_tasters,)
    stepped : float
        Of a cup that had been tasted with less in it.
    """

    tasters: Floats
    stepped: float = 1.0

    @classmethod
    def even(cls, n_tasters: int) -> Scatter:
        """All scores scatter alike."""
        return cls(np.ones(n_tasters))

    def precision(self, taster: Ints, stepped: Any) -> Floats:
        """Weight of each score."""
        return np.asarray(1.0 / (self.tasters[taster] * np.where(stepped, self.stepped, 1.0)))


def fit_scatter(count: Floats, square: Floats) -> Scatter:
    r"""Learn variances from sums of squares by taster, of fresh and of stepped cups.

    With :math:`\log \sigma^2_{ts} = \log \sigma^2 + u_t + v s` and normal priors of u and v around 0, what is maximised
    is the sum of :math:`-\tfrac12 (n_{ts} \log \sigma^2_{ts} + S_{ts} / \sigma^2_{ts})` and the log priors, S the
    *expected* sum of squares of what is left: a log-linear model of variances, by Newton's steps along one coordinate
    after the other (Aitkin 1987, Appl. Stat. 36:332, with a prior).

    Parameters
    ----------
    count, square : arrays, shape (n_tasters, 2)
        Scores of fresh and of stepped cups, and their sums of squares.

    Examples
    --------
    >>> told = fit_scatter(np.array([[400.0, 400.0]]), np.array([[400.0, 800.0]]))
    >>> round(told.stepped, 1)
    1.9
    """
    own, stepped = np.zeros(len(count)), 0.0
    one_taster, one_kind = len(count) < 2, not count.sum(axis=0).all()
    for _ in range(STEPS):
        ratio = np.exp(own[:, None] + stepped * np.array([0.0, 1.0]))
        common = (square / ratio).sum() / max(count.sum(), 1.0)
        relative = square / (common * ratio)
        before = np.append(own, stepped)
        if not one_taster:
            own = own + _newton(count.sum(axis=1), relative.sum(axis=1), own)
            own = np.clip(own - own @ count.sum(axis=1) / count.sum(), -MOST, MOST)
        if not one_kind:
            stepped = float(np.clip(stepped + _newton(count[:, 1].sum(), relative[:, 1].sum(), stepped), -MOST, MOST))
        if np.abs(np.append(own, stepped) - before).max() < 1e-4:
            break
    return Scatter(np.exp(own), float(np.exp(stepped)))


def taster_ratios(count: Floats, relative: Floats) -> Floats:
    """Learn the variances of tasters beside that of all, given their sums of squares in units of it."""
    own = np.zeros(len(count))
    for _ in range(STEPS):
        own = np.clip(own + _newton(count, relative * np.exp(-own), own), -MOST, MOST)
    return np.asarray(np.exp(own))


def _newton(count: Any, relative: Any, at: Any) -> Any:
    """One step on a log variance, given what is left in units of it."""
    gradient = 0.5 * (relative - count) - at / SPREAD**2
    return np.clip(gradient / (0.5 * np.maximum(relative, 0.2 * count) + 1.0 / SPREAD**2), -1.0, 1.0)
