import math

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pairing.blind.agreement import friedman, friedman_of_rank_sums, judged_by_all, repeatability
from pairing.errors import LogError
from pairing.learning.log import read_log
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf


def test_w_is_the_statistic_over_its_greatest_value():
    rng = np.random.default_rng(0)
    for _ in range(20):
        scores = rng.integers(1, 6, (rng.integers(2, 9), rng.integers(3, 7)))
        found = friedman(scores)
        assert found.w == pytest.approx(found.statistic / (found.tasters * (found.cups - 1)))
        assert 0 <= found.w <= 1 + 1e-12
        assert found.statistic == pytest.approx(stats.friedmanchisquare(*scores.T).statistic)


def test_two_cups_are_enough_of_scores_and_of_rank_sums():
    scores = [[1, 2], [1, 2], [2, 1], [1, 2], [2, 1]]
    assert friedman_of_rank_sums([7, 8], tasters=5) == friedman(scores)


@pytest.mark.parametrize("scores", [[[1, 2, 3]], [[1], [2]], [[1, math.nan], [1, 2]]])
def test_gaps_and_single_rows_are_refused(scores):
    with pytest.raises(LogError, match="cannot be compared"):
        friedman(scores)


def test_all_tied_says_so():
    with pytest.raises(LogError, match="same score"):
        friedman([[5, 5], [3, 3]])


SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat"), Base(base_id="whey", name="Whey")],
    [Flavouring(flavouring_id="plum", name="Plum", label_dose_g_per_kg=1)],
)


def _log(rows):
    columns = ["trial_id", "taster", "reading", "base_id", "flavouring_id", "dose_g_per_kg", "liking"]
    return read_log(SHELF, pd.DataFrame(rows, columns=columns))


def test_repeatability_is_the_pooled_spread_within_recipes():
    rows = [
        ("t1", "ana", 1, "oat", "plum", 1.0, 3),
        ("t1", "ana", 2, "oat", "plum", 2.0, 7),
        ("t2", "ana", 1, "oat", "plum", 2.0, 5),
        ("t3", "ana", 1, "whey", "plum", 2.0, 6),
        ("t4", "ana", 1, "whey", "plum", 2.0, 6),
        ("t5", "ben", 1, "oat", "plum", 2.0, 2),
        ("t6", "ben", 1, "oat", "plum", 9.0, 9),
    ]
    found = repeatability(_log(rows)).set_index("taster")
    assert found.loc["ana", "cups"] == 4
    assert found.loc["ana", "recipes"] == 2
    assert found.loc["ana", "liking_sd"] == pytest.approx(1.0)
    assert found.loc["ana", "low"] < 1 < found.loc["ana", "high"]
    assert found.loc["ben", "cups"] == 0
    assert math.isnan(found.loc["ben", "liking_sd"])


def test_repeatability_finds_the_noise_of_simulated_tasters():
    rng = np.random.default_rng(1)
    rows = []
    for taster, sd in (("steady", 0.4), ("restless", 1.6)):
        for recipe in range(60):
            level = rng.normal(5, 1)
            for cup in range(2):
                trial = f"{taster}-{recipe}-{cup}"
                rows.append((trial, taster, 1, "oat", "plum", 1.0 + recipe, level + rng.normal(0, sd)))
    found = repeatability(_log(rows)).set_index("taster")["liking_sd"]
    assert found["steady"] == pytest.approx(0.4, rel=0.25)
    assert found["restless"] == pytest.approx(1.6, rel=0.25)


def test_agreement_over_recipes_that_all_have_judged():
    rows = []
    for i, taster in enumerate(("ana", "ben", "cyd")):
        for dose, liking in ((1.0, 4), (2.0, 7), (4.0, 2)):
            rows.append((f"{taster}-{dose}", taster, 1, "oat", "plum", dose, liking + 0.1 * i))
    rows.append(("extra", "ana", 1, "whey", "plum", 9.0, 9))
    found = judged_by_all(_log(rows))
    assert (found.tasters, found.cups) == (3, 3)
    assert found.w == pytest.approx(1)
    assert judged_by_all(_log(rows[:3])) is None


def test_amounts_count_as_doses():
    rows = [("t1", "oat", "plum", "1 g", 249.0, 6.0), ("t2", "oat", "plum", "1 g", 249.0, 8.0)]
    table = pd.DataFrame(rows, columns=["trial_id", "base_id", "flavouring_id", "amount", "base_g", "liking"])
    assert repeatability(read_log(SHELF, table))["liking_sd"].iloc[0] == pytest.approx(math.sqrt(2))
