from collections import Counter

import numpy as np
import pytest

from pairing.blind.orders import ARRANGEMENTS, arrangements, serving_orders
from pairing.errors import QuantityError
from pairing.evening.williams import williams


@pytest.mark.parametrize("n", [1, 0, 101, 2.5, True])
def test_refuses_numbers_of_cups_that_cannot_be_ordered(n):
    with pytest.raises(QuantityError, match="allowed is 2 to 100"):
        williams(n)


def test_serving_orders_balance_places_over_a_full_block():
    orders = serving_orders(("a", "b", "c", "d"), 8, random_state=3)
    for place in range(4):
        assert Counter(order[place] for order in orders) == dict.fromkeys("abcd", 2)
    assert orders == serving_orders(("a", "b", "c", "d"), 8, random_state=3)
    assert orders != serving_orders(("a", "b", "c", "d"), 8, random_state=4)


def test_serving_orders_need_a_row():
    assert [sorted(row) for row in serving_orders(("a", "b"), 1, random_state=0)] == [["a", "b"]]
    with pytest.raises(QuantityError, match="at least 1"):
        serving_orders(("a", "b"), 0)


@pytest.mark.parametrize("method", list(ARRANGEMENTS))
def test_every_way_to_set_out_a_serving_comes_equally_often(method):
    ways = ARRANGEMENTS[method]
    found = Counter(arrangements(method, 12 * len(ways), np.random.default_rng(1)))
    assert found == dict.fromkeys(ways, 12)


def test_two_ways_are_even_after_every_fourth_serving():
    for seed in range(5):
        found = arrangements("paired", 20, np.random.default_rng(seed))
        assert all(Counter(found[i : i + 4]) == {"ab": 2, "ba": 2} for i in range(0, 20, 4))
