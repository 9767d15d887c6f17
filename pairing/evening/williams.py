"""Williams designs: serving orders in which every cup stands equally often in every place and after every other."""

from __future__ import annotations

from pairing.errors import QuantityError

__all__ = ["MAX_CUPS", "williams"]

MAX_CUPS = 100


def williams(n: int) -> tuple[tuple[int, ...], ...]:
    """Return a Williams design: rows of serving orders of n cups, numbered 0 … n − 1.

    Every cup stands equally often in every place and follows every other cup equally often: once with an even n
    (n rows), twice with an odd n (2 n rows).

    Parameters
    ----------
    n : int
        Number of cups, 2 to 100.

    Raises
    ------
    QuantityError
        When n is outside that range.

    References
    ----------
    Williams, E. J. (1949). Experimental designs balanced for the estimation of residual effects of treatments.
    Australian Journal of Scientific Research A 2, 149–168.

    Examples
    --------
    >>> williams(4)
    ((0, 1, 3, 2), (1, 2, 0, 3), (2, 3, 1, 0), (3, 0, 2, 1))
    """
    if isinstance(n, bool) or n != int(n) or not 2 <= n <= MAX_CUPS:
        raise QuantityError(f"{n!r} cups cannot be ordered, allowed is 2 to {MAX_CUPS}", "split them over sessions")
    first = [0]
    for step in range(1, n):  # 0, 1, n−1, 2, n−2, …: neighbours differ by every amount once
        first.append((step + 1) // 2 if step % 2 else n - step // 2)
    rows = [tuple((cup + shift) % n for cup in first) for shift in range(n)]
    if n % 2:
        rows += [row[::-1] for row in rows]
    return tuple(rows)
