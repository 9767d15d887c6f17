"""How cups were served, as columns for rules: from the log, and from the brief when planning."""

import pickle
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from small_logs import cup, learn

from pairing.api import Base, Flavouring, Rule, spline
from pairing.errors import BriefError
from pairing.host.rules import hosted_rule
from pairing.host.scoring import features
from pairing.host.tables import addition_table_of, recipe_table_of
from pairing.learned.packed import pack_log, read_log
from pairing.learned.stored import pack, unpack
from pairing.learning.log import read_log as log_of
from pairing.model.brief import Brief
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.model.served import Served
from pairing.model.shelf import Shelf
from pairing.model.tables import backwards

POINTS = (5.0, 35.0, 65.0)


def curve(**more):
    return Rule(
        id="lab:warm",
        summary="How warm it is",
        source="invented",
        acts_on="liking",
        parts=POINTS,
        along="°C",
        prior_sd=1.5,
        needs=("temperature_c",),
        feature=lambda table: spline(table.temperature_c, POINTS),
        because=lambda recipe: "how warm it is",
        **more,
    )


@pytest.fixture(scope="module")
def model():
    """Cups that are liked warm: 7 at 65 °C, 4 in the fridge."""
    rng = np.random.default_rng(1)
    cups = []
    for i in range(120):
        degrees = float(rng.choice([5, 35, 65]))
        liking = float(np.clip(4 + degrees / 20 + rng.normal(0, 0.4), 1, 9))
        flavouring = str(rng.choice(["quince", "rose", "clove"]))
        cups.append(cup("oat", {flavouring: 2.0}, 3, liking, trial_id=f"t{i:03d}", temperature_c=degrees))
    return learn(*cups, rules=[curve()])


def test_a_curve_along_the_temperature_is_learned(model):
    found = model.rule_curves().set_index("at")["learned_mean"]
    assert found[65.0] > found[35.0] > found[5.0]
    assert found[65.0] - found[5.0] > 0.8


def test_a_brief_says_how_warm_it_will_be_and_else_it_is_not_known(model):
    liking = {
        degrees: model.suggest(Brief(must_have="quince", temperature_c=degrees), n=1)[0].liking
        for degrees in (None, 5.0, 65.0)
    }
    assert liking[65.0] > liking[5.0] + 0.5
    assert liking[None] != liking[65.0]
    assert any("temperature_c is unknown" in fault.error for fault in model.faults)


@pytest.mark.parametrize("degrees", [-40, 140, "warm"])
def test_a_temperature_that_nobody_drinks_is_refused(degrees):
    with pytest.raises(BriefError, match="temperature_c"):
        Brief(temperature_c=degrees)


def test_how_cups_were_served_is_kept(model):
    again = unpack(pack(model), model.shelf, model.log, rules=[curve()])
    assert again is not None
    log = read_log(pack_log(model.log))
    np.testing.assert_array_equal(log.recipes.served.temperature_c, model.log.recipes.served.temperature_c)
    assert log.recipes.served.mixing.tolist() == [None] * len(log)
    plain = learn(cup("oat", {"quince": 2.0}, 3, 5))
    assert plain.log.recipes.served is None
    assert read_log(pack_log(plain.log)).recipes.served is None


def test_the_columns_of_a_table():
    model = learn(
        cup("oat", {"quince": 2.0}, 3, 5, temperature_c=8.0, mixing="Hand blender, 20 s", minutes_since_addition=3),
        cup("oat", {"rose": 2.0}, 3, 5),
    )
    table = recipe_table_of(model.shelf, model.log.recipes)
    np.testing.assert_array_equal(table.temperature_c, [8.0, np.nan])
    np.testing.assert_array_equal(table["minutes_since_addition"], [3.0, np.nan])
    assert table.known("temperature_c").tolist() == [True, False]
    assert table.unknown_ids("temperature_c") == ()
    assert table.mixed("blender").tolist() == [True, False]
    other, rows = backwards(table, 16)
    assert other.mixed("blender").tolist() == table.mixed("blender")[rows].tolist()
    with pytest.raises(ValueError, match="read-only"):
        table.temperature_c[0] = 1


