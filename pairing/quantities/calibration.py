"""Weighing drops: counted drops on a scale, the mass of one and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pairing.errors import QuantityError
from pairing.quantities.drops import USUAL_DROP_MG
from pairing.quantities.rates import number_of

__all__ = ["Calibration", "calibrate"]


@dataclass(frozen=True)
class Calibration:
    """Mass of one drop from counted and weighed drops.

    Attributes
    ----------
    mg, low, high : float
        Estimate and 80 % interval, mg.
    n_drops : int
        Drops to count so that the scale adds at most 2 % (one sd), at least 20.
    queried : bool
        Outside 8–70 mg: count and tare are to be checked before it is used.
    advice : str
    """

    mg: float
    low: float
    high: float
    n_drops: int
    queried: bool
    advice: str


def calibrate(drops: int | Sequence[int], grams: float | Sequence[float], scale_g: float = 0.1) -> Calibration:
    """Estimate mg per drop from one or more countings.

    Parameters
    ----------
    drops, grams : number or sequence
        Drops counted and what they weighed, in g, one entry per repeat.
    scale_g : float
        Smallest step that the scale shows, g.

    Notes
    -----
    Reading and tare are each rounded (together sd = step ÷ √6). Runs of the same dropper differ by about 5 %
    (USP <1101> allows 15 % for a dropper); that enters as two prior runs, and the observed spread takes over.

    Raises
    ------
    QuantityError
        When counts or masses are not positive, or the mass is below what the scale can tell from nothing.

    Examples
    --------
    >>> round(calibrate(14, 0.5).mg, 1), calibrate(20, 2.5).queried
    (35.7, True)
    """
    counts, masses = _repeats(drops, grams, scale_g)
    each = [1000 * m / n for n, m in zip(counts, masses, strict=True)]
    mg = 1000 * sum(masses) / sum(counts)
    scale_sd = 1000 * scale_g / math.sqrt(6) * math.sqrt(len(counts)) / sum(counts)
    spread = sum((x - mg) ** 2 for x in each)
    dof = 2 + len(each) - 1
    run_variance = (2 * (0.05 * mg) ** 2 + spread) / dof
    half = _t80(dof) * math.sqrt(run_variance / len(each) + scale_sd**2)
    n_drops = max(20, 10 * math.ceil(1000 * scale_g / math.sqrt(6) / (0.02 * mg) / 10))
    queried = not USUAL_DROP_MG[0] <= mg <= USUAL_DROP_MG[1]
    return Calibration(mg, max(mg - half, mg / 10), mg + half, n_drops, queried, _advice(mg, queried, counts, n_drops))


def _repeats(
    drops: int | Sequence[int], grams: float | Sequence[float], scale_g: float
) -> tuple[list[float], list[float]]:
    counts, masses = _numbers(drops, "drops"), _numbers(grams, "grams")
    if not counts or len(counts) != len(masses):
        raise QuantityError(f"{len(counts)} counts but {len(masses)} masses", "give one mass per count")
    if not (math.isfinite(scale_g) and 0 < scale_g <= 10):
        raise QuantityError(f"scale_g is {scale_g:g}, allowed is above 0 to 10 g", "give the scale's smallest step")
    for n, m in zip(counts, masses, strict=True):
        if not math.isfinite(n) or n < 1 or n != int(n):
            raise QuantityError(f"{n:g} drops were counted, a whole number from 1 is needed", "count again")
        if not math.isfinite(m) or m < scale_g * (1 - 1e-9):
            raise QuantityError(
                f"{n:g} drops weigh {m:g} g, the scale shows steps of {scale_g:g} g",
                "count more drops, or use a finer scale",
            )
    return counts, masses


def _t80(dof: int) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(dof, 0.9))


def _advice(mg: float, queried: bool, counts: list[float], n_drops: int) -> str:
    if queried:
        return (
            f"{mg:.3g} mg per drop is outside the usual {USUAL_DROP_MG[0]:g}–{USUAL_DROP_MG[1]:g} mg: "
            "check the count, the tare and the unit, then weigh again"
        )
    if sum(counts) < n_drops:
        return f"weigh {n_drops} drops on this scale for a mass within 2 %"
    if len(counts) == 1:
        return "weigh a second time: how much two runs differ is part of the uncertainty"
    return "enough drops were weighed; repeat it for a new bottle or dropper"


def _numbers(given: Any, name: str) -> list[float]:
    return [
        number_of(v, name) for v in (given if isinstance(given, Sequence) and not isinstance(given, str) else [given])
    ]
