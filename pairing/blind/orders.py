"""Serving orders: every cup equally often in every place and after every other cup."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pairing.errors import QuantityError
from pairing.model.chance import generator

if TYPE_CHECKING:
    import numpy as np

__all__ = ["ARRANGEMENTS", "arrangements", "serving_orders", "williams"]

ARRANGEMENTS = {
    "paired": ("ab", "ba"),
    "3-afc": ("abb", "bab", "bba"),
    "triangle": ("abb", "bab", "bba", "baa", "aba", "aab"),
    "duo-trio": ("a|ab", "a|ba", "b|ab", "b|ba"),
}
"""Ways to set out one serving of each method; before the bar stands the open reference."""
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


def serving_orders(
    cups: tuple[str, ...], n_rows: int, random_state: int | np.random.Generator | None = None
) -> tuple[tuple[str, ...], ...]:
    """Hand out serving orders of named cups to tasters or sessions, balanced over every full block of rows.

    Examples
    --------
    >>> orders = serving_orders(("plain", "plum", "clove"), 6, random_state=0)
    >>> sorted(order[0] for order in orders)
    ['clove', 'clove', 'plain', 'plain', 'plum', 'plum']
    """
    if n_rows < 1:
        raise QuantityError(f"{n_rows} serving orders were asked for, at least 1 is needed", "name the tasters")
    rng = generator(random_state)
    rows = williams(len(cups))
    out: list[tuple[str, ...]] = []
    while len(out) < n_rows:
        names = [cups[i] for i in rng.permutation(len(cups))]
        out += [tuple(names[i] for i in rows[r]) for r in rng.permutation(len(rows))]
    return tuple(out[:n_rows])


def arrangements(method: str, n: int, rng: np.random.Generator) -> tuple[str, ...]:
    """Return how each of n servings is set out, every way equally often within shuffled blocks.

    Blocks hold each way twice where there are only two, so that the last of a block can hardly be guessed.
    """
    ways = ARRANGEMENTS[method]
    block = ways * 2 if len(ways) == 2 else ways
    out: list[str] = []
    while len(out) < n:
        out += [block[i] for i in rng.permutation(len(block))]
    return tuple(out[:n])