def test_the_age_of_the_oldest_bottle_in_the_cup():
    shelf = Shelf.of(
        [Base(base_id="oat", name="Oat")],
        [Flavouring(flavouring_id=f, name=f) for f in ("quince", "rose")],
        opened={("quince", "A"): "2026-03-01", ("rose", "A"): "2026-02-20T12:00:00+02:00"},
    )
    bottles = [
        ("a", "quince", "A"),
        ("a", "rose", "A"),
        ("b", "quince", "A"),
        ("c", "quince", "B"),
        ("d", "quince", "A"),
    ]
    rows = pd.DataFrame(bottles, columns=["trial_id", "flavouring_id", "lot"])
    tasted = {"a": "2026-03-02T10:00:00Z", "b": "2026-03-01", "c": "2026-03-02", "d": "2026-02-01"}
    log = log_of(shelf, rows.assign(base_id="oat", dose_g_per_kg=1.0, liking=6, tasted_at=rows["trial_id"].map(tasted)))
    np.testing.assert_allclose(recipe_table_of(shelf, log.recipes)["lot_age_days"], [10.0, 0.0, np.nan, np.nan])
    assert recipe_table_of(shelf, log.recipes).known("lot_age_days").tolist() == [True, True, False, False]
    assert pickle.loads(pickle.dumps(shelf)) == shelf
    again = read_log(pack_log(log)).recipes.served.lot_age_days
    np.testing.assert_array_equal(again, log.recipes.served.lot_age_days)


def test_an_additions_own_dose_is_known_where_given_and_else_the_labels():
    shelf = Shelf.of(
        [Base(base_id="oat", name="Oat")],
        [
            Flavouring(flavouring_id="rose", name="Rose", label_dose="2 g/kg"),
            Flavouring(flavouring_id="bay", name="Bay"),
        ],
    )
    recipes = [Recipe("oat", {"rose": 5.0}), Recipe("oat", {"rose": None, "bay": None})]
    table = addition_table_of(shelf, Recipes.of(shelf, recipes))
    np.testing.assert_allclose(table["dose_g_per_kg"], [5.0, np.nan, 2 / 1.002])  # of the base is not of the drink
    assert table.known("dose_g_per_kg").tolist() == [True, False, True]
    assert table.unknown_ids("dose_g_per_kg") == ("bay",)
    rule = replace(curve(), acts_on="dose", parts=(), needs=("dose_g_per_kg",), feature=lambda t: t.dose_g_per_kg / 10)
    matrix, notes = features([hosted_rule("lab", replace(rule, id="own"))], table)
    np.testing.assert_allclose(matrix[:, 0], [0.5, 0.0, 0.2 / 1.002])
    assert [note.ids for note in notes] == [("bay",)]


def test_cups_of_which_something_is_known_stand_below_others():
    known = Recipes.at([0, 0], np.zeros((2, 1))).at_temperature(60.0)
    stacked = Recipes.stack([Recipes.at([0], np.zeros((1, 2))), known])
    np.testing.assert_array_equal(stacked.served.temperature_c, [np.nan, 60, 60])
    assert stacked.take([1]).open().served.temperature_c.tolist() == [60.0]
    assert Served.stack([(1, None), (2, None)]) is None


def test_doses_of_companions_are_known_where_given_and_else_the_labels():
    model = learn()
    recipe = Recipe("oat", {"quince": 2.0, "rose": None, "clove": 0.5})
    table = addition_table_of(model.shelf, Recipes.of(model.shelf, [recipe]))
    label = model.shelf.flavouring("rose").label_dose_g_per_kg
    want = [[np.nan, 2.0, label], [0.5, np.nan, label], [0.5, 2.0, np.nan]]  # clove, quince, rose
    np.testing.assert_allclose(table.companion_dose_g_per_kg, want)
    stronger = Rule(
        id="lab:masks",
        summary="What stands beside masks by its dose",
        source="invented",
        acts_on="dose",
        prior_mean=1.0,
        prior_sd=0.05,
        feature=lambda t: np.clip(np.nansum(t.companion_dose_g_per_kg, axis=1) / 10, 0, 1),
        because=lambda recipe: "much beside it",
    )
    matrix, faults = features([stronger], table)
    np.testing.assert_allclose(matrix[:, 0], np.nansum(want, axis=1) / 10)
    assert faults == ()
    rules = learn(rules=[stronger])
    recipes = Recipes.of(rules.shelf, [Recipe("oat", {"quince": 2.0, "rose": dose}) for dose in (0.5, 5.0)])
    needed = np.exp(rules.strength.needed(recipes)[0][:, 0])
    assert needed[1] > 1.3 * needed[0], "the same flavouring needs more beside more of another"
    assert isinstance(rules.needed_dose(), pd.DataFrame)
