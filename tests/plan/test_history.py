import math

import numpy as np
import pandas as pd
import pytest
from plan_kitchen import shelf

from pairing.learning.log import read_log
from pairing.plan.history import tried_combinations


def past(rows):
    columns = ["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "reading", "strength", "liking", "stepped"]
    return tried_combinations(read_log(shelf(), pd.DataFrame(rows, columns=columns)), shelf())


def test_a_trial_counts_by_its_last_reading_and_its_last_liking():
    found = past(
        [
            ("a", "oat", "plum", 10.0, 1, 1, np.nan, "no"),
            ("a", "oat", "plum", 20.0, 2, 3, 7.0, "yes"),
            ("b", "oat", "plum", 25.0, 1, 4, 6.0, "no"),
            ("c", "oat", "plum", 26.0, 1, 3, np.nan, "no"),
        ]
    )
    one = found["oat", ("plum",)]
    assert (one.cups, one.liked, one.poured) == (3, 2, 2)
    assert one.liking == pytest.approx(6.5)
    assert one.doses == {"plum": pytest.approx(26.0)}
    assert one.strengths == {"plum": 3}
    assert [trial for trial, _ in found.trials] == ["a", "b", "c"]


def test_combinations_do_not_depend_on_the_order_of_their_rows():
    found = past(
        [
            ("a", "oat", "plum", 10.0, 1, 3, 7.0, "no"),
            ("a", "oat", "clove", 2.0, 1, 3, 7.0, "no"),
            ("b", "oat", "clove", 2.0, 1, np.nan, np.nan, "no"),
            ("b", "oat", "plum", 10.0, 1, np.nan, np.nan, "no"),
            ("c", "rice", "plum", 10.0, 1, 3, 5.0, "no"),
            ("d", "rice", None, 0.0, 1, np.nan, 5.0, "no"),
        ]
    )
    assert set(found) == {("oat", ("clove", "plum")), ("rice", ("plum",))}
    assert found["oat", ("clove", "plum")].strengths["plum"] is None
    assert found.cups_with({"plum"}) == 3
    assert found.cups_with({"plum"}, "oat") == 2
    assert found.cups_with({"plum", "clove"}) == 2
    assert found.get(("whey", ("plum",))) is None


def test_an_empty_log_holds_nothing():
    found = past([])
    assert len(found) == 0
    assert found.trials == ()


def test_without_a_liking_the_mean_is_not_a_number():
    assert math.isnan(past([("a", "oat", "plum", 10.0, 1, 3, np.nan, "no")])["oat", ("plum",)].liking)
