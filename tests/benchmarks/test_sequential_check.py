"""10,000 simulated blind checks: error rates as stated, and far fewer servings than a check of fixed length.

*published*: the ratio test and its saving, Wald (1945), Annals of Mathematical Statistics 16, 117–186.
"""

import numpy as np
import pytest

from pairing.blind.sequential import DIFFERENT, GO_ON, stopping_rule
from pairing.discrimination.thurstone import CHANCE, percent_correct

RUNS = 10_000


def _simulate(rule, p, seed):
    rng = np.random.default_rng(seed)
    right = np.cumsum(rng.random((RUNS, rule.cap)) < p, axis=1)
    states = {(k, n): rule.state(k, n) for n in range(1, rule.cap + 1) for k in range(n + 1)}
    called, used = 0, 0
    for row in right:
        n = next(n for n, k in enumerate(row.tolist(), start=1) if states[k, n] != GO_ON)
        called += states[int(row[n - 1]), n] == DIFFERENT
        used += n
    return called / RUNS, used / RUNS


@pytest.mark.parametrize(
    ("method", "alpha", "power", "two_sided"),
    [
        ("paired", 0.05, 0.9, False),
        ("paired", 0.05, 0.9, True),
        ("paired", 0.05, 0.95, False),
        ("paired", 0.10, 0.9, False),
        ("3-afc", 0.05, 0.9, False),
    ],
)
def test_error_rates_and_servings(method, alpha, power, two_sided):
    p0, p1 = CHANCE[method], percent_correct(1.0, method)
    rule = stopping_rule(p0, p1, alpha, power, two_sided=two_sided)
    false_calls, _ = _simulate(rule, p0, seed=1)
    found, servings = _simulate(rule, p1, seed=2)
    assert false_calls == pytest.approx(alpha, abs=0.01)
    assert found == pytest.approx(power, abs=0.01)
    assert servings <= 0.6 * rule.fixed
    assert (false_calls, found) == pytest.approx((rule.chance(p0), rule.chance(p1)), abs=0.012)
    assert servings == pytest.approx(rule.servings(p1), rel=0.03)
