import math

import pandas as pd
import pytest

from pairing.blind.penalty import penalties, penalty_table
from pairing.errors import LogError
from pairing.learning.log import read_log
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf


def test_not_detected_stands_outside_the_scale():
    found = penalties([0] * 5 + [1] * 5 + [3] * 5, [6] * 5 + [5] * 5 + [7] * 5)
    assert found.side("not detected").cups == 5
    assert found.side("too weak").share == 0.5
    assert found.side("not detected").share == pytest.approx(1 / 3)
    assert any("outside the scale" in note for note in found.notes)


def test_small_groups_are_flagged_and_have_no_interval_when_alone():
    found = penalties([2, 3, 3, 3, 3, 3], [4, 7, 7, 8, 7, 6])
    weak = found.side("too weak")
    assert weak.small
    assert math.isnan(weak.drop_low)
    assert any("only 1 cups" in note for note in found.notes)


def test_both_sides_large_is_a_conflict():
    found = penalties([2] * 6 + [3] * 6 + [4] * 6, [5] * 6 + [7] * 6 + [5] * 6)
    assert any("too weak and too strong in turn" in note for note in found.notes)


def test_interval_is_that_of_the_t_test():
    from scipy import stats

    weak, right = [4.0, 5, 6, 5, 3], [7.0, 8, 6, 7, 7, 6]
    found = penalties([2] * 5 + [3] * 6, weak + right).side("too weak")
    expected = stats.ttest_ind(right, weak).confidence_interval(0.95)
    assert (found.drop_low, found.drop_high) == pytest.approx((expected.low, expected.high))


def test_nothing_just_right_has_nothing_to_compare_with():
    with pytest.raises(LogError, match="none of 2 cups was just right"):
        penalties([2, 4], [5, 5])
    with pytest.raises(LogError, match="do not match"):
        penalties([3], [5, 5])


def test_missing_cells_are_left_out():
    found = penalties([3, 3, None, 2], [7, 7, 1, None])
    assert [group.cups for group in found.groups] == [2]


def test_table_takes_last_readings_of_cups_with_one_flavouring():
    rows = [
        ("t1", "me", 1, "oat", "plum", 1.0, 2, 4),
        ("t1", "me", 2, "oat", "plum", 2.0, 3, 7),
        ("t2", "me", 1, "oat", "plum", 1.0, 2, 5),
        ("t3", "me", 1, "oat", "plum", 1.0, 2, 1),
        ("t3", "me", 1, "oat", "clove", 1.0, 3, 1),
        ("t4", "me", 1, "oat", "clove", 1.0, 2, 5),
    ]
    columns = ["trial_id", "taster", "reading", "base_id", "flavouring_id", "dose_g_per_kg", "strength", "liking"]
    shelf = Shelf.of(
        [Base(base_id="oat", name="Oat")],
        [Flavouring(flavouring_id=f, name=f, label_dose_g_per_kg=1) for f in ("plum", "clove")],
    )
    table = penalty_table(read_log(shelf, pd.DataFrame(rows, columns=columns)), shelf)
    assert table["flavouring_id"].unique().tolist() == ["plum"]
    assert table.set_index("side")["cups"].to_dict() == {"too weak": 1, "just right": 1}
    assert table.set_index("side").loc["too weak", "drop"] == 2
