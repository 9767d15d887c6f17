"""How far scores scatter around the true liking: by who gave them, and whether the cup had been stepped to its dose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pairing.model.arrays import Floats, Ints

__all__ = ["Scatter", "fit_scatter", "spread_evidence", "spread_prior", "taster_ratios"]

SPREAD, SPREAD_COUNT = 0.35, 1.0
"""Standard deviation by which the log variances of tasters are expected to differ, and the imagined taster behind that
(our choice)."""
SPREADS = SPREAD * 2.0 ** np.arange(-4, 2.5, 0.5)
"""How far they may differ: what their scores say best is taken."""
STEPPED_SD = 0.7
"""Standard deviation by which the log variance of stepped cups may differ from that of fresh ones (our choice)."""
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
    r"""Learn variances from what is left of scores, by taster, of fresh and of stepped cups.

    With :math:`\log \sigma^2_{ts} = \log \sigma^2 + u_t + v s` and normal priors of u and v around 0, what is
    maximised is the sum of :math:`-\tfrac12 (n_{ts} \log \sigma^2_{ts} + S_{ts} / \sigma^2_{ts})` and the log priors:
    a log-linear model of variances (Aitkin 1987, Appl. Stat. 36:332, with a prior), whose spread of u is the one of
    largest evidence, so that tasters who scatter alike are left alike.

    Parameters
    ----------
    count, square : arrays, shape (n_tasters, 2)
        Scores of fresh and of stepped cups, less the effects that they determined, and sums of squares of what is left.

    Examples
    --------
    >>> told = fit_scatter(np.array([[400.0, 400.0]]), np.array([[400.0, 800.0]]))
    >>> round(told.stepped, 1)
    2.0
    """
    own, stepped = np.zeros(len(count)), 0.0
    total, kinds = count.sum(axis=1), count.sum(axis=0)
    for _ in range(STEPS):
        before = np.append(own, stepped)
        common = (square / np.exp(own[:, None] + stepped * np.array([0.0, 1.0]))).sum() / max(total.sum(), 1.0)
        if len(count) > 1:
            relative = (square / np.exp(stepped * np.array([0.0, 1.0]))).sum(axis=1) / common
            known = spread_evidence(total, relative) + spread_prior(SPREADS, SPREAD, SPREAD_COUNT)
            own = taster_ratios(total, relative, SPREADS[int(np.argmax(known))])
            own = np.clip(own - own @ total / total.sum(), -MOST, MOST)
        if kinds.all():
            of_kind = (square / np.exp(own[:, None])).sum(axis=0) / kinds
            both = kinds[:1] * kinds[1:] / kinds.sum()  # what tells two variances apart
            stepped = float(taster_ratios(both, both * of_kind[1:] / of_kind[:1], STEPPED_SD)[0])
        if np.abs(np.append(own, stepped) - before).max() < 1e-4:
            break
    return Scatter(np.exp(own), float(np.exp(stepped)))


def taster_ratios(count: Floats, relative: Floats, spread: float) -> Floats:
    """Learn log variances of tasters beside that of all, given their sums of squares in units of it: Newton's steps."""
    own = np.zeros(len(count))
    for _ in range(STEPS):
        left = relative * np.exp(-own)
        step = (0.5 * (left - count) - own / spread**2) / (0.5 * np.maximum(left, 0.2 * count) + 1.0 / spread**2)
        own, before = np.clip(own + np.clip(step, -1.0, 1.0), -MOST, MOST), own
        if np.abs(own - before).max(initial=0.0) < 1e-5:
            break
    return np.asarray(own)


def spread_evidence(count: Floats, relative: Floats) -> Floats:
    """Log evidence of each of ``SPREADS``, but for its prior: a sum over tasters, by Laplace's approximation."""
    found = []
    for spread in SPREADS:
        own = taster_ratios(count, relative, spread)
        left = relative * np.exp(-own)
        each = count * own + left + (own / spread) ** 2 + np.log(0.5 * left * spread**2 + 1.0)
        found.append(-0.5 * float(each.sum()))
    return np.array(found)


def spread_prior(spreads: Floats, expected: float, count: float) -> Floats:
    """Log prior of spreads of effects: scaled inverse chi-squared in the variance."""
    return np.asarray(-0.5 * count * (2.0 * np.log(spreads) + (expected / spreads) ** 2))
