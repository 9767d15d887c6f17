"""Stop as soon as the answer is clear: Wald's ratio test with a cap, its error rates computed exactly.

Wald's own limits overshoot on whole answers and so waste servings. Here both limits are drawn in until the error rates,
summed over every possible course of answers, are just within those asked for, and the average number of servings is the
smallest that allows.

References
----------
Wald, A. (1945). Sequential tests of statistical hypotheses. Annals of Mathematical Statistics 16, 117–186.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.discrimination.binomial import servings_needed
from pairing.errors import LogError, QuantityError

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["DIFFERENT", "GO_ON", "SAME", "StoppingRule", "stopping_rule"]

DIFFERENT, SAME, GO_ON = "different", "not shown", "go on"
_CAPS = (1.5, 2.0)
_GRID = (0.66, 1.05)


@dataclass(frozen=True)
class StoppingRule:
    """When to stop after n answers, k of them right. Two-sided rules look at the larger side.

    Attributes
    ----------
    p0, p1 : float
        Chance of a right answer by luck, and with the difference worth having.
    alpha, beta : float
        Risks asked for: of calling a difference that is not there, and of missing one that is.
    fixed : int
        Servings that a test of fixed length needs for the same risks.
    different : tuple of int
        By n − 1: the fewest right answers that show a difference.
    same : tuple of int
        By n − 1: the most right answers at which to give up.
    """

    p0: float
    p1: float
    alpha: float
    beta: float
    two_sided: bool
    fixed: int
    different: tuple[int, ...]
    same: tuple[int, ...]

    @property
    def cap(self) -> int:
        """Number of servings after which it ends in any case."""
        return len(self.different)

    def state(self, k: int, n: int) -> str:
        """Return ``different``, ``not shown`` or ``go on`` after k right of n answers."""
        if not 0 <= k <= n <= self.cap:
            raise LogError(f"{k} right of {n} answers cannot be, the cap is {self.cap}", "count the answers again")
        if n == 0:
            return GO_ON
        larger = max(k, n - k) if self.two_sided else k
        if larger >= self.different[n - 1]:
            return DIFFERENT
        return SAME if larger <= self.same[n - 1] else GO_ON

    def chance(self, p: float) -> float:
        """Return the chance of calling a difference when each answer is right with chance p."""
        return sum(sum(yes) for _, yes in self._course(p))

    def servings(self, p: float) -> float:
        """Return the average number of servings when each answer is right with chance p."""
        return sum(sum(reached) for reached, _ in self._course(p))

    def p_value(self, k: int, n: int) -> float:
        """Return the p-value of a check that ended with k right of n answers.

        Stages are ordered: an earlier 'different' is stronger evidence than a later one, and among ends after the same
        number of answers more right ones are stronger.

        References
        ----------
        Armitage, P. (1957). Restricted sequential procedures. Biometrika 44, 9–26.
        """
        self.state(k, n)
        course = self._course(self.p0)
        larger = max(k, n - k) if self.two_sided else k
        here = course[n - 1][0]
        after = [0.0] * (n + 1)
        for j, chance in enumerate(here):  # the nth answer: one more right, or not
            after[j] += chance * (1 - self.p0)
            after[j + 1] += chance * self.p0
        sides = [max(j, n - j) if self.two_sided else j for j in range(n + 1)]
        before = sum(sum(yes) for _, yes in course[: n - 1])
        return min(1.0, before + sum(c for c, side in zip(after, sides, strict=True) if side >= larger))

    def _course(self, p: float) -> list[tuple[list[float], list[float]]]:
        """Sum over every course of answers.

        By n: chances that serving n is poured with k right before it, and that a difference is called after it with k
        right.
        """
        out = []
        going = [1.0]
        for n in range(1, self.cap + 1):
            new = [0.0] * (n + 1)
            for k, chance in enumerate(going):
                new[k] += chance * (1 - p)
                new[k + 1] += chance * p
            states = [self.state(k, n) for k in range(n + 1)]
            out.append((going, [c if s == DIFFERENT else 0.0 for c, s in zip(new, states, strict=True)]))
            going = [c if s == GO_ON else 0.0 for c, s in zip(new, states, strict=True)]
        return out


@lru_cache(maxsize=64)
def stopping_rule(
    p0: float, p1: float, alpha: float = 0.05, power: float = 0.9, *, two_sided: bool = False
) -> StoppingRule:
    """Return the rule that finds a real difference with the fewest servings on average at the risks asked for.

    Parameters
    ----------
    p0, p1 : float
        Chance of a right answer by luck, and with the difference worth having.
    alpha : float
        Risk of calling a difference that is not there.
    power : float
        Chance of finding the difference that is worth having.
    two_sided : bool
        No side is expected: for preferences.

    Raises
    ------
    QuantityError
        When the risks or the difference are out of range.

    Examples
    --------
    >>> rule = stopping_rule(0.5, 0.7602499, 0.05, 0.9)
    >>> rule.fixed, round(rule.servings(0.7602499), 1), round(rule.chance(0.5), 3)
    (30, 16.9, 0.049)
    """
    fixed = servings_needed(p0, p1, alpha, power, two_sided=two_sided)
    best: tuple[float, Any, Any] | None = None
    for factor in _CAPS:
        found = _search(p0, p1, alpha, power, math.ceil(factor * fixed), two_sided=two_sided)
        if found is not None and (best is None or found[0] < best[0]):
            best = found
    if best is None:
        raise QuantityError(
            f"no stopping rule keeps risks of {alpha:g} and {1 - power:.3g}", "ask for risks between 0.01 and 0.2"
        )
    different, same = (tuple(int(v) for v in limits) for limits in best[1:])
    return StoppingRule(p0, p1, alpha, 1 - power, two_sided, fixed, different, same)


def _search(p0: float, p1: float, alpha: float, power: float, cap: int, *, two_sided: bool) -> Any:
    """Try pairs of limits around Wald's; return the one with fewest servings on average, or None."""
    side = alpha / 2 if two_sided else alpha
    gain = math.log(p1 * (1 - p0) / (p0 * (1 - p1)))
    climb = math.log((1 - p0) / (1 - p1)) / gain
    grid = np.linspace(*_GRID, min(40, max(8, 4000 // cap)))  # long checks overshoot little: a coarser look will do
    up, down = (g.ravel() for g in np.meshgrid(grid, grid))
    n = np.arange(1, cap + 1)
    different = np.ceil(climb * n + (up * math.log(power / side) / gain)[:, None] - 1e-9).astype(int)
    same = np.floor(climb * n - (down * math.log((1 - side) / (1 - power)) / gain)[:, None] + 1e-9).astype(int)
    different = np.minimum(different, n + 1)
    same = np.maximum(same, -1)
    called0, _, left0 = _run(p0, different, same, two_sided)
    called1, mean1, left1 = _run(p1, different, same, two_sided)
    last = _last(called0, left0, alpha, two_sided)
    index = np.minimum(last, cap + 1)[:, None]
    called1 = called1 + np.take_along_axis(_beyond(left1, two_sided), index, axis=1)[:, 0]
    good = (called1 >= power) & (last <= cap + 1)
    if not good.any():
        return None
    pick = int(np.argmin(np.where(good, mean1, np.inf)))
    different[pick, -1], same[pick, -1] = last[pick], last[pick] - 1
    return float(mean1[pick]), different[pick], same[pick]


def _run(p: float, different: NDArray[np.int_], same: NDArray[np.int_], two_sided: bool) -> Any:
    """Let all candidate rules run at once: chance of calling, average servings, what is left undecided at the cap."""
    rules, cap = different.shape
    k = np.arange(cap + 1)
    going = np.zeros((rules, cap + 1))
    going[:, 0] = 1.0
    called, mean = np.zeros(rules), np.zeros(rules)
    for n in range(1, cap + 1):
        going[:, 1:] = going[:, 1:] * (1 - p) + going[:, :-1] * p
        going[:, 0] *= 1 - p
        larger = np.maximum(k, n - k) if two_sided else k
        yes = larger >= different[:, n - 1, None] if n < cap else np.zeros((rules, cap + 1), bool)
        no = larger <= same[:, n - 1, None] if n < cap else np.zeros((rules, cap + 1), bool)
        called += (going * yes).sum(1)
        mean += n * (going * (yes | no)).sum(1)
        going[yes | no] = 0.0
    return called, mean + cap * going.sum(1), going


def _beyond(left: NDArray[np.float64], two_sided: bool) -> Any:
    """Chance of at least x right at the cap (on the larger side), by x = 0 … cap + 1."""
    cap = left.shape[1] - 1
    if two_sided:
        folded = left.copy()
        for k in range((cap + 1) // 2):  # k right and cap − k right count as the larger of the two
            folded[:, cap - k] += left[:, k]
            folded[:, k] = 0.0
        left = folded
    tails = np.cumsum(left[:, ::-1], axis=1)[:, ::-1]
    return np.concatenate([tails, np.zeros((len(left), 1))], axis=1)


def _last(called0: NDArray[np.float64], left0: NDArray[np.float64], alpha: float, two_sided: bool) -> Any:
    """Fewest right answers at the cap that still keep the risk of a false call; cap + 2 where none do."""
    kept = called0[:, None] + _beyond(left0, two_sided) <= alpha
    return np.where(kept.any(axis=1), np.argmax(kept, axis=1), left0.shape[1] + 1)
