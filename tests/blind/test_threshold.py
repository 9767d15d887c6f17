import math

import pytest

from pairing.blind.threshold import best_estimate, fitted, group_threshold, steps
from pairing.errors import LogError, QuantityError


def test_steps_rise_by_the_factor():
    assert steps(0.1, 3, 6) == (0.1, 0.3, 0.9, 2.7, 8.1, 24.3)


@pytest.mark.parametrize(("start", "factor", "n"), [(0, 2, 6), (1, 1, 6), (1, 2, 1), (math.nan, 2, 6)])
def test_series_that_cannot_be_served(start, factor, n):
    with pytest.raises(QuantityError, match="cannot be served"):
        steps(start, factor, n)


def test_doses_must_rise_in_equal_steps():
    for doses in ((1, 1, 2), (2, 1, 0.5), (1, 2, 8), (0, 1, 2)):
        with pytest.raises(LogError, match="equal steps"):
            best_estimate(doses, [True] * 3)
    with pytest.raises(LogError, match="do not match"):
        best_estimate((1, 2, 4), [True] * 2)


def test_a_group_needs_somebody():
    with pytest.raises(LogError, match="no taster"):
        group_threshold((1, 2), {})


def test_separated_answers_stay_finite():
    found = fitted((1, 2, 4, 8), [1, 1, 3, 3], [3, 3, 3, 3])
    assert 2 < found.g_per_kg < 4
    assert 0 < found.low < found.g_per_kg < found.high < math.inf


def test_answers_by_luck_have_no_threshold():
    with pytest.raises(LogError, match="no better than luck"):
        fitted((1, 2, 4), [1, 1, 1], [3, 3, 3])
    with pytest.raises(LogError, match="cannot be fitted"):
        fitted((1, 2, 4), [1, 1, 4], [3, 3, 3])


def test_a_threshold_beyond_the_doses_is_marked():
    found = fitted((0.001, 0.002, 0.004), [9, 10, 12], [24, 24, 24])
    assert not found.within
