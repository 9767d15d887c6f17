"""Thurstone's d′: the distance of two cups in units of one cup's own scatter, whatever the question.

References
----------
Ennis, D. M. (1993). The power of sensory discrimination methods. Journal of Sensory Studies 8, 353–370.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pairing.discrimination.binomial import interval
from pairing.errors import QuantityError

__all__ = ["CHANCE", "METHODS", "DPrime", "d_prime", "d_prime_of", "percent_correct", "slope"]

CHANCE = {"paired": 1 / 2, "3-afc": 1 / 3, "triangle": 1 / 3, "duo-trio": 1 / 2}
"""Chance of a right answer by luck, by method."""
METHODS = tuple(CHANCE)
_MAX_D = 12.0


@dataclass(frozen=True)
class DPrime:
    """A d′ with its standard error and interval; a share at or below chance gives 0, all right gives infinity.

    Attributes
    ----------
    value, low, high : float
        d′ and the d′ of the exact interval of the share.
    se : float
        Delta-method standard error; NaN where the share is at its edge.
    """

    value: float
    se: float
    low: float
    high: float


def percent_correct(d: float, method: str = "paired") -> float:
    """Return the chance of a right answer at a given d′.

    Examples
    --------
    >>> [round(percent_correct(1.0, m), 5) for m in ("paired", "3-afc", "triangle", "duo-trio")]
    [0.76025, 0.6337, 0.41805, 0.58248]
    """
    _known(method)
    return _LINKS[method][0](float(d))


def slope(d: float, method: str = "paired") -> float:
    """Return how fast the chance of a right answer rises with d′."""
    _known(method)
    return _LINKS[method][1](float(d))


def d_prime(share: float, method: str = "paired") -> float:
    """Return the d′ that gives this share of right answers.

    Examples
    --------
    >>> round(d_prime(0.75, "3-afc"), 3)
    1.434
    """
    from scipy.optimize import brentq

    _known(method)
    if not 0 <= share <= 1:
        raise QuantityError(f"a share of {share:g} cannot be, it lies between 0 and 1", "divide right answers by all")
    if share <= CHANCE[method]:
        return 0.0
    if share == 1 or share >= percent_correct(_MAX_D, method):
        return math.inf
    return float(brentq(lambda d: percent_correct(d, method) - share, 0.0, _MAX_D, xtol=1e-10))


def d_prime_of(x: int, n: int, method: str = "paired", level: float = 0.95) -> DPrime:
    """Return d′ of x right answers in n with standard error and interval.

    Examples
    --------
    >>> found = d_prime_of(10, 15, "3-afc")
    >>> round(found.value, 4), round(found.se, 4)
    (1.1159, 0.4359)
    """
    low, high = interval(x, n, level)
    share = x / n
    value = d_prime(share, method)
    se = math.nan
    if CHANCE[method] < share < 1:
        se = math.sqrt(share * (1 - share) / n) / slope(value, method)
    return DPrime(value, se, d_prime(low, method), d_prime(high, method))


def _known(method: str) -> None:
    if method not in CHANCE:
        raise QuantityError(f"method {method!r} is not known", f"use one of: {', '.join(METHODS)}")


def _cdf(x: float) -> float:
    return 0.5 * math.erfc(-x / math.sqrt(2))


def _pdf(x: float) -> float:
    return math.exp(-0.5 * x * x) / math.sqrt(2 * math.pi)


def _integral(what: Callable[[float], float], low: float, high: float) -> float:
    """Gauss–Legendre on 24 panels: smooth integrands here are exact to 1e-13."""
    nodes, weights = np.polynomial.legendre.leggauss(12)
    edges = np.linspace(low, high, 25)
    half = (edges[1] - edges[0]) / 2
    points = [(left + half * (1 + z), w) for left in edges[:-1] for z, w in zip(nodes, weights, strict=True)]
    return float(half * sum(w * what(x) for x, w in points))


def _paired(d: float) -> float:
    return _cdf(d / math.sqrt(2))


def _paired_slope(d: float) -> float:
    return _pdf(d / math.sqrt(2)) / math.sqrt(2)


def _three(d: float) -> float:
    return float(_integral(lambda z: _pdf(z - d) * _cdf(z) ** 2, d - 9, d + 9))


def _three_slope(d: float) -> float:
    return float(_integral(lambda z: (z - d) * _pdf(z - d) * _cdf(z) ** 2, d - 9, d + 9))


def _triangle(d: float) -> float:
    far = d * math.sqrt(2 / 3)
    side = math.sqrt(3)
    return float(2 * _integral(lambda z: (_cdf(far - z * side) + _cdf(-far - z * side)) * _pdf(z), 0, 9))


def _triangle_slope(d: float) -> float:
    root, side = math.sqrt(2 / 3), math.sqrt(3)
    return float(
        2 * root * _integral(lambda z: (_pdf(d * root - z * side) - _pdf(-d * root - z * side)) * _pdf(z), 0, 9)
    )


def _duo_trio(d: float) -> float:
    near, far = _cdf(d / math.sqrt(2)), _cdf(d / math.sqrt(6))
    return 1 - near - far + 2 * near * far


def _duo_trio_slope(d: float) -> float:
    a, b = d / math.sqrt(2), d / math.sqrt(6)
    return (_pdf(a) / math.sqrt(2)) * (2 * _cdf(b) - 1) + (_pdf(b) / math.sqrt(6)) * (2 * _cdf(a) - 1)


_LINKS: dict[str, tuple[Callable[[float], float], Callable[[float], float]]] = {
    "paired": (_paired, _paired_slope),
    "3-afc": (_three, _three_slope),
    "triangle": (_triangle, _triangle_slope),
    "duo-trio": (_duo_trio, _duo_trio_slope),
}
