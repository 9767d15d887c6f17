"""Rules with several features that share one prior: curves."""

import numpy as np
import pytest
from small_logs import cup, learn

from pairing.api import Recipe, Rule, bins, spline
from pairing.host.rules import hosted_rule
from pairing.host.scoring import features
from pairing.host.tables import recipe_table_of
from pairing.learned.stored import pack, unpack
from pairing.model.recipes import Recipes

POINTS = (0.0, 2.0, 4.0, 8.0)


def curve(parts=POINTS, feature=None, **more):
    about = {"summary": "How much is in the cup", "source": "invented", "because": lambda recipe: "its dose"}
    return Rule(
        id="lab:dose",
        acts_on="liking",
        parts=parts,
        along="g/kg of all flavourings",
        feature=feature or (lambda table: spline(table.dose_g_per_kg.sum(axis=1), parts)),
        **{"prior_mean": 0.0, "prior_sd": 1.5, "needs": ("dose_g_per_kg",), **about, **more},
    )


def truth(dose):
    """Most liked at 4 g/kg: what the curve should find."""
    return 6.0 - 0.8 * abs(dose - 4.0)


@pytest.fixture(scope="module")
def cups():
    rng = np.random.default_rng(3)
    doses = rng.choice([0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0], 240)
    flavourings = rng.choice(["quince", "rose", "clove", "smoke"], 240)
    return [
        cup("oat", {f: float(d)}, 3, float(np.clip(truth(d) + rng.normal(0, 0.5), 1, 9)), trial_id=f"t{i:03d}")
        for i, (f, d) in enumerate(zip(flavourings, doses, strict=True))
    ]


def test_a_spline_is_one_at_its_own_point_and_adds_up_to_one():
    x = np.linspace(-1, 9, 101)
    rows = spline(x, POINTS)
    assert rows.shape == (101, 4)
    np.testing.assert_allclose(rows.sum(axis=1), 1)
    np.testing.assert_allclose(spline(POINTS, POINTS), np.eye(4))
    np.testing.assert_allclose(rows @ np.array(POINTS), np.clip(x, 0, 8), err_msg="straight between the points")
    assert np.isnan(spline([np.nan], POINTS)).all()


def test_bins_hold_every_value_once():
    rows = bins([-1, 0, 0.9, 1, 5, 99, np.nan], (0, 1, 5))
    assert rows[:-1].sum(axis=1).tolist() == [1] * 6
    assert rows[:, 0].tolist()[:3] == [1, 1, 1]
    assert np.isnan(rows[-1]).all()


def test_a_curve_is_learned_from_cups_and_handed_out_for_drawing(cups):
    model = learn(*cups, rules=[curve()])
    found = model.rule_curves()
    assert found["at"].tolist() == list(POINTS)
    assert set(found["along"]) == {"g/kg of all flavourings"}
    learned = found["learned_mean"].to_numpy()
    assert learned[2] > max(learned[0], learned[3]) + 1.0, "the top is at 4 g/kg"
    assert (found["learned_sd"] < found["prior_sd"]).all()
    assert (found["low"] < found["learned_mean"]).all()
    assert model.rule_weights().empty


def test_without_cups_a_curve_is_its_prior():
    found = learn(rules=[curve(prior_mean=0.3)]).rule_curves()
    assert found["learned_mean"].tolist() == [0.3] * 4
    assert found["learned_sd"].tolist() == [1.5] * 4


def test_a_curve_speaks_as_one_part_and_is_kept(cups):
    model = learn(*cups[:60], rules=[curve()])
    recipe = Recipe("oat", {"quince": 3.0})
    told = model.explain(recipe)
    assert (told["kind"] == "rule").sum() == 1
    assert told["points"].sum() == pytest.approx(model.predict([recipe])["liking"].iloc[0])
    again = unpack(pack(model), model.shelf, model.log, rules=[curve()])
    assert again.rule_curves()["learned_mean"].tolist() == model.rule_curves()["learned_mean"].tolist()


def test_names_have_a_weight_each(cups):
    parts = ("little", "much")
    steps = curve(parts, lambda table: bins(table.dose_g_per_kg.sum(axis=1), (0, 3, 99)))
    found = learn(*cups, rules=[steps]).rule_curves()
    assert found["part"].tolist() == ["little", "much"]
    assert found["at"].isna().all()


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        ((1.0,), "allowed are 2 to 50"),
        ((1.0, 1.0), "that differ"),
        ((2.0, 1.0), "have to ascend"),
        ((1.0, "much"), "without names"),
        ("ab", "a tuple of numbers or of names"),
        (tuple(range(60)), "allowed are 2 to 50"),
    ],
)
def test_parts_are_checked(parts, told):
    with pytest.raises(ValueError, match=told):
        hosted_rule("lab", curve(parts, lambda table: table))


@pytest.mark.parametrize("shape", [np.zeros, lambda n: np.zeros((n, 3)), lambda n: np.zeros((n, 4)) + 2])
def test_a_curve_of_another_shape_or_out_of_range_is_off(shape):
    model = learn()
    table = recipe_table_of(model.shelf, Recipes.of(model.shelf, [Recipe("oat", {"quince": 2.0})]))
    matrix, (fault,) = features([curve(feature=lambda t: shape(len(t)))], table)
    assert matrix.tolist() == [[0, 0, 0, 0]]
    assert "(1, 4)" in fault.line or "allowed is -1 to 1" in fault.line
