"""Minimum numbers of right answers and exact tails of discrimination tests.

*published*: triangle test, convention of ISO 4120 (fewest right answers x with P(X ≥ x) ≤ α, p0 = 1/3). The columns for
α = 10, 5, 1 and 0.1 % agree with FAO document V7180E, Appendix A, for n = 6–36, 42, 48 … 96; the others are computed.
*published*: duo-trio test (ISO 10399, Table A.1) and one-sided paired comparison (ISO 5495), p0 = 1/2; the two-sided
columns of the paired comparison are computed from the exact binomial.
"""

import pytest

from pairing.discrimination.binomial import critical, interval, p_value, power, servings_needed, tail
from pairing.discrimination.thurstone import percent_correct

ALPHAS = (0.20, 0.10, 0.05, 0.01, 0.001)
TRIANGLE = """
6 4 5 5 6 -
7 4 5 5 6 7
8 5 5 6 7 8
9 5 6 6 7 8
10 6 6 7 8 9
11 6 7 7 8 10
12 6 7 8 9 10
13 7 8 8 9 11
14 7 8 9 10 11
15 8 8 9 10 12
16 8 9 9 11 12
17 8 9 10 11 13
18 9 10 10 12 13
19 9 10 11 12 14
20 9 10 11 13 14
21 10 11 12 13 15
22 10 11 12 14 15
23 11 12 12 14 16
24 11 12 13 15 16
25 11 12 13 15 17
26 12 13 14 15 17
27 12 13 14 16 18
28 12 14 15 16 18
29 13 14 15 17 19
30 13 14 15 17 19
31 14 15 16 18 20
32 14 15 16 18 20
33 14 15 17 18 21
34 15 16 17 19 21
35 15 16 17 19 22
36 15 17 18 20 22
37 16 17 18 20 22
38 16 17 19 21 23
39 16 18 19 21 23
40 17 18 19 21 24
41 17 19 20 22 24
42 18 19 20 22 25
43 18 19 20 23 25
44 18 20 21 23 26
45 19 20 21 24 26
46 19 20 22 24 27
47 19 21 22 24 27
48 20 21 22 25 27
49 20 22 23 25 28
50 20 22 23 26 28
51 21 22 24 26 29
52 21 23 24 26 29
53 22 23 24 27 30
54 22 23 25 27 30
55 22 24 25 28 30
56 23 24 26 28 31
57 23 25 26 28 31
58 23 25 26 29 32
59 24 25 27 29 32
60 24 26 27 30 33
"""
"""n, then the fewest right answers at each of ALPHAS."""
TWO_CUPS = """
6 5 6 6 - - 6 -
7 6 6 7 7 - 7 -
8 6 7 7 8 - 8 8
9 7 7 8 9 - 8 9
10 7 8 9 10 10 9 10
11 8 9 9 10 11 10 11
12 8 9 10 11 12 10 11
13 9 10 10 12 13 11 12
14 10 10 11 12 13 12 13
15 10 11 12 13 14 12 13
16 11 12 12 14 15 13 14
17 11 12 13 14 16 13 15
18 12 13 13 15 16 14 15
19 12 13 14 15 17 15 16
20 13 14 15 16 18 15 17
21 13 14 15 17 18 16 17
22 14 15 16 17 19 17 18
23 15 16 16 18 20 17 19
24 15 16 17 19 20 18 19
25 16 17 18 19 21 18 20
26 16 17 18 20 22 19 20
27 17 18 19 20 22 20 21
28 17 18 19 21 23 20 22
29 18 19 20 22 24 21 22
30 18 20 20 22 24 21 23
31 19 20 21 23 25 22 24
32 19 21 22 24 26 23 24
33 20 21 22 24 26 23 25
34 20 22 23 25 27 24 25
35 21 22 23 25 27 24 26
36 22 23 24 26 28 25 27
37 22 23 24 27 29 25 27
38 23 24 25 27 29 26 28
39 23 24 26 28 30 27 28
40 24 25 26 28 31 27 29
41 24 26 27 29 31 28 30
42 25 26 27 29 32 28 30
43 25 27 28 30 32 29 31
44 26 27 28 31 33 29 31
45 26 28 29 31 34 30 32
46 27 28 30 32 34 31 33
47 27 29 30 32 35 31 33
48 28 29 31 33 36 32 34
49 28 30 31 34 36 32 34
50 29 31 32 34 37 33 35
51 30 31 32 35 37 33 36
52 30 32 33 35 38 34 36
53 31 32 33 36 39 35 37
54 31 33 34 36 39 35 37
55 32 33 35 37 40 36 38
56 32 34 35 38 40 36 39
57 33 34 36 38 41 37 39
58 33 35 36 39 42 37 40
59 34 35 37 39 42 38 40
60 34 36 37 40 43 39 41
"""
"""n, the fewest right answers at each of ALPHAS one-sided, then two-sided at 0.05 and 0.01."""


