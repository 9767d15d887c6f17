"""Serving orders: every cup equally often in every place and after every other cup."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pairing.errors import QuantityError
from pairing.evening.williams import williams
from pairing.model.chance import generator

if TYPE_CHECKING:
    import numpy as np

__all__ = ["ARRANGEMENTS", "arrangements", "serving_orders"]

ARRANGEMENTS = {
    "paired": ("ab", "ba"),
    "3-afc": ("abb", "bab", "bba"),
    "triangle": ("abb", "bab", "bba", "baa", "aba", "aab"),
    "duo-trio": ("a|ab", "a|ba", "b|ab", "b|ba"),
}
"""Ways to set out one serving of each method; before the bar stands the open reference."""


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
