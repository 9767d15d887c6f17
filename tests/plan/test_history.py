import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_kitchen import shelf

from pairing.learning.log import read_log
from pairing.model.recipes import Recipes
from pairing.plan import history
from pairing.plan.history import History


def past(rows):
    columns = ["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "reading", "strength", "liking", "stepped"]
    columns += ["taster"] * (len(rows[0]) > len(columns) if rows else 0)
    return History(read_log(shelf(), pd.DataFrame(rows, columns=columns)), shelf())


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
            ("d", "rice", None, 0.0, 1, np.nan, 2.0, "no"),
        ]
    )
    assert set(found) == {("oat", ("clove", "plum")), ("rice", ("plum",))}
    assert found.tries.tolist() == [0, 1, 2, -1]
    assert (found["oat", ("clove", "plum")].liking, found["rice", ("plum",)].liking) == (7.0, 5.0)
    assert found["oat", ("clove", "plum")].strengths["plum"] is None
    assert found.cups_with({"plum"}) == 3
    assert found.cups_with({"plum"}, base_id="oat") == 2
    assert found.cups_with({"plum", "clove"}) == 3, "one of them"
    assert found.cups_with({"plum"}, {"clove"}) == found.cups_with({"plum", "clove"}, {"plum", "clove"}) == 2
    assert found.cups_with({"plum"}, {"plum"}) == found.cups_with(set()) == 0
    assert [found.cups_with({"plum", "clove"}, base_id=b, scored=True) for b in ("oat", "rice")] == [1, 1]
    assert [found.cups_with(base_id="rice", scored=scored) for scored in (False, True)] == [2, 2], "plain, too"
    assert found.cups_with(base_id="oat", scored=True) == 1
    assert found.get(("whey", ("plum",))) is None


def test_an_empty_log_holds_nothing():
    found = past([])
    assert len(found) == 0
    assert found.trials == ()


def test_without_a_liking_the_mean_is_not_a_number():
    assert math.isnan(past([("a", "oat", "plum", 10.0, 1, 3, np.nan, "no")])["oat", ("plum",)].liking)


def test_everybody_who_tasted_a_cup_counts_by_their_last_word():
    found = past(
        [
            ("a", "oat", "plum", 20.0, 1, 3, 5.0, "no", "ana"),
            ("a", "oat", "plum", 20.0, 2, 3, 9.0, "no", "ana"),
            ("a", "oat", "plum", 20.0, 1, 3, 1.0, "no", "ben"),
            ("b", "oat", "plum", 20.0, 1, 3, 7.0, "no", "ana"),
        ]
    )
    key = "oat", ("plum",)
    assert (found[key].cups, found[key].liked, found[key].liking) == (2, 2, 6.0)
    assert found.liking(key, ("ana",)) == 8.0
    assert found.liking(key, ("ana", "ben")) == 6.0
    assert math.isnan(found.liking(key, ("new",)))


def test_a_cup_that_was_read_before_more_went_in_was_a_try_of_each():
    found = past(
        [
            ("a", "oat", "plum", 20.0, 1, 3, 8.0, "no"),
            ("a", "oat", "plum", 20.0, 2, 3, 4.0, "no"),
            ("a", "oat", "clove", 2.0, 2, 3, 4.0, "no"),
        ]
    )
    assert (found["oat", ("plum",)].cups, found["oat", ("plum",)].liking) == (1, 8.0)
    assert found["oat", ("clove", "plum")].liking == 4.0
    assert found.trials == (("a", ("oat", ("plum",))), ("a", ("oat", ("clove", "plum"))))
    assert found.tries.tolist() == [0, 1]
    assert found.cups_with({"plum"}) == 1


CUPS = st.lists(st.tuples(st.integers(0, 1), st.sets(st.integers(0, 2), max_size=3)), max_size=12)


@pytest.mark.parametrize("largest", [2**62, 20], ids=["at once", "a column at a time"])
@given(logged=CUPS, asked=CUPS)
def test_whether_recipes_were_tried_is_told_as_one_by_one(largest, logged, asked):
    bases, drops = list(shelf().bases), list(shelf().flavourings)
    rows = [
        (f"cup {n}", bases[b], drops[f], 1.0, 1, 3, 5.0, "no") for n, (b, inside) in enumerate(logged) for f in inside
    ]
    tried = {(bases[b], tuple(sorted(drops[f] for f in inside))) for b, inside in logged if inside}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(history, "_LARGEST", largest)
        found = past(rows)
        keys = [(bases[b], tuple(sorted(drops[f] for f in inside))) for b, inside in asked]
        held = found.held(Recipes.from_ids(shelf(), [base for base, _ in keys], [ids for _, ids in keys]))
    assert held.tolist() == [key in found for key in keys] == [key in tried for key in keys]
    assert set(found) == tried
    assert [found.get(key) for key in keys] == [past(rows).get(key) for key in keys], "whether all are listed or not"
