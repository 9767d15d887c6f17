"""An ordinal (cumulative probit) response on the log dose: thresholds, spread, and working responses.

A reading is category k when the perceived log distance from the needed dose lies between two thresholds. With a normal
perception of spread ``scale``, P(strength ≤ k) = Φ((t_k − (log dose − log needed)) / scale) (McCullagh 1980, J. R.
Stat. Soc. B 42:109). The midpoint of 2|3 and 3|4 is 0, which defines the needed dose.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy.special import ndtr

from pairing.learning.paired import log_chance
from pairing.model.arrays import Floats

__all__ = ["MAX_ROWS", "Binned", "Ordinal", "fit_ordinal", "working_response"]


# log half-width of 'just right', log steps to 1|2 and 0|1, asymmetry, log scale: mean and sd (our choice, no source)
PRIOR_MEAN = np.array([np.log(0.2), np.log(0.45), np.log(0.7), 0.0, np.log(0.28)])
PRIOR_SD = np.array([0.35, 0.35, 0.4, 0.15, 0.4])
MAX_HALF_WIDTH = 0.5
"""Half-width of 'just right' at most, natural log units (our choice): in a log of nothing but what was right, any dose
would be right otherwise."""
CATEGORIES = range(6)
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
WEIGHTS = WEIGHTS / WEIGHTS.sum()
MAX_ROWS = 6_000
"""Judgements beyond which those that are alike are counted, not listed (our choice)."""
BIN = 0.01
"""Natural log units within which judgements of one category are alike (our choice): nothing beside the spread of
perception, and counting all of them tells more than listing some."""


@dataclass(frozen=True)
class Ordinal:
    """Thresholds on the log dose above the needed dose, and the spread of perception.

    Attributes
    ----------
    parameters : array, shape (5,)
        Log half-width of 'just right'; log steps from it to 1|2 and on to 0|1; asymmetry of 4|5; log scale.
    expected : array, shape (5,)
        What they are expected to be.
    """

    parameters: Floats
    expected: Floats = field(default_factory=PRIOR_MEAN.copy)

    @property
    def thresholds(self) -> Floats:
        """0|1, 1|2, 2|3, 3|4, 4|5 in natural log units of dose."""
        half, step, lower = np.exp(self.parameters[:3])
        return np.array([-half - step - lower, -half - step, -half, half, half + step * np.exp(self.parameters[3])])

    @property
    def scale(self) -> float:
        """Standard deviation of perception in natural log units of dose."""
        return float(np.exp(self.parameters[4]))

    @classmethod
    def start(cls, expected: Ordinal | None = None) -> Ordinal:
        """Return what is assumed before any reading, or what is expected from elsewhere."""
        known = PRIOR_MEAN if expected is None else expected.parameters
        return cls(known.copy(), known.copy())


@dataclass(frozen=True, eq=False)
class Binned:
    """Judgements counted by category and excess; those of several logs add up.

    Attributes
    ----------
    key : int array, shape (n,)
        Ascending.
    sums : array, shape (n, 3)
        How many they are, and the sums of their excesses and of the variances of these.
    """

    key: Any
    sums: Floats

    @classmethod
    def of(cls, category: Any, excess: Floats, variance: Any) -> Binned:
        """Count the judgements of one log; ``variance`` is of each excess, or of all of them."""
        each = np.column_stack([np.ones(len(excess)), excess, np.broadcast_to(variance, excess.shape)])
        return cls._summed(np.floor(excess / BIN).astype(np.int64) * len(CATEGORIES) + category, each)

    @classmethod
    def _summed(cls, key: Any, each: Floats) -> Binned:
        keys, place = np.unique(key, return_inverse=True)
        return cls(keys, np.column_stack([np.bincount(place, one, minlength=len(keys)) for one in each.T]))

    def __add__(self, other: Binned) -> Binned:
        """Return the judgements of both."""
        return self._summed(np.append(self.key, other.key), np.vstack([self.sums, other.sums]))

    @property
    def rows(self) -> tuple[Any, Floats, Floats, Floats]:
        """Category, excess, variance and count of each bin."""
        count, excess, variance = self.sums.T
        return self.key % len(CATEGORIES), excess / count, variance / count, count


def _edges(model: Ordinal, category: Any) -> tuple[Floats, Floats]:
    t = np.concatenate([[-np.inf], model.thresholds, [np.inf]])
    return t[category], t[category + 1]


def _density(x: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * x * x) / np.sqrt(2 * np.pi))


def _times(x: Floats, density: Floats) -> Floats:
    return np.where(np.isfinite(x), x, 0.0) * density


def working_response(model: Ordinal, category: Any, excess: Floats) -> tuple[Floats, Floats]:
    r"""Score and information of each reading with respect to its log needed dose.

    Category :math:`k` at an excess :math:`x` (log dose less log needed dose) has probability
    :math:`P = \Phi(b) - \Phi(a)` with :math:`a = (t_k - x) / s`, :math:`b = (t_{k+1} - x) / s`. A needed dose that is
    larger by :math:`d` makes :math:`x` smaller by as much, so that both limits rise by :math:`d / s`; with
    :math:`\varphi'(u) = -u \varphi(u)`

    .. math:: g = \frac{\varphi(b) - \varphi(a)}{s P}, \quad
              h = g^2 + \frac{b \varphi(b) - a \varphi(a)}{s^2 P}.

    A Newton step of the log-likelihood is least squares on working responses, what was expected :math:`+ g / h`, with
    weights :math:`h` (McCullagh & Nelder 1989, Generalized Linear Models, 2.5).

    Parameters
    ----------
    category : int array, shape (m,)
        Strength 0–5.
    excess : array, shape (m,)
        Log dose less log needed dose.

    Returns
    -------
    score, information : array, shape (m,)
        First and negative second derivative of the log-likelihood by the log needed dose.
    """
    low, high = _edges(model, category)
    a, b = (low - excess) / model.scale, (high - excess) / model.scale
    da, db = _density(a), _density(b)
    mass = np.maximum(ndtr(b) - ndtr(a), 1e-12)
    g = (db - da) / mass
    information = (g**2 + (_times(b, db) - _times(a, da)) / mass) / model.scale**2
    return g / model.scale, np.clip(information, 1e-4, 4.0 / model.scale**2)


def fit_ordinal(
    start: Ordinal,
    category: Any,
    excess: Floats,
    variance: Floats,
    count: Any = None,
    paired: tuple[Floats, Floats] | None = None,
) -> Ordinal:
    r"""Improve thresholds and scale, with the needed doses known up to ``variance`` (one step of generalised EM).

    ``count`` says how many judgements each stands for (None: one); ``paired`` is the share of the left and the gap of
    comparisons of strength, which speak of the scale too.

    Raised is the expected log-likelihood over what is known of each excess, by five Gauss–Hermite nodes
    :math:`x_{iq}` with weights :math:`w_q`, less the normal prior of the five parameters :math:`p`:

    .. math:: Q(p) = \sum_{iq} w_q \log(\Phi(b_{iq}) - \Phi(a_{iq})) - \tfrac12 \sum_j ((p_j - m_j) / \sigma_j)^2.

    Its gradient is, per reading, :math:`\varphi(b) / (s P)` by the upper threshold, :math:`-\varphi(a) / (s P)` by the
    lower and :math:`-(b \varphi(b) - a \varphi(a)) / P` by :math:`\log s`; the thresholds follow from :math:`p` by the
    Jacobian below. A few quasi-Newton steps raise :math:`Q`, which is enough for the likelihood to rise with it
    (Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B 39:1).
    """
    from scipy.optimize import minimize  # only a fit needs it, kept answers do not

    x = excess[:, None] + np.sqrt(variance)[:, None] * NODES
    weights = WEIGHTS if count is None else count[:, None] * WEIGHTS

    def loss(parameters: Floats) -> tuple[float, Floats]:
        model = replace(start, parameters=parameters)
        low, high = _edges(model, category)
        a, b = (low[:, None] - x) / model.scale, (high[:, None] - x) / model.scale
        da, db = _density(a), _density(b)
        mass = np.maximum(ndtr(b) - ndtr(a), 1e-12)
        value = float((np.log(mass) * weights).sum())
        up, down = ((d / mass * weights).sum(axis=1) / model.scale for d in (db, da))
        by_threshold = np.bincount(category, up, minlength=6)[:5] - np.bincount(category, down, minlength=6)[1:]
        by_scale = -float(((_times(b, db) - _times(a, da)) / mass * weights).sum())
        half, step, lower = np.exp(parameters[:3])
        top = step * np.exp(parameters[3])
        jacobian = np.array(
            [
                [-half, -half, -half, half, half],
                [-step, -step, 0.0, 0.0, top],
                [-lower, 0.0, 0.0, 0.0, 0.0],
                [0.0, 0.0, 0.0, 0.0, top],
            ]
        )
        if paired is not None:
            chance, by_log_scale = log_chance(*paired, model.scale * np.sqrt(2.0))
            value, by_scale = value + float(chance.sum()), by_scale + float(by_log_scale.sum())
        gradient = np.append(jacobian @ by_threshold, by_scale)
        z = (parameters - start.expected) / PRIOR_SD
        return -value + 0.5 * float(z @ z), -gradient + z / PRIOR_SD

    bounds = [(None, np.log(MAX_HALF_WIDTH)), *[(None, None)] * 4]
    found = minimize(loss, start.parameters, jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 8})
    return replace(start, parameters=found.x)
