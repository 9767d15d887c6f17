"""At which dose a flavouring is told from the plain base: ascending series of three cups, one of them flavoured."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pairing.errors import LogError, QuantityError

__all__ = ["FittedThreshold", "GroupThreshold", "best_estimate", "by_luck", "fitted", "group_threshold", "steps"]

LUCK = 1 / 3


@dataclass(frozen=True)
class GroupThreshold:
    """Best-estimate threshold of a group.

    Attributes
    ----------
    g_per_kg : float
        Geometric mean of the individual thresholds.
    individual : mapping of taster to float
        Their own thresholds, g/kg.
    log10_sd : float
        Spread of the individual log₁₀ thresholds; NaN with one taster.
    notes : tuple of str
        What to keep in mind: who was right, or wrong, throughout, and what luck does.
    """

    g_per_kg: float
    individual: Mapping[str, float]
    log10_sd: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class FittedThreshold:
    """Dose at which half of the flavoured cups are truly noticed (right in 2 of 3 servings, luck included).

    Attributes
    ----------
    g_per_kg, low, high : float
        Threshold with its 95 % interval, g/kg.
    slope : float
        Steepness on natural log dose.
    within : bool
        Whether it lies within the doses that were served.
    """

    g_per_kg: float
    low: float
    high: float
    slope: float
    within: bool


def steps(start_g_per_kg: float, factor: float = 2.0, n: int = 6) -> tuple[float, ...]:
    """Return an ascending series of doses, each ``factor`` times the last.

    Examples
    --------
    >>> steps(0.1, 3, 4)
    (0.1, 0.3, 0.9, 2.7)
    """
    if not (start_g_per_kg > 0 and 1 < factor <= 10 and 2 <= n <= 20):
        raise QuantityError(
            f"a series of {n} doses from {start_g_per_kg:g} g/kg by ×{factor:g} cannot be served",
            "start above 0, step by more than ×1 (×2 or ×3 are usual), serve 2 to 20 doses",
        )
    return tuple(float(f"{start_g_per_kg * factor**i:.12g}") for i in range(n))


def best_estimate(doses_g_per_kg: Sequence[float], right: Sequence[bool]) -> float:
    """Return one taster's best-estimate threshold.

    The geometric mean of the highest dose missed and the next one, after which all were right. Right throughout: half
    a step below the lowest; the highest missed: half a step above it.

    Parameters
    ----------
    doses_g_per_kg : sequence of float
        Ascending, in equal ratios.
    right : sequence of bool
        Whether the flavoured cup was picked, in the same order.

    References
    ----------
    ASTM E679, Determination of odor and taste thresholds by a forced-choice ascending concentration series method of
    limits (procedure from memory).

    Examples
    --------
    >>> round(best_estimate([0.1, 0.3, 0.9, 2.7, 8.1, 24.3], [1, 0, 0, 1, 1, 1]), 4)
    1.5588
    """
    factor = _factor(doses_g_per_kg, right)
    missed = [i for i, hit in enumerate(right) if not hit]
    if not missed:
        return doses_g_per_kg[0] / math.sqrt(factor)
    last = missed[-1]
    return doses_g_per_kg[last] * math.sqrt(factor)


def group_threshold(doses_g_per_kg: Sequence[float], answers: Mapping[str, Sequence[bool]]) -> GroupThreshold:
    """Return the best-estimate threshold of several tasters.

    Parameters
    ----------
    doses_g_per_kg : sequence of float
    answers : mapping of taster to sequence of bool
    """
    if not answers:
        raise LogError("no taster has answered", "serve the series to at least one taster")
    own = {taster: best_estimate(doses_g_per_kg, row) for taster, row in answers.items()}
    logs = [math.log10(value) for value in own.values()]
    mean = sum(logs) / len(logs)
    sd = math.sqrt(sum((v - mean) ** 2 for v in logs) / (len(logs) - 1)) if len(logs) > 1 else math.nan
    always = [taster for taster, row in answers.items() if all(row)]
    never = [taster for taster, row in answers.items() if not row[-1]]
    notes = [
        f"luck alone gets all {len(doses_g_per_kg)} right in {by_luck(len(doses_g_per_kg)):.2%} of series and the last "
        f"two in {by_luck(2):.0%}: a single series errs low; repeat it"
    ]
    if always:
        notes.append(f"{', '.join(always)}: right throughout, the threshold may be lower; start the series lower")
    if never:
        notes.append(f"{', '.join(never)}: missed the highest dose, the threshold may be higher; end the series higher")
    return GroupThreshold(10**mean, own, sd, tuple(notes))


def by_luck(n: int) -> float:
    """Return the chance of n right answers in a row by luck alone.

    Examples
    --------
    >>> round(by_luck(6), 5)
    0.00137
    """
    return LUCK**n


def fitted(doses_g_per_kg: Sequence[float], right: Sequence[int], served: Sequence[int]) -> FittedThreshold:
    """Fit a logistic curve on log dose, luck included, to the share of right answers at each dose.

    Parameters
    ----------
    doses_g_per_kg : sequence of float
    right, served : sequence of int
        Right answers and servings at each dose, over tasters or repeated series.

    Notes
    -----
    P(right) = 1/3 + 2/3 · 1 / (1 + exp(−b (ln dose − ln threshold))), maximum likelihood with a weak prior on b
    (ln b ~ N(ln 2, 1), our choice) that keeps perfectly separated answers finite.

    Raises
    ------
    LogError
        With fewer than three doses, or answers no better than luck.
    """
    from scipy.optimize import minimize

    x, k, n = np.log(np.asarray(doses_g_per_kg, float)), np.asarray(right, float), np.asarray(served, float)
    if not (len(x) == len(k) == len(n) >= 3) or (k > n).any() or (k < 0).any() or (n < 1).any():
        raise LogError(f"{len(x)} doses with {right!r} right of {served!r} cannot be fitted", "count at least 3 doses")
    if k.sum() <= LUCK * n.sum():
        raise LogError(
            f"{k.sum():g} right of {n.sum():g} answers is no better than luck", "serve higher doses, or more servings"
        )

    def loss(parameters: np.ndarray) -> float:
        z = np.exp(parameters[1]) * (x - parameters[0])
        p = np.clip(LUCK + (1 - LUCK) / (1 + np.exp(-np.clip(z, -500, 500))), 1e-12, 1 - 1e-12)
        return float(-(k * np.log(p) + (n - k) * np.log1p(-p)).sum() + 0.5 * (parameters[1] - math.log(2)) ** 2)

    starts = [(float(m), math.log(2)) for m in np.quantile(x, [0.1, 0.5, 0.9])]
    best = min((minimize(loss, s, method="Nelder-Mead", options={"xatol": 1e-8}) for s in starts), key=lambda r: r.fun)
    middle, log_slope = best.x
    sd = _sd(loss, best.x)
    return FittedThreshold(
        math.exp(middle),
        math.exp(middle - 1.96 * sd),
        math.exp(middle + 1.96 * sd),
        math.exp(log_slope),
        bool(x.min() <= middle <= x.max()),
    )


def _sd(loss: Callable[[np.ndarray], float], at: np.ndarray) -> float:
    """Return the standard error of the first parameter from the curvature of the loss in both."""
    h = 1e-3 * np.eye(2)
    hessian = np.array(
        [
            [sum(a * b * loss(at + a * h[i] + b * h[j]) for a in (1, -1) for b in (1, -1)) / 4e-6 for j in range(2)]
            for i in range(2)
        ]
    )
    return float(math.sqrt(max(np.linalg.pinv(hessian)[0, 0], 0.0)))


def _factor(doses: Sequence[float], right: Sequence[bool]) -> float:
    if len(doses) != len(right) or len(doses) < 2:
        raise LogError(f"{len(doses)} doses and {len(right)} answers do not match", "give one answer to each dose")
    ratios = [b / a if a > 0 else math.inf for a, b in pairwise(doses)]
    if min(ratios) <= 1 or max(ratios) > 1.2 * min(ratios):
        raise LogError(
            f"the doses {', '.join(f'{d:g}' for d in doses)} g/kg do not rise in equal steps",
            "order them from low to high, each the same multiple of the last",
        )
    return float((doses[-1] / doses[0]) ** (1 / (len(doses) - 1)))
