"""Looking ahead on a ladder: what a cup is worth while it can only get stronger.

A dynamic programme over the belief about how far there is still to go, summarised by mean and sd of the log gap
(needed − present dose). In each state one may stop, or add more and sip; the word heard moves the belief. After a
weak word it goes on as best it can; a cup that was called right or strong is left as it is, since nobody adds to it.
Bellman's equation is iterated to its fixed point once per learned response and kept.

References
----------
R. Bellman, Dynamic Programming, Princeton 1957. Prices are our choice: a cup in range 1, over −0.5, a sip −0.1.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtr

from pairing.learning.strength import StrengthParams
from pairing.model.columns import JUST_RIGHT
from pairing.model.constants import IN_RANGE_LOG
from pairing.plan.belief import Belief, word_chances

__all__ = ["OVER_COST", "SIP_COST", "Lookahead", "lookahead", "stop_worth"]

SIP_COST = 0.1
OVER_COST = 0.5
_STEP = 0.05
_GAPS = np.arange(-1.5, 3.0 + _STEP / 2, _STEP)
_SDS = np.geomspace(0.04, 1.5, 16)
_SWEEPS = 14
_Z = np.linspace(-4.0, 4.0, 41)
_Z_WEIGHT = np.exp(-0.5 * _Z**2) / np.exp(-0.5 * _Z**2).sum()


def stop_worth(belief: Belief, log_dose: float | np.ndarray) -> np.ndarray:
    """Return what it is worth to stop at a dose: chance in range − 0.5 × chance over."""
    return belief.in_range(log_dose) - OVER_COST * belief.over(log_dose)


@dataclass(frozen=True)
class Lookahead:
    """Worth of the best continuation by mean and sd of the log gap.

    Attributes
    ----------
    best : array (gaps, sds)
        Of the better of stopping and adding.
    params : StrengthParams
        The response it was computed for.
    """

    best: np.ndarray
    params: StrengthParams

    def worth(self, gap: np.ndarray, sd: np.ndarray) -> np.ndarray:
        """Interpolate ``best``; beyond the table the nearest state stands in."""
        return _interpolate(self.best, gap, sd)

    def after_sip(self, belief: Belief, log_doses: np.ndarray) -> np.ndarray:
        """Worth of raising the dose to each of ``log_doses``, sipping, and going on as best one can."""
        chance = word_chances(log_doses[:, None] - belief.log_needed[None, :], self.params)
        joint = chance * belief.weight[None, :, None]
        p = joint.sum(axis=1)
        mean = np.einsum("jgr,g->jr", joint, belief.log_needed) / p
        square = np.einsum("jgr,g->jr", joint, belief.log_needed**2) / p
        sd = np.sqrt(np.maximum(square - mean**2, 1e-8))
        return np.asarray(-SIP_COST + (p * _after_word(self.best, mean - log_doses[:, None], sd)).sum(axis=1))


def lookahead(params: StrengthParams) -> Lookahead:
    """Return the look-ahead for a learned response (computed once per response).

    Examples
    --------
    >>> table = lookahead(StrengthParams(thresholds=(-1.5, -0.8, -0.2, 0.2, 0.8), scale=0.2))
    >>> bool(table.worth(np.array([0.0]), np.array([0.05]))[0] > 0.99)  # known to be right: stop, nothing to pay
    True
    """
    return _solve(tuple(round(t, 3) for t in params.thresholds), round(params.scale, 3))


@lru_cache(maxsize=32)
def _solve(thresholds: tuple[float, ...], scale: float) -> Lookahead:
    params = StrengthParams(thresholds, scale)
    stop = _stop(_GAPS[:, None], _SDS[None, :])
    gap = _GAPS[:, None, None] + _SDS[None, :, None] * _Z[None, None, :]
    joint = word_chances(-gap, params) * _Z_WEIGHT[None, None, :, None]
    p = joint.sum(axis=2)
    mean = (joint * gap[..., None]).sum(axis=2) / p
    square = (joint * gap[..., None] ** 2).sum(axis=2) / p
    sd = np.sqrt(np.maximum(square - mean**2, 1e-8))
    best = stop
    for _ in range(_SWEEPS):
        sip = -SIP_COST + (p * _after_word(best, mean, sd)).sum(axis=2)
        best, before = np.maximum(stop, _best_addition(sip)), best
        if np.abs(best - before).max() < 1e-4:
            break
    return Lookahead(best, params)


def _after_word(best: np.ndarray, gap: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """Worth after each word, last axis 0–5: of going on after a weak one, of leaving the cup as it is after others."""
    weak = _interpolate(best, gap[..., :JUST_RIGHT], sd[..., :JUST_RIGHT])
    return np.concatenate([weak, _stop(gap[..., JUST_RIGHT:], sd[..., JUST_RIGHT:])], axis=-1)


def _stop(gap: np.ndarray, sd: np.ndarray) -> np.ndarray:
    over = ndtr((-IN_RANGE_LOG - gap) / sd)
    return np.asarray(ndtr((IN_RANGE_LOG - gap) / sd) - over - OVER_COST * over)


def _best_addition(sip: np.ndarray) -> np.ndarray:
    """Best over every smaller gap: an addition of any size closes it, none opens it."""
    reached = np.maximum.accumulate(sip, axis=0)
    return np.concatenate([np.full_like(sip[:1], -np.inf), reached[:-1]])


def _interpolate(table: np.ndarray, gap: np.ndarray, sd: np.ndarray) -> np.ndarray:
    x = np.clip((gap - _GAPS[0]) / _STEP, 0, len(_GAPS) - 1 - 1e-9)
    ratio = np.log(_SDS[1] / _SDS[0])
    y = np.clip(np.log(np.maximum(sd, _SDS[0]) / _SDS[0]) / ratio, 0, len(_SDS) - 1 - 1e-9)
    i, j = x.astype(int), y.astype(int)
    u, v = x - i, y - j
    low = table[i, j] * (1 - u) + table[i + 1, j] * u
    high = table[i, j + 1] * (1 - u) + table[i + 1, j + 1] * u
    return np.asarray(low * (1 - v) + high * v)
