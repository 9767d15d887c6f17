import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import QuantityError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.report.scaling import scale

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat drink", density_g_per_ml=1.02, serving_g=240), Base(base_id="tea", name="Tea")],
    [
        Flavouring(flavouring_id="plum", name="Plum drops", form="drops", drop_mg=36.0, food_use="yes"),
        Flavouring(flavouring_id="date", name="Date syrup", form="syrup", density_g_per_ml=1.3, food_use="yes"),
        Flavouring(flavouring_id="cocoa", name="Cocoa", form="powder", food_use="yes"),
        Flavouring(flavouring_id="mint", name="Mint drops", form="drops", carrier="propylene glycol", food_use="yes"),
    ],
)
RECIPE = Recipe("oat", {"plum": 1.5, "date": 20.0})


def test_one_cup_counts_drops_and_says_what_rounding_does():
    batch = scale(RECIPE, SHELF)
    plum = next(line for line in batch.lines if line.flavouring_id == "plum")
    assert batch.base_g == 240
    assert batch.finished_g == pytest.approx(240 / (1 - 0.0215))
    assert plum.by == "drops"
    assert plum.exact_g == pytest.approx(batch.finished_g * 0.0015)
    assert plum.drops == round(plum.exact_g / 0.036) == 10
    assert plum.error_pct == pytest.approx(100 * (10 * 0.036 / plum.exact_g - 1))


def test_from_one_litre_everything_is_weighed_and_a_part_held_back():
    below, at = scale(RECIPE, SHELF, litres=0.45), scale(RECIPE, SHELF, litres=1.0)
    assert {line.by for line in below.lines} == {"drops", "weight"}
    assert {line.by for line in scale(RECIPE, SHELF, litres=0.95).lines} == {"weight"}  # 40 drops: nobody counts them
    assert {line.by for line in at.lines} == {"weight"}
    for line in at.lines:
        assert line.drops is None
        assert line.first_g == pytest.approx(0.85 * line.exact_g, abs=0.051)
    text = " ".join(at.steps)
    for word in ("Weigh, never count drops", "15%", "rest 15 minutes", "Chill", "date", "Log the batch"):
        assert word in text
    assert "held back" not in " ".join(below.steps)


@given(st.floats(0.05, 20), st.floats(0.01, 300), st.sampled_from([0.01, 0.1, 1.0]))
def test_rounding_is_never_worse_than_half_a_step(litres, dose, step):
    batch = scale(Recipe("oat", {"date": dose}), SHELF, litres=litres, scale_g=step)
    (line,) = batch.lines
    assert abs(line.g - line.exact_g) <= step / 2 + 1e-9
    assert line.error_pct == pytest.approx(100 * (line.g / line.exact_g - 1), abs=1e-6)
    assert line.exact_g / batch.finished_g == pytest.approx(dose / 1000)
    assert batch.base_g + line.exact_g == pytest.approx(batch.finished_g)


def test_what_dissolves_comes_first_and_drops_last():
    batch = scale(Recipe("oat", {"plum": 1, "date": 20, "cocoa": 10}), SHELF)
    assert [line.flavouring_id for line in batch.lines] == ["cocoa", "date", "plum"]


def test_coarse_rounding_is_pointed_out():
    batch = scale(Recipe("oat", {"cocoa": 0.3}), SHELF, scale_g=0.1)
    assert any("rounding moves the dose by +39 %; weigh on a finer scale than 0.1 g" in note for note in batch.notes)
    assert not scale(Recipe("oat", {"cocoa": 40}), SHELF).notes


def test_an_unweighed_drop_is_pointed_out():
    batch = scale(Recipe("oat", {"mint": 2}), SHELF)
    assert any("a drop is uncertain by" in note and "weigh 20 drops" in note for note in batch.notes)


def test_assumed_density_is_said():
    assert any("density 1.03 g/ml assumed" in note for note in scale(Recipe("tea"), SHELF).notes)


def test_at_least_one_drop_when_any_is_wanted():
    assert scale(Recipe("oat", {"plum": 0.01}), SHELF).lines[0].drops == 1


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"servings": 0}, "0 servings of 240 g cannot be made, allowed is 1 to 85"),
        ({"servings": 10_000}, "10000 servings of 240 g cannot be made, allowed is 1 to 85"),
        ({"servings": math.nan}, "nan servings"),
        ({"litres": 0}, "0 litres cannot be made, allowed is above 0 to 20"),
        ({"litres": 20.5}, "20.5 litres cannot be made"),
        ({"serving_g": 0}, "serving_g is 0, allowed is 1 to 20000"),
        ({"scale_g": 0}, "0 g steps cannot be used"),
    ],
)
def test_sizes_that_cannot_be_made(changes, message):
    with pytest.raises(QuantityError, match=message):
        scale(RECIPE, SHELF, **changes)


