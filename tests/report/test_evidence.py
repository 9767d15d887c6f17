import math

import pandas as pd
import pytest

from pairing.learning.log import read_log
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.report.evidence import evidence, how_sure

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat"), Base(base_id="whey", name="Whey")],
    [Flavouring(flavouring_id=f, name=f, label_dose_g_per_kg=1) for f in ("plum", "clove")],
)
COLUMNS = ["trial_id", "taster", "reading", "base_id", "flavouring_id", "dose_g_per_kg", "liking", "blind"]


def _log(*rows):
    return read_log(SHELF, pd.DataFrame(rows, columns=COLUMNS))


LOG = _log(
    ("t1", "ana", 1, "oat", "plum", 0.5, 3, "sighted"),
    ("t1", "ana", 2, "oat", "plum", 1.0, 7, "sighted"),
    ("t2", "ben", 1, "oat", "plum", 1.1, 9, "coded"),
    ("t3", "ben", 1, "oat", "plum", 2.0, 1, "coded"),
    ("t4", "ben", 1, "whey", "plum", 1.0, 1, "coded"),
    ("t5", "ben", 1, "oat", "plum", 1.0, 1, "coded"),
    ("t5", "ben", 1, "oat", "clove", 1.0, 1, "coded"),
    ("t6", "ana", 1, "oat", None, 0.0, 5, "sighted"),
)


def test_only_last_readings_of_the_same_cup_count():
    found = evidence(Recipe("oat", {"plum": 1.0}), LOG, SHELF)
    assert (found.cups, found.tasters, found.judgements, found.coded) == (2, 2, 2, 1)
    assert found.liking == 8
    assert found.liking_se == pytest.approx(1.0)
    assert found.sentences[0].startswith("liked 8.0 ± 1.0 (standard error) over 2 cups by 2 tasters")
    assert found.sentences[1] == "1 of 2 tasted under codes, 2 tasters"


def test_an_open_dose_takes_cups_at_any_dose():
    assert evidence(Recipe("oat", {"plum": None}), LOG, SHELF).cups == 3


def test_a_plain_cup_is_a_recipe_too():
    found = evidence(Recipe("oat"), LOG, SHELF)
    assert found.cups == 1
    assert math.isnan(found.liking_se)
    assert found.sentences[1].startswith("sighted, one taster: as much hoped for as found")


def test_what_was_not_tasted_is_said_to_be_expected():
    found = evidence(Recipe("whey", {"clove": 1.0}), LOG, SHELF)
    assert found.cups == 0
    assert found.sentences == (
        "no cup at these doses has been tasted: what is said of its liking is expected, not found",
    )


def test_blind_checks_are_counted():
    rows = [
        ("c1", i, "prefer", "oat|plum=1.05", "oat|", "left" if i <= 14 else "right", "ana", None) for i in range(1, 19)
    ]
    names = ["check_id", "serving", "question", "left", "right", "answer", "taster", "served_at"]
    found = evidence(Recipe("oat", {"plum": 1.0}), LOG, SHELF, pd.DataFrame(rows, columns=names))
    assert found.checks == (
        "blind check c1: is preferred to oat| in 14 of 18 (p = 0.031, two-sided, as for a fixed number of servings)",
    )
    assert found.checks[0] in found.sentences


def test_a_trial_stands_for_its_last_moment():
    rows = [("c1", i, "stronger", "t1", "t3", "right", "ana", None) for i in range(1, 6)]
    names = ["check_id", "serving", "question", "left", "right", "answer", "taster", "served_at"]
    found = evidence(Recipe("oat", {"plum": 2.0}), LOG, SHELF, pd.DataFrame(rows, columns=names))
    assert found.checks[0].startswith("blind check c1: tastes stronger than oat|plum=1.0 in 5 of 5")


@pytest.mark.parametrize(
    ("tasters", "judgements", "coded", "word"),
    [(1, 3, 0, "hoped for"), (2, 3, 0, "no blind check yet"), (1, 3, 3, "under codes"), (0, 0, 0, "not tasted")],
)
def test_labels(tasters, judgements, coded, word):
    assert word in how_sure(tasters, judgements, coded)
