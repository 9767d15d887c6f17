import math

import pytest

from pairing.discrimination.thurstone import CHANCE, METHODS, d_prime, d_prime_of, percent_correct, slope
from pairing.errors import LogError, QuantityError


@pytest.mark.parametrize("method", METHODS)
def test_d_prime_undoes_percent_correct(method):
    for d in (0.1, 0.7, 1.0, 2.3, 4.0):
        assert d_prime(percent_correct(d, method), method) == pytest.approx(d, abs=1e-7)


@pytest.mark.parametrize("method", METHODS)
def test_no_difference_is_chance(method):
    assert percent_correct(0, method) == pytest.approx(CHANCE[method], abs=1e-12)
    assert d_prime(CHANCE[method] / 2, method) == 0.0
    assert d_prime(1.0, method) == math.inf


@pytest.mark.parametrize("method", METHODS)
def test_slope_is_the_derivative(method):
    for d in (0.3, 1.0, 2.5):
        numeric = (percent_correct(d + 1e-5, method) - percent_correct(d - 1e-5, method)) / 2e-5
        assert slope(d, method) == pytest.approx(numeric, rel=1e-6)


def test_interval_holds_the_value_and_edges_have_no_standard_error():
    found = d_prime_of(14, 18)
    assert found.low < found.value < found.high
    assert math.isnan(d_prime_of(18, 18).se)
    assert d_prime_of(18, 18).high == math.inf


def test_bad_input_is_named():
    with pytest.raises(QuantityError, match="'square' is not known"):
        percent_correct(1, "square")
    with pytest.raises(QuantityError, match="between 0 and 1"):
        d_prime(1.2)
    with pytest.raises(LogError):
        d_prime_of(5, 0)