LIMITED = Shelf.of(
    [Base(base_id="oat", name="Oat drink", density_g_per_ml=1.0, serving_g=260)],
    [
        Flavouring(flavouring_id="clove", name="Clove", form="powder", max_dose_g_per_kg=1.0, food_use="yes"),
        Flavouring(
            flavouring_id="pear", name="Pear drops", form="drops", drop_mg=40, max_dose_g_per_kg=0.4, food_use="yes"
        ),
        Flavouring(
            flavouring_id="plum",
            name="Plum syrup",
            form="syrup",
            density_g_per_ml=1.3,
            max_dose_g_per_kg=40,
            food_use="yes",
        ),
        Flavouring(flavouring_id="date", name="Date", form="syrup", food_use="yes"),
    ],
)


@given(
    st.floats(1, 20),
    st.floats(0.3, 1.0),
    st.floats(0.2, 0.4),
    st.floats(10, 40),
    st.floats(0, 200),
    st.sampled_from([0.01, 0.1, 1.0]),
)
def test_no_rounding_passes_a_maximum_dose(servings, clove, pear, plum, date, step):
    recipe = Recipe("oat", {"clove": clove, "pear": pear, "plum": plum, "date": date})
    batch = scale(recipe, LIMITED, servings=servings, scale_g=step)
    finished_g = batch.base_g + sum(line.g for line in batch.lines)
    measured = {line.flavouring_id: 1000 * line.g / finished_g for line in batch.lines}
    for name in ("clove", "pear", "plum"):
        assert measured[name] <= LIMITED.flavouring(name).max_dose_g_per_kg * (1 + 1e-6)
    for line in batch.lines:
        if line.first_g is not None:
            assert line.first_g <= line.g
        if line.spoons is not None and line.flavouring_id == "plum":
            spooned = line.exact_g * (1 + line.spoon_error_pct / 100)
            total = batch.base_g + spooned + sum(other.g for other in batch.lines if other is not line)
            assert 1000 * spooned / total <= 40 * (1 + 1e-6)


@pytest.mark.parametrize(
    ("doses", "servings", "grams"),
    [({"clove": 1.0}, 1, 0.2), ({"clove": 1.0}, 2.2, 0.5), ({"pear": 0.4}, 1, 0.08), ({"clove": 2.0}, 1, 0.5)],
)
def test_it_is_rounded_down_where_up_is_too_much(doses, servings, grams):
    assert scale(Recipe("oat", doses), LIMITED, servings=servings).lines[0].g == pytest.approx(grams)


@pytest.mark.parametrize(("doses", "scale_g", "what"), [({"pear": 0.1}, 0.1, "drop"), ({"clove": 0.9}, 1.0, "1 g")])
def test_what_is_too_strong_to_measure_out_is_said(doses, scale_g, what):
    small = Shelf.of(
        LIMITED.bases.values(),
        [
            Flavouring(flavouring_id="clove", name="Clove", form="powder", max_dose_g_per_kg=1.0, food_use="yes"),
            Flavouring(
                flavouring_id="pear", name="Pear drops", form="drops", drop_mg=40, max_dose_g_per_kg=0.1, food_use="yes"
            ),
        ],
    )
    batch = scale(Recipe("oat", doses), small, scale_g=scale_g)
    assert batch.lines[0].too_strong
    assert batch.lines[0].g == 0
    assert "dilute it first" in batch.steps[1]
    assert any("above its maximum dose here, so it cannot be measured out" in n and what in n for n in batch.notes)
    assert not scale(Recipe("oat", doses), small, scale_g=scale_g, servings=9).lines[0].too_strong


def test_open_doses_are_refused():
    with pytest.raises(QuantityError, match="dose of plum is open"):
        scale(Recipe("oat", {"plum": None}), SHELF)


def test_spoons_are_said_with_their_error():
    date = scale(Recipe("oat", {"date": 20.0}), SHELF).lines[0]
    quarters = round(date.exact_g / 1.3 / 1.25)
    assert date.spoons == "¾ tsp" == {3: "¾ tsp"}[quarters]
    assert date.spoon_error_pct == pytest.approx(100 * (quarters * 1.25 * 1.3 / date.exact_g - 1))
    assert scale(Recipe("oat", {"date": 200.0}), SHELF).lines[0].spoons == "3 tbsp ¼ tsp"
    assert scale(Recipe("oat", {"date": 20.0}), SHELF, litres=2).lines[0].spoons is None
    assert scale(Recipe("oat", {"cocoa": 20.0}), SHELF).lines[0].spoons is None
    assert scale(Recipe("oat", {"date": 1.0}), SHELF).lines[0].spoons is None