def _rows(table):
    rows = [line.split() for line in table.split("\n") if line]
    return [(int(row[0]), [None if cell == "-" else int(cell) for cell in row[1:]]) for row in rows]


def test_the_tables_cover_every_n():
    assert [n for n, _ in _rows(TRIANGLE)] == [n for n, _ in _rows(TWO_CUPS)] == list(range(6, 61))


@pytest.mark.parametrize(("n", "printed"), _rows(TRIANGLE))
def test_triangle_minimum(n, printed):
    assert [critical(n, 1 / 3, alpha) for alpha in ALPHAS] == printed


@pytest.mark.parametrize(("n", "printed"), _rows(TWO_CUPS))
def test_two_cup_minimum(n, printed):
    one_sided = [critical(n, 1 / 2, alpha) for alpha in ALPHAS]
    assert one_sided + [critical(n, 1 / 2, alpha, two_sided=True) for alpha in (0.05, 0.01)] == printed


def test_the_normal_shortcut_would_fail():
    """The commonly printed n/3 + z√(2n/9), rounded up, is one too few at n = 10, 24 and 36: exact sums are needed."""
    from math import ceil, sqrt

    short = [n for n in range(6, 61) if ceil(n / 3 + 1.6449 * sqrt(2 * n / 9)) != critical(n, 1 / 3, 0.05)]
    assert {10, 24, 36} <= set(short)


@pytest.mark.parametrize(
    ("x", "n", "p0", "chance"),
    [
        (5, 6, 1 / 3, 0.017833),
        (8, 12, 1 / 3, 0.018758),
        (15, 30, 1 / 3, 0.043482),
        (18, 36, 1 / 3, 0.028349),
        (27, 60, 1 / 3, 0.039692),
        (26, 60, 1 / 3, 0.068015),
        (9, 10, 1 / 2, 0.0107422),
        (15, 20, 1 / 2, 0.0206947),
        (20, 30, 1 / 2, 0.0493686),
        (3, 3, 1 / 3, 0.037037),
        (3, 3, 1 / 2, 0.125),
        (5, 5, 1 / 2, 0.03125),
    ],
)
def test_exact_tails(x, n, p0, chance):
    """*published* definition (exact binomial); figures computed."""
    assert tail(x, n, p0) == pytest.approx(chance, abs=6e-7)
    assert p_value(x, n, p0) == tail(x, n, p0)


@pytest.mark.parametrize(
    ("x", "n", "low", "high"),
    [
        (0, 10, 0, 0.30850),
        (1, 10, 0.00253, 0.44502),
        (5, 10, 0.18709, 0.81291),
        (7, 10, 0.34755, 0.93326),
        (10, 10, 0.69150, 1),
        (0, 20, 0, 0.16843),
        (4, 20, 0.05733, 0.43661),
        (10, 15, 0.38380, 0.88176),
        (8, 12, 0.34888, 0.90075),
    ],
)
def test_clopper_pearson(x, n, low, high):
    """*published* method: Clopper & Pearson (1934), Biometrika 26, 404–413; figures agree with statsmodels."""
    from statsmodels.stats.proportion import proportion_confint

    assert interval(x, n) == pytest.approx((low, high), abs=6e-6)
    assert interval(x, n) == pytest.approx(proportion_confint(x, n, method="beta"), abs=1e-9, nan_ok=False)


@pytest.mark.parametrize(("method", "p0", "name"), [("paired", 0.5, "twoafc"), ("3-afc", 1 / 3, "threeafc")])
def test_power_agrees_with_an_independent_library(method, p0, name):
    """Against the open-source library senspy 0.2."""
    import senspy

    for d in (0.5, 1.0, 2.0):
        for n in (8, 20, 45):
            ours = power(n, p0, percent_correct(d, method), 0.05)
            assert ours == pytest.approx(senspy.dprime_power(d, sample_size=n, method=name), abs=1e-9)


@pytest.mark.parametrize(
    ("method", "p0", "at_80", "at_90"),
    [("3-afc", 1 / 3, 16, 23), ("paired", 1 / 2, 23, 30), ("triangle", 1 / 3, 202, 283), ("duo-trio", 1 / 2, 228, 319)],
)
def test_servings_for_a_clear_difference(method, p0, at_80, at_90):
    """Smallest n with exact power ≥ 0.8 and ≥ 0.9 at d′ = 1, α = 0.05 one-sided; computed, after Ennis (1993),
    The power of sensory discrimination methods, Journal of Sensory Studies 8, 353–370.
    """
    p1 = percent_correct(1.0, method)
    assert servings_needed(p0, p1, 0.05, 0.8) == at_80
    assert servings_needed(p0, p1, 0.05, 0.9) == at_90
