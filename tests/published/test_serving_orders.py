"""Williams designs by their defining property.

*published*: Williams, E. J. (1949). Experimental designs balanced for the estimation of residual effects of treatments.
Australian Journal of Scientific Research A 2, 149–168: each treatment equally often in every period and each ordered
pair of neighbours equally often (once in n rows with an even n, twice in 2 n rows with an odd n).
"""

from collections import Counter
from itertools import pairwise, permutations

import pytest

from pairing.evening.williams import williams


def carry_over(orders):
    """Count how often each cup directly follows each other one."""
    follows = Counter(pair for row in orders for pair in pairwise(row))
    cups = sorted({cup for row in orders for cup in row})
    return {pair: follows[pair] for pair in permutations(cups, 2)}


@pytest.mark.parametrize("n", range(2, 13))
def test_williams_design_is_balanced(n):
    rows = williams(n)
    times = 2 if n % 2 else 1
    assert len(rows) == n * times
    assert all(sorted(row) == list(range(n)) for row in rows)
    assert set(carry_over(rows).values()) == {times}
    for place in range(n):
        assert Counter(row[place] for row in rows) == dict.fromkeys(range(n), times)


@pytest.mark.parametrize("n", [4, 5, 6])
def test_a_plain_cyclic_square_fails_the_same_property(n):
    cyclic = tuple(tuple((i + s) % n for i in range(n)) for s in range(n))
    assert len(set(carry_over(cyclic).values())) > 1


def test_the_design_for_four_is_the_printed_one():
    """*published*: rows 1243 2314 3421 4132, the printed example of the construction."""
    printed = {(0, 1, 3, 2), (1, 2, 0, 3), (2, 3, 1, 0), (3, 0, 2, 1)}
    assert set(williams(4)) == printed
