"""Readings as arrays: what belongs to one reading, in which order, at which dose."""

import numpy as np
import pandas as pd
import pytest
from small_logs import BASES, FLAVOURINGS, cup, table

from pairing.errors import TableError, UnknownIdError
from pairing.learning.log import read_log
from pairing.model.shelf import Shelf
from pairing.store.exchange import clean


@pytest.fixture
def shelf():
    return Shelf.from_tables(clean("bases", BASES).table, clean("flavourings", FLAVOURINGS).table)


def read(shelf, *cups):
    return read_log(shelf, clean("readings", table(*cups), on_bad="raise").table)


def test_rows_of_one_cup_and_moment_are_one_reading(shelf):
    log = read(shelf, cup("milk", {"quince": 2.0, "rose": 1.0}, {"quince": 3, "rose": 2}, liking=7), cup("oat", {}))
    assert len(log) == 2
    assert log.recipes.count.tolist() == [2, 0]
    assert log.recipes.base.tolist() == [1, 0]
    assert log.recipes.flavouring[0].tolist() == [0, 3]
    np.testing.assert_allclose(np.exp(log.recipes.log_dose[0]), [2.0, 1.0])
    assert log.strength[0].tolist() == [3, 2]
    assert log.liking[0] == 7
    assert np.isnan(log.liking[1])


def test_where_nobody_noted_an_evening_or_a_target_there_is_none(shelf):
    rows = table(cup("oat", {"quince": 1.0}), cup("oat", {"rose": 1.0}))
    for noted in (rows, rows[["trial_id", "base_id", "flavouring_id", "dose_g_per_kg"]]):
        log = read_log(shelf, noted)
        assert log.session.tolist() == log.target.tolist() == [-1, -1]
        assert log.sessions == log.targets == ()
        assert log.taster.tolist() == [0, 0]


def test_two_tasters_of_a_cup_are_two_readings_of_one_cup(shelf):
    one = cup("oat", {"quince": 1.0}, 3, liking=8, taster="ana", trial_id="x")
    two = cup("oat", {"quince": 1.0}, 2, liking=4, taster="ben", trial_id="x")
    log = read(shelf, one, two)
    assert log.tasters == ("ana", "ben")
    assert log.taster.tolist() == [0, 1]
    assert log.cup.tolist() == [0, 0]
    assert log.liking.tolist() == [8, 4]


def test_a_flavouring_at_dose_zero_is_not_in_the_cup(shelf):
    log = read(shelf, cup("oat", {"quince": 1.0, "rose": 0.0}, {"quince": 3, "rose": 0}))
    assert log.recipes.count.tolist() == [1]


def test_readings_are_numbered_by_appearance_and_later_ones_are_stepped(shelf):
    steps = [cup("oat", {"quince": d}, s, trial_id="x") for d, s in ((1.0, 1), (1.4, 2), (2.0, 3))]
    log = read(shelf, *steps, cup("oat", {"quince": 2.0}, 3))
    assert len(log) == 4
    assert log.stepped.tolist() == [False, True, True, False]


def test_what_the_log_says_of_stepped_goes_before_what_is_derived(shelf):
    steps = [cup("oat", {"quince": d}, 2, trial_id="x", stepped="no") for d in (1.0, 2.0)]
    assert not read(shelf, *steps).stepped.any()


def test_time_is_taken_from_the_log_where_every_reading_has_one(shelf):
    late = cup("oat", {"quince": 1.0}, 3, tasted_at="2024-05-02T10:00:00")
    early = cup("oat", {"rose": 1.0}, 3, tasted_at="2024-05-01T10:00:00")
    assert read(shelf, late, early).order.tolist() == [1, 0]
    untimed = cup("oat", {"smoke": 1.0}, 3, tasted_at=None)
    assert read(shelf, late, early, untimed).order.tolist() == [0, 1, 2]


def test_amounts_become_doses_of_the_finished_drink(shelf):
    readings = pd.DataFrame(
        {
            "trial_id": ["a", "a"],
            "base_id": "oat",
            "flavouring_id": ["quince", "rose"],
            "amount": ["1 g", "3 g"],
            "base_g": 196.0,
            "strength": [3, 3],
        }
    )
    log = read_log(shelf, clean("readings", readings, on_bad="raise").table)
    np.testing.assert_allclose(np.exp(log.recipes.log_dose[0]), [5.0, 15.0])


def _doses(shelf, **columns):
    readings = pd.DataFrame({"trial_id": "a", "base_id": "oat", "strength": 3, **columns})
    return np.exp(read_log(shelf, clean("readings", readings, on_bad="raise").table).recipes.log_dose[0])


def test_where_only_volumes_are_known_they_are_compared_as_they_are(shelf):
    both = _doses(shelf, flavouring_id=["quince"], amount="4 ml", base_ml=396.0)
    np.testing.assert_allclose(both, [10.0])
    weighed = _doses(shelf, flavouring_id=["quince"], amount="4 g", base_ml=396.0)
    np.testing.assert_allclose(weighed, [4000 / (396 * 1.03 + 4)])


def test_a_companion_given_as_a_dose_is_part_of_the_finished_drink(shelf):
    found = _doses(
        shelf, flavouring_id=["quince", "rose"], dose_g_per_kg=[200.0, np.nan], amount=[None, "10 g"], base_g=310.0
    )
    np.testing.assert_allclose(found, [200.0, 25.0])  # (310 + 10) g are 80 % of 400 g


def test_uncalibrated_drops_are_noted(shelf):
    readings = pd.DataFrame(
        {"trial_id": ["a"], "base_id": "oat", "flavouring_id": "quince", "amount": "5 drops", "base_g": 200.0}
    )
    assert "quince" in read_log(shelf, clean("readings", readings, on_bad="raise").table).notes[0]


def test_a_reading_of_something_unknown_is_refused_with_the_nearest_name(shelf):
    unknown = table(cup("oats", {"quince": 1.0}, 3))
    with pytest.raises(UnknownIdError, match=r"oats.*oat"):
        read_log(shelf, unknown)


def test_a_row_without_a_dose_is_refused(shelf):
    rows = table(cup("oat", {"quince": 1.0}, 3), cup("oat", {"quince": float("nan")}, 3))
    with pytest.raises(TableError, match=r"row 2 .*dose_g_per_kg"):
        read_log(shelf, rows)


def test_taking_readings_keeps_their_names(shelf):
    log = read(shelf, cup("oat", {"quince": 1.0}, 3, taster="ana"), cup("milk", {"rose": 1.0}, 3, taster="ben"))
    part = log.take(np.array([1]))
    assert part.tasters == log.tasters
    assert part.taster.tolist() == [1]
    assert part.recipes.base.tolist() == [1]
