"""A tasting lesson of ten minutes: how sure is this tongue.

Five coded cups of one recipe: plain, half the dose, the dose, twice the dose, and one of them again. The taster says of
each how strong it is, 0 to 10, and how it is liked, 1 to 9. Orders come from a Williams design, so that over several
tasters every cup stands in every place and follows every other one equally often.

References
----------
The repeatability of two scores of the same cup is their standard deviation, |a − b| ÷ √2, and the repeatability limit
1.96 × √2 × that: ISO 5725-6:1994, section 4.1. d′ of two cups told apart by ratings is their distance in standard
deviations of one judgement: Macmillan & Creelman 2005, Detection Theory, 2nd ed., chapter 3. All of them from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist

import numpy as np

from pairing.blind.codes import codes
from pairing.blind.orders import serving_orders
from pairing.errors import LogError

__all__ = ["LEVELS", "Lesson", "Verdict", "lesson", "verdict"]

LEVELS = (0.0, 0.5, 1.0, 2.0)
"""Doses of the cups, times the recipe's."""
_AGAIN = "again"
TOLD_APART = 1.0
"""d′ from which two cups count as told apart: right in 76 of 100 pairs (Macmillan & Creelman 2005, table 7.1)."""
_LEAST_SD = 0.5
"""Ratings on a whole-number scale cannot repeat better than this, points (our choice)."""


@dataclass(frozen=True)
class Lesson:
    """The cups of one taster, in the order in which they are served.

    Attributes
    ----------
    codes : tuple of str
        Three-digit codes.
    levels : tuple of float
        Dose of each, times the recipe's; one of them comes twice.
    """

    codes: tuple[str, ...]
    levels: tuple[float, ...]


@dataclass(frozen=True)
class Verdict:
    """What five cups said of a taster.

    Attributes
    ----------
    d_prime : mapping of (level, level) to float
        Distance of neighbouring doses, in standard deviations of one strength rating.
    ranked : float
        Share of the pairs of doses whose strengths stand in the right order, 0 to 1.
    strength_sd, liking_sd : float
        Standard deviation of one rating, from the duplicate; with one pair it is a rough figure.
    liking_limit : float
        Two likings of the same cup differ by less in 95 of 100 cases, as far as one pair tells.
    """

    d_prime: Mapping[tuple[float, float], float]
    ranked: float
    strength_sd: float
    liking_sd: float
    liking_limit: float

    def __str__(self) -> str:
        told = [f"{b:g} × from {a:g} ×" for (a, b), d in self.d_prime.items() if d >= TOLD_APART]
        not_told = [f"{b:g} × from {a:g} ×" for (a, b), d in self.d_prime.items() if d < TOLD_APART]
        words = [f"you tell {', '.join(told)} apart" if told else "these cups were too alike for you"]
        if told and not_told:
            words.append(f"not {', '.join(not_told)}")
        within = f"{self.liking_limit:.1f} points (95 %, of one pair: a rough figure)"
        return f"{', '.join(words)}; your liking repeats within {within}"


def lesson(taster_number: int = 0, random_state: int | None = None) -> Lesson:
    """Lay out the cups for one of several tasters; the duplicate never stands beside its twin."""
    rng = np.random.default_rng(random_state)
    levels = {**{f"{level:g}": level for level in LEVELS}, _AGAIN: 1.0}
    names = tuple(levels)
    orders = serving_orders(names, 4 * len(names), rng)
    apart = [order for order in orders if abs(order.index(_AGAIN) - order.index("1")) > 1]
    order = apart[taster_number % len(apart)]
    return Lesson(tuple(codes(len(names), rng)), tuple(levels[name] for name in order))


def verdict(served: Lesson, strength: Mapping[str, float], liking: Mapping[str, float]) -> Verdict:
    """Say how sure a tongue is.

    Parameters
    ----------
    served : Lesson
    strength, liking : mapping of code to float
        0 to 10, and 1 to 9.

    Raises
    ------
    LogError
        When a cup was not judged, or a judgement is off its scale.

    Examples
    --------
    >>> cups = Lesson(("111", "222", "333", "444", "555"), (0.5, 1.0, 0.0, 2.0, 1.0))
    >>> sure = verdict(cups, dict(zip(cups.codes, (3, 5, 0, 8, 5))), dict(zip(cups.codes, (5, 7, 4, 6, 6))))
    >>> round(sure.liking_sd, 2), sure.ranked, round(sure.d_prime[(1.0, 2.0)], 1)
    (0.71, 1.0, 6.0)
    """
    for name, said, low, high in (("strength", strength, 0, 10), ("liking", liking, 1, 9)):
        if missing := [code for code in served.codes if code not in said]:
            raise LogError(f"{name} of cup {', '.join(missing)} is not said", "judge every cup, or leave the lesson")
        for code, value in said.items():
            if not low <= value <= high:
                raise LogError(f"{name} of cup {code} is {value:g}, allowed is {low} to {high}", "correct it")
    twins = _twins(served)
    strength_sd = max(_LEAST_SD, abs(strength[twins[0]] - strength[twins[1]]) / math.sqrt(2))
    liking_sd = abs(liking[twins[0]] - liking[twins[1]]) / math.sqrt(2)
    mean = {level: _mean(served, strength, level) for level in LEVELS}
    steps = list(pairwise(LEVELS))
    d_prime = {(a, b): (mean[b] - mean[a]) / strength_sd for a, b in steps}
    pairs = [(a, b) for i, a in enumerate(LEVELS) for b in LEVELS[i + 1 :]]
    ranked = sum((mean[b] > mean[a]) + 0.5 * (mean[b] == mean[a]) for a, b in pairs) / len(pairs)
    limit = NormalDist().inv_cdf(0.975) * math.sqrt(2) * max(liking_sd, _LEAST_SD / math.sqrt(2))
    return Verdict(d_prime, ranked, strength_sd, liking_sd, limit)


def _twins(served: Lesson) -> Sequence[str]:
    twice = next(level for level in served.levels if served.levels.count(level) > 1)
    return [code for code, level in zip(served.codes, served.levels, strict=True) if level == twice]


def _mean(served: Lesson, said: Mapping[str, float], level: float) -> float:
    values = [said[code] for code, one in zip(served.codes, served.levels, strict=True) if one == level]
    return sum(values) / len(values)
