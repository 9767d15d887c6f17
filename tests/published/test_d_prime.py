"""d′ of the four methods.

*published*: formulas of Ennis, D. M. (1993). The power of sensory discrimination methods. Journal of Sensory Studies 8,
353–370. Figures computed and compared at test time with the open-source library senspy 0.2; the worked 10-of-15
example is that of the R package sensR (file tests/discrim.Rout.save).
"""

import pytest
import senspy

from pairing.discrimination.binomial import p_value
from pairing.discrimination.thurstone import CHANCE, d_prime, d_prime_of, percent_correct, slope

NAMES = {"paired": "twoafc", "3-afc": "threeafc", "triangle": "triangle", "duo-trio": "duotrio"}
TABLE = {
    0.0: (0.50000, 0.33333, 0.33333, 0.50000),
    0.5: (0.63816, 0.48259, 0.35583, 0.52235),
    1.0: (0.76025, 0.63370, 0.41805, 0.58248),
    1.5: (0.85558, 0.76581, 0.50646, 0.66346),
    2.0: (0.92135, 0.86577, 0.60481, 0.74682),
    2.5: (0.96145, 0.93137, 0.69934, 0.81958),
    3.0: (0.98305, 0.96880, 0.78143, 0.87646),
}


@pytest.mark.parametrize("d", TABLE)
def test_share_right_at_a_given_d_prime(d):
    assert [percent_correct(d, m) for m in NAMES] == pytest.approx(TABLE[d], abs=6e-6)


@pytest.mark.parametrize("method", NAMES)
def test_agrees_with_an_independent_library(method):
    for d in (0.25, 0.5, 1, 1.5, 2, 3, 4):
        assert percent_correct(d, method) == pytest.approx(senspy.psy_fun(d, NAMES[method]).item(), abs=1e-9)
        assert slope(d, method) == pytest.approx(senspy.psy_deriv(d, NAMES[method]).item(), abs=1e-7)


@pytest.mark.parametrize(
    ("share", "expected"),
    [
        (0.60, (0.358, 0.885, 1.976, 1.115)),
        (0.70, (0.742, 1.238, 2.504, 1.715)),
        (0.75, (0.954, 1.434, 2.797, 2.020)),
        (0.80, (1.190, 1.652, 3.129, 2.355)),
        (0.90, (1.812, 2.230, 4.028, 3.263)),
        (0.95, (2.326, 2.710, 4.801, 4.072)),
    ],
)
def test_d_prime_of_a_share(share, expected):
    assert [d_prime(share, m) for m in NAMES] == pytest.approx(expected, abs=6e-4)


@pytest.mark.parametrize(
    ("method", "expected", "se"),
    [("paired", 0.6091, 0.4734), ("3-afc", 1.1159, 0.4359), ("duo-trio", 1.5189, 0.7159), ("triangle", 2.3214, 0.6510)],
)
def test_ten_of_fifteen(method, expected, se):
    found = d_prime_of(10, 15, method)
    assert (found.value, found.se) == pytest.approx((expected, se), abs=6e-5)


@pytest.mark.parametrize(
    ("x", "n", "method", "expected", "p"),
    [
        (10, 15, "triangle", 2.3214, 0.008504),
        (33, 60, "triangle", 1.7229, 0.000451),
        (23, 32, "duo-trio", 1.8274, 0.01003),
        (21, 30, "paired", 0.7416, 0.02139),
        (40, 60, "duo-trio", 1.5189, None),
        (40, 60, "paired", 0.6091, None),
    ],
)
def test_worked_examples(x, n, method, expected, p):
    assert d_prime_of(x, n, method).value == pytest.approx(expected, abs=6e-5)
    if p is not None:
        assert p_value(x, n, CHANCE[method]) == pytest.approx(p, rel=1e-3)
