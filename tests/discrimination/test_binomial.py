from math import comb

import pytest

from pairing.discrimination import binomial
from pairing.errors import LogError, QuantityError


@pytest.mark.parametrize("p", [1 / 3, 1 / 2, 0.9])
@pytest.mark.parametrize("n", [1, 7, 40])
def test_tail_is_the_plain_sum(n, p):
    for x in range(n + 2):
        exact = sum(comb(n, k) * p**k * (1 - p) ** (n - k) for k in range(x, n + 1))
        assert binomial.tail(x, n, p) == pytest.approx(exact, abs=1e-12)


def test_two_sided_is_symmetric_and_at_most_one():
    assert binomial.p_value(3, 10, 0.5, two_sided=True) == pytest.approx(
        binomial.p_value(7, 10, 0.5, two_sided=True), abs=1e-12
    )
    assert binomial.p_value(5, 10, 0.5, two_sided=True) == 1.0


def test_critical_is_the_fewest_that_luck_rarely_gives():
    for n in range(5, 60):
        x = binomial.critical(n, 0.5, 0.05)
        assert binomial.tail(x, n, 0.5) <= 0.05 < binomial.tail(x - 1, n, 0.5)


def test_power_two_sided_counts_both_ends():
    n, p = 20, 0.5
    assert binomial.power(n, p, p, 0.05, two_sided=True) == pytest.approx(2 * binomial.tail(15, n, p))


def test_power_is_zero_when_nothing_can_be_shown():
    assert binomial.power(3, 0.5, 0.9, 0.05) == 0.0


@pytest.mark.parametrize(("x", "n"), [(-1, 4), (5, 4), (0, 0), (1.5, 4)])
def test_counts_that_cannot_be_are_refused(x, n):
    with pytest.raises(LogError, match="cannot be"):
        binomial.p_value(x, n, 0.5)


@pytest.mark.parametrize("alpha", [0, 1, -0.1, 5])
def test_risks_outside_0_to_1_are_refused(alpha):
    with pytest.raises(QuantityError, match="between 0 and 1"):
        binomial.critical(10, 0.5, alpha)


def test_no_difference_has_no_number_of_servings():
    with pytest.raises(QuantityError, match="worth having"):
        binomial.servings_needed(0.5, 0.5)
    with pytest.raises(QuantityError, match="more than 2000"):
        binomial.servings_needed(0.5, 0.501)
