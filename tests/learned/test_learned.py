"""The model that a person asks: names, order, repeatability, and that asking changes nothing."""

import math
import pickle
import re

import numpy as np
import pandas as pd
import pytest
from simulated import make_palate
from small_logs import BASES, FLAVOURINGS, cup, learn, table

import pairing
from pairing import Recipe
from pairing.errors import PairingError, TableError, UnknownIdError


@pytest.fixture(scope="module")
def kitchen():
    palate = make_palate(71, 4, 12, 2)
    log = palate.log(150, np.random.default_rng(71))
    return palate, log, learn(log, bases=palate.bases_df, flavourings=palate.flavourings_df)


def recipes(palate):
    return [Recipe(b, dict.fromkeys(ids)) for b, ids in palate.combinations(2)]


def test_the_same_log_and_seed_give_the_same_answers(kitchen):
    palate, log, model = kitchen
    again = learn(log, bases=palate.bases_df, flavourings=palate.flavourings_df)
    pd.testing.assert_frame_equal(model.predict(recipes(palate)), again.predict(recipes(palate)))
    pd.testing.assert_frame_equal(model.needed_dose(), again.needed_dose())


def test_documentation_names_every_column_of_the_tables(kitchen):
    model = kitchen[-1]
    for ask in (model.synergy, model.singles, model.affinity, model.base_factor, model.needed_dose):
        named = set(re.findall(r"\w+", ask.__doc__))
        assert set(ask().columns) <= named, ask.__name__


def test_asking_changes_nothing(kitchen):
    palate, log, model = kitchen
    before, given = model.predict(recipes(palate)), log.copy()
    model.needed_dose()
    model.synergy()
    model.explain(recipes(palate)[3])
    model.suggest(n=2, random_state=0)
    model.predict(recipes(palate)[:2], "new")
    pd.testing.assert_frame_equal(before, model.predict(recipes(palate)))
    pd.testing.assert_frame_equal(given, log)


def test_tables_handed_over_are_left_as_they_are():
    bases, flavourings, readings = BASES.copy(), FLAVOURINGS.copy(), table(cup("oat", {"quince": 2.0}, 3, 7))
    kept = bases.copy(), flavourings.copy(), readings.copy()
    pairing.learn(bases, flavourings, readings)
    for one, two in zip(kept, (bases, flavourings, readings), strict=True):
        pd.testing.assert_frame_equal(one, two)


def test_the_truth_is_ranked_well(kitchen):
    palate, _, model = kitchen
    asked = recipes(palate)
    truth = palate.true_likings(asked)
    assert np.corrcoef(truth, model.predict(asked)["liking"])[0, 1] > 0.6


def test_the_mean_of_tasters_is_that_of_their_answers(kitchen):
    palate, _, model = kitchen
    asked = [(b, tuple(ids)) for b, ids in palate.combinations(2)[:40]]
    bases, ids = [b for b, _ in asked], [i for _, i in asked]
    mean = model.response.predict_encoded(model.response.encode(bases, ids))[0]
    each = [model.response.predict_encoded(model.response.encode(bases, ids, None, t))[0] for t in palate.tasters]
    np.testing.assert_allclose(mean, np.mean(each, axis=0), atol=1e-9)


def test_a_dose_of_none_is_the_best_one(kitchen):
    palate, _, model = kitchen
    base_id, ids = palate.combinations(1)[5]
    best = model.predict([Recipe(base_id, {ids[0]: None})])["liking"][0]
    right = float(model.needed_dose([base_id], ids)["dose_g_per_kg"].iloc[0])
    stated = model.predict([Recipe(base_id, {ids[0]: right * k}) for k in (0.3, 0.6, 1.0, 1.6, 3.0)])["liking"]
    assert (stated < best).all()
    assert stated.idxmax() == 2


@pytest.mark.parametrize("recipe", [Recipe("nowhere", {"quince": None}), Recipe("oat", {"quinze": None})])
def test_what_is_not_on_the_shelf_is_refused(recipe):
    model = learn(cup("oat", {"quince": 2.0}, 3, 7))
    with pytest.raises(UnknownIdError):
        model.predict([recipe])
    with pytest.raises(UnknownIdError):
        model.explain(recipe)


def test_one_recipe_need_not_be_a_list():
    model = learn(cup("oat", {"quince": 2.0}, 3, 7))
    one = Recipe("oat", {"quince": 2.0})
    pd.testing.assert_frame_equal(model.predict(one), model.predict([one]))


@pytest.mark.parametrize("asked", ["oat", ["oat"], 3, [None]])
def test_what_is_no_recipe_is_refused(asked):
    with pytest.raises(TableError, match="is no recipe"):
        learn(cup("oat", {"quince": 2.0}, 3, 7)).predict(asked)


def test_a_taster_is_found_by_number_and_with_blanks_around():
    cups = [cup("oat", {"quince": 2.0}, 3, liking, taster=who) for who, liking in (("1", 9), ("ana", 2))] * 4
    model, one = learn(*cups), [Recipe("oat", {"quince": 2.0})]
    for given, kept in ((1, "1"), ([1], "1"), (" ana ", "ana")):
        pd.testing.assert_frame_equal(model.predict(one, given), model.predict(one, kept))
    assert model.predict(one, 1)["liking"][0] > model.predict(one, "new")["liking"][0]


@pytest.mark.parametrize("empty", [[None], [math.nan], [pd.NA], [""]])
def test_an_empty_taster_is_not_taken_for_a_guest(empty):
    with pytest.raises(TableError, match="taster is empty"):
        learn(cup("oat", {"quince": 2.0}, 3, 7)).predict([Recipe("oat")], empty)


def test_as_many_tasters_as_recipes():
    model = learn(cup("oat", {"quince": 2.0}, 3, 7))
    with pytest.raises(TableError, match="2 tasters for 1"):
        model.predict([Recipe("oat", {})], ["me", "you"])


def test_no_recipes_no_rows():
    found = learn(cup("oat", {"quince": 2.0}, 3, 7)).predict([])
    assert found.empty
    assert list(found.columns) == ["liking", "liking_sd", "liking_low", "liking_high"]


def test_bad_rows_raise_and_name_the_row():
    bad = table(cup("oat", {"quince": 2.0}, 3, 7), cup("oat", {"quince": 2.0}, 3, 12))
    with pytest.raises(PairingError, match=r"readings row 1.*12"):
        pairing.learn(BASES, FLAVOURINGS, bad)


def test_one_more_cup_changes_answers_a_little_and_in_its_direction():
    cups = [cup("oat", {"quince": 2.0}, 3, 6), cup("oat", {"rose": 4.0}, 3, 5), cup("milk", {"quince": 2.0}, 3, 6)] * 5
    asked = [Recipe("oat", {"quince": None}), Recipe("milk", {"rose": None})]
    before, after = (learn(*c).predict(asked)["liking"] for c in (cups, [*cups, cup("oat", {"quince": 2.0}, 3, 9)]))
    assert 0.02 < after[0] - before[0] < 1.0
    assert after[0] - before[0] > abs(after[1] - before[1])


def test_a_model_can_be_sent_to_another_process(kitchen):
    palate, _, model = kitchen
    again = pickle.loads(pickle.dumps(model))
    pd.testing.assert_frame_equal(model.predict(recipes(palate)[:5]), again.predict(recipes(palate)[:5]))
