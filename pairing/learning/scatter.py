"""How far scores scatter around the true liking: by who gave them, and whether the cup had been stepped to its dose."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pairing.learning.parts import Parts
from pairing.model.arrays import Floats, Ints

__all__ = ["Scatter", "Spread", "Squares", "fit_scatter", "spread_evidence", "spread_prior", "taster_ratios"]

SPREAD, SPREAD_COUNT = 0.35, 1.0
"""Standard deviation by which the log variances of tasters are expected to differ, and the imagined taster behind that
(our choice)."""
SPREADS = SPREAD * 2.0 ** np.arange(-4, 2.5, 0.5)
"""How far they may differ: what their scores say best is taken."""
STEPPED_SD = 0.7
"""Standard deviation by which the log variance of stepped cups may differ from that of fresh ones (our choice)."""
STEPS = 30
STILL = 1e-4
"""Log variances that move by less are found (our choice)."""
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


@dataclass(frozen=True)
class Spread:
    """How variances of scores differ: what all parts are told of it.

    Attributes
    ----------
    common : float
        Variance of a score of the average taster in a fresh cup.
    stepped : float
        Log variance of a stepped cup beside a fresh one.
    tasters : float
        Standard deviation of the tasters' log variances; 0: they are alike.
    centre : float
        What their mean is off.
    """

    common: float = 1.0
    stepped: float = 0.0
    tasters: float = 0.0
    centre: float = 0.0


@dataclass(frozen=True, eq=False)
class Squares:
    """What is left of the scores of one part's tasters.

    Attributes
    ----------
    count, square : arrays, shape (n_tasters, 2)
        Scores of fresh and of stepped cups, less the effects that they determined, and sums of squares of what is left.
    """

    count: Floats
    square: Floats

    def kinds(self, told: Spread) -> dict[str, Any]:
        """Sum over tasters, each by its own variance; and count the tasters."""
        square = (self.square / np.exp(self.ratios(told))[:, None]).sum(axis=0)
        return {"count": self.count.sum(axis=0), "square": square, "tasters": len(self.count)}

    def evidence(self, told: Spread) -> dict[str, Any]:
        """Log evidence of each of ``SPREADS``, but for its prior."""
        return {"known": spread_evidence(self.count.sum(axis=1), self._relative(told))}

    def mean(self, told: Spread) -> dict[str, Any]:
        """Sum the tasters' log variances over all scores."""
        return {"off": float(self.ratios(told) @ self.count.sum(axis=1))}

    def ratios(self, told: Spread) -> Floats:
        """Log variance of every taster beside that of the average one."""
        if not told.tasters:
            return np.zeros(len(self.count))
        own = taster_ratios(self.count.sum(axis=1), self._relative(told), told.tasters)
        return np.asarray(np.clip(own - told.centre, -MOST, MOST))

    def scatter(self, told: Spread) -> Scatter:
        """Return the variances of the tasters of this part."""
        return Scatter(np.exp(self.ratios(told)), float(np.exp(told.stepped)))

    def _relative(self, told: Spread) -> Floats:
        """Return sums of squares of tasters, in units of the variance of all."""
        return np.asarray((self.square / np.exp([0.0, told.stepped])).sum(axis=1) / told.common)


def fit_scatter(squares: Parts) -> Spread:
    r"""Learn variances from what is left of scores, by taster, of fresh and of stepped cups.

    With :math:`\log \sigma^2_{ts} = \log \sigma^2 + u_t + v s` and normal priors of u and v around 0, what is
    maximised is the sum of :math:`-\tfrac12 (n_{ts} \log \sigma^2_{ts} + S_{ts} / \sigma^2_{ts})` and the log priors:
    a log-linear model of variances (Aitkin 1987, Appl. Stat. 36:332, with a prior), whose spread of u is the one of
    largest evidence, so that tasters who scatter alike are left alike.

    Parameters
    ----------
    squares : Parts of Squares

    Examples
    --------
    >>> from pairing.learning.parts import HeldParts
    >>> one = Squares(np.array([[400.0, 400.0]]), np.array([[400.0, 800.0]]))
    >>> told = one.scatter(fit_scatter(HeldParts((one,))))
    >>> round(told.stepped, 1)
    2.0
    """
    told, prior = Spread(), spread_prior(SPREADS, SPREAD, SPREAD_COUNT)
    kinds = squares.sum(Squares.kinds, told)
    count = kinds["count"]
    for _ in range(STEPS):
        before = told
        common = float((kinds["square"] / np.exp([0.0, told.stepped])).sum() / max(count.sum(), 1.0))
        told = replace(told, common=common, centre=0.0)
        if kinds["tasters"] > 1:
            known = squares.sum(Squares.evidence, told)["known"] + prior
            told = replace(told, tasters=float(SPREADS[int(np.argmax(known))]))
            told = replace(told, centre=squares.sum(Squares.mean, told)["off"] / count.sum())
        kinds = squares.sum(Squares.kinds, told)
        if count.all():
            fresh, stepped = kinds["square"] / count
            both = count[:1] * count[1:] / count.sum()  # what tells two variances apart
            told = replace(told, stepped=float(taster_ratios(both, both * stepped / fresh, STEPPED_SD)[0]))
        if max(abs(told.stepped - before.stepped), abs(np.log(told.common / before.common))) < STILL:
            break
    return told


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
