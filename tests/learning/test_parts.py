"""Answers of parts are added up by name."""

import numpy as np

from pairing.learning.parts import Placed, added


class Ids(tuple):
    """Ids that count how many are gone over when they are put together."""

    __slots__ = ()
    moved = 0

    def __add__(self, other):
        Ids.moved += len(self) + len(other)
        return Ids((*self, *other))


def test_everything_is_added_once_and_in_its_order():
    one = np.ones(3)
    total = added({"n": 1, "who": Ids((i,)), "x": one * i} for i in range(100))
    assert total["n"] == 100
    assert total["who"] == tuple(range(100))
    assert total["x"].tolist() == [4950.0] * 3
    assert one.tolist() == [1.0] * 3


def test_what_grows_is_not_gone_over_with_every_answer():
    Ids.moved = 0
    n = 2**10
    assert len(added({"who": Ids((i,))} for i in range(n))["who"]) == n
    assert Ids.moved == 10 * n  # in a tree; one after the other it would be n² ÷ 2


def test_what_belongs_to_some_rows_is_added_there():
    parts = [Placed(np.array([0, 2]), np.ones((2, 4)), 3), Placed(np.array([2]), np.full((1, 4), 5.0), 3)]
    assert added({"x": part} for part in parts)["x"].tolist() == [[1.0] * 4, [0.0] * 4, [6.0] * 4]
