"""What is known of one needed dose: a grid over its logarithm, updated by every strength reading.

A reading says P(strength ≤ k) = Φ((θ_k − (log dose − log needed)) / scale), the cumulative response of
``learning.strength``; readings of one cup may share a cup effect, which is integrated out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import ndtr

from pairing.learning.strength import StrengthParams
from pairing.model.constants import IN_RANGE_LOG

__all__ = ["Belief", "Heard", "word_chances"]

_POINTS = 241
_SURPRISE, _WIDER, _WIDE_SD = 0.05, 2.5, 0.4  # our choice, no source
_BEYOND = 2.5  # natural log by which the grid goes past every dose that was judged (our choice)
_CROWDING = 1.6  # grid points crowd towards the middle, where the belief is
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(9)


@dataclass(frozen=True)
class Heard:
    """One strength word (0–5) for one flavouring at a dose (natural log of g/kg), stepped up to or poured."""

    log_dose: float
    strength: int
    stepped: bool = True


def word_chances(distance: np.ndarray, params: StrengthParams) -> np.ndarray:
    """Return the chance of each strength word, last axis 0–5, at log dose − log needed dose.

    Examples
    --------
    >>> p = word_chances(np.zeros(1), StrengthParams(thresholds=(-1.5, -0.8, -0.2, 0.2, 0.8), scale=0.2))
    >>> int(p[0].argmax()), round(float(p.sum()), 6)
    (3, 1.0)
    """
    cuts = np.asarray(params.thresholds, dtype=float)
    below = ndtr((cuts - np.asarray(distance, dtype=float)[..., None]) / params.scale)
    edges = np.concatenate([np.zeros_like(below[..., :1]), below, np.ones_like(below[..., :1])], axis=-1)
    return np.maximum(np.diff(edges, axis=-1), 1e-12)


@dataclass(frozen=True)
class Belief:
    """Chances over the natural log of a needed dose in g/kg.

    Attributes
    ----------
    log_needed : array (k,)
        Ascending.
    weight : array (k,)
        Adds up to 1.
    """

    log_needed: np.ndarray
    weight: np.ndarray

    @classmethod
    def of(
        cls,
        log_mean: float,
        log_sd: float,
        heard: Sequence[Heard] = (),
        params: StrengthParams | None = None,
    ) -> Belief:
        """Start from what the model expects and take in the readings of this cup, which may share a cup effect.

        The model's normal gets a wide Student's t (3 degrees of freedom) beside it with a chance of one in twenty: a
        bottle, a day or a palate may be unlike all that was logged, and then the readings must be able to say so,
        however far off they are.
        """
        wide = max(_WIDER * log_sd, _WIDE_SD)
        half = max([4.0 * wide, *(abs(one.log_dose - log_mean) + _BEYOND for one in heard)])
        step = np.linspace(-1.0, 1.0, _POINTS)
        grid = log_mean + half * np.sign(step) * np.abs(step) ** _CROWDING
        near = np.exp(-0.5 * ((grid - log_mean) / log_sd) ** 2) / (math.sqrt(2 * math.pi) * log_sd)
        far = 2.0 / (math.sqrt(3.0) * math.pi * wide) / (1.0 + ((grid - log_mean) / wide) ** 2 / 3.0) ** 2
        density = (1 - _SURPRISE) * near + _SURPRISE * far
        log_weight = np.log(density) + np.log(np.gradient(grid))
        if heard and params is not None:
            log_weight = log_weight + _log_likelihood(grid, heard, params)
        weight = np.exp(log_weight - log_weight.max())
        return cls(grid, weight / weight.sum())

    @property
    def mean(self) -> float:
        """Mean log needed dose."""
        return float(self.weight @ self.log_needed)

    @property
    def sd(self) -> float:
        """Its standard deviation."""
        return math.sqrt(max(float(self.weight @ (self.log_needed - self.mean) ** 2), 1e-8))

    def below(self, log_dose: float | np.ndarray) -> np.ndarray:
        """Chance that the needed dose is below a dose."""
        return np.asarray(np.interp(log_dose, self._edges, np.cumsum(self.weight), left=0.0, right=1.0))

    def quantile(self, p: float) -> float:
        """Log needed dose below which the chance is ``p``."""
        return float(np.interp(p, np.cumsum(self.weight), self._edges))

    @cached_property
    def _edges(self) -> np.ndarray:
        """Upper edge of every grid cell."""
        middle = 0.5 * (self.log_needed[1:] + self.log_needed[:-1])
        return np.append(middle, 2 * self.log_needed[-1] - middle[-1])

    def in_range(self, log_dose: float | np.ndarray) -> np.ndarray:
        """Chance that a dose is within e^±0.2 of the needed dose."""
        return np.asarray(self.below(np.add(log_dose, IN_RANGE_LOG)) - self.below(np.subtract(log_dose, IN_RANGE_LOG)))

    def over(self, log_dose: float | np.ndarray) -> np.ndarray:
        """Chance that a dose is more than e^0.2 times the needed dose."""
        return self.below(np.subtract(log_dose, IN_RANGE_LOG))


def _log_likelihood(grid: np.ndarray, heard: Sequence[Heard], params: StrengthParams) -> np.ndarray:
    shared = params.cup_sd > 0
    nodes, weights = (params.cup_sd * _NODES, _WEIGHTS) if shared else (np.zeros(1), np.ones(1))
    total = np.zeros((len(nodes), len(grid)))
    for one in heard:
        distance = one.log_dose + (params.stepped if one.stepped else 0.0) - grid[None, :] + nodes[:, None]
        total += np.log(word_chances(distance, params)[..., one.strength])
    top = total.max(axis=0)
    return np.asarray(top + np.log((weights / weights.sum()) @ np.exp(total - top)))
