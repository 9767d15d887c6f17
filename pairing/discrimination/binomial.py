"""Exact binomial arithmetic of right and wrong answers; nothing here is a normal approximation.

``p0`` is the chance of a right answer by luck: 1/2 for two cups (paired, duo-trio), 1/3 for three (3-AFC, triangle).
"""

from __future__ import annotations

from functools import lru_cache

from scipy.special import betainc, betaincinv

from pairing.errors import LogError, QuantityError

__all__ = ["critical", "interval", "p_value", "power", "servings_needed", "tail"]

MAX_SERVINGS = 2000


def tail(x: int, n: int, p: float) -> float:
    """Return P(X ≥ x) of n answers that are each right with chance p.

    Examples
    --------
    >>> round(tail(9, 10, 0.5), 7)
    0.0107422
    """
    if x <= 0:
        return 1.0
    return 0.0 if x > n else float(betainc(x, n - x + 1, p))


def p_value(x: int, n: int, p0: float, *, two_sided: bool = False) -> float:
    """Return the exact p-value of x right (or agreeing) answers in n.

    Parameters
    ----------
    x, n : int
        Right answers and all answers.
    p0 : float
        Chance of a right answer by luck.
    two_sided : bool
        Twice the smaller tail, at most 1: for questions without an expected side, such as a preference.

    Examples
    --------
    >>> round(p_value(3, 3, 1 / 3), 3)
    0.037
    """
    _check_counts(x, n)
    upper = tail(x, n, p0)
    if not two_sided:
        return upper
    lower = 1.0 - tail(x + 1, n, p0)
    return min(1.0, 2.0 * min(upper, lower))


def critical(n: int, p0: float, alpha: float = 0.05, *, two_sided: bool = False) -> int | None:
    """Return the fewest right answers in n that luck gives with probability of at most alpha; None if none do.

    Two-sided: the fewest *agreeing* answers, whichever the side.

    Examples
    --------
    >>> critical(12, 1 / 3), critical(20, 0.5), critical(5, 0.5, 0.01)
    (8, 15, None)
    """
    _check_counts(0, n)
    _check_chance("alpha", alpha)
    level = alpha / 2 if two_sided else alpha
    low, high = 0, n + 1
    while low < high:  # the tail falls with x
        middle = (low + high) // 2
        low, high = (low, middle) if tail(middle, n, p0) <= level * (1 + 1e-12) else (middle + 1, high)
    return low if low <= n else None


def interval(x: int, n: int, level: float = 0.95) -> tuple[float, float]:
    """Return the exact (Clopper–Pearson) interval of a share.

    References
    ----------
    Clopper, C. J., & Pearson, E. S. (1934). The use of confidence or fiducial limits illustrated in the case of the
    binomial. Biometrika 26, 404–413.

    Examples
    --------
    >>> tuple(round(limit, 5) for limit in interval(7, 10))
    (0.34755, 0.93326)
    """
    _check_counts(x, n)
    _check_chance("level", level)
    half = (1.0 - level) / 2.0
    low = 0.0 if x == 0 else float(betaincinv(x, n - x + 1, half))
    high = 1.0 if x == n else float(betaincinv(x + 1, n - x, 1.0 - half))
    return low, high


def power(n: int, p0: float, p1: float, alpha: float = 0.05, *, two_sided: bool = False) -> float:
    """Return the chance that n answers prove the difference when each is right with chance p1.

    Examples
    --------
    >>> round(power(23, 0.5, 0.76025), 3)
    0.835
    """
    needed = critical(n, p0, alpha, two_sided=two_sided)
    if needed is None:
        return 0.0
    other = 1.0 - tail(n - needed + 1, n, p1) if two_sided else 0.0
    return tail(needed, n, p1) + other


@lru_cache(maxsize=256)
def servings_needed(p0: float, p1: float, alpha: float = 0.05, wanted: float = 0.9, *, two_sided: bool = False) -> int:
    """Return the fewest servings whose exact power reaches what is wanted.

    Parameters
    ----------
    p0, p1 : float
        Chance of a right answer by luck, and with the difference that is worth having.
    alpha : float
        Risk of calling a difference that is not there.
    wanted : float
        Power: chance of finding the difference that is there.

    Notes
    -----
    Exact power rises in a sawtooth; this is its first crossing, as the tables of the test standards have it.

    Raises
    ------
    QuantityError
        When more than 2000 servings would be needed, or p1 is not above p0.

    Examples
    --------
    >>> servings_needed(0.5, 0.76025, 0.05, 0.8), servings_needed(1 / 3, 0.41805, 0.05, 0.8)
    (23, 202)
    """
    _check_chance("power", wanted)
    _check_chance("alpha", alpha)
    if not p0 < p1 < 1:
        raise QuantityError(
            f"a right answer has chance {p1:.4g} with the difference and {p0:.4g} by luck",
            "name a difference above 0 that is worth having (d′ = 1 is a clear one)",
        )
    for n in range(1, MAX_SERVINGS + 1):
        if power(n, p0, p1, alpha, two_sided=two_sided) >= wanted:
            return n
    raise QuantityError(
        f"more than {MAX_SERVINGS} servings would be needed", "ask a directed question, or look for a larger difference"
    )


def _check_counts(x: int, n: int) -> None:
    if not (n >= 1 and 0 <= x <= n and x == int(x) and n == int(n)):
        raise LogError(f"{x} right of {n} answers cannot be", "count whole answers, at least one")


def _check_chance(name: str, value: float) -> None:
    if not 0 < value < 1:
        raise QuantityError(
            f"{name} is {value:g}, it lies between 0 and 1", "0.05 is the usual risk, 0.9 a usual power"
        )
