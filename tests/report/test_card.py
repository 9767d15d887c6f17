import json
import re

import numpy as np
import pytest
from simulated import make_palate

import pairing
from pairing.errors import PairingError, QuantityError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.report.card import recipe_card
from pairing.report.card_page import card_document
from pairing.report.document import to_html, to_markdown

OAT = Base(
    base_id="oat",
    name="Oat drink",
    fat_g_per_100g=1.5,
    protein_g_per_100g=1.0,
    carbohydrate_g_per_100g=6.5,
    sugars_g_per_100g=4.0,
    energy_kcal_per_100g=45,
    sodium_mg_per_100g=40,
    ethanol_g_per_100g=0,
    caffeine_mg_per_100g=0,
    density_g_per_ml=1.03,
    serving_g=250,
    cost_per_kg=2.0,
    allergens="gluten",
)
DATE = Flavouring(
    flavouring_id="date",
    name="Date syrup",
    form="syrup",
    label_dose_g_per_kg=30,
    energy_kcal_per_g=3.0,
    sugars_g_per_g=0.7,
    sodium_mg_per_g=0.1,
    ethanol_g_per_g=0,
    caffeine_mg_per_g=0,
    cost_per_g=0.01,
    allergens="none",
    food_use="yes",
)
PLUM = Flavouring(
    flavouring_id="plum", name="Plum drops", form="drops", drop_mg=36.0, label_dose="3 drops per 100 ml", food_use="yes"
)
SHELF = Shelf.of([OAT], [DATE, PLUM], [Taster(taster="ana", avoid_allergens="gluten")])


def test_figures_are_per_serving_and_per_100_g():
    card = recipe_card(Recipe("oat", {"date": 40.0}), SHELF, servings=4)
    by = {(f.name, f.unit): f for f in card.facts}
    finished = 250 / 0.96
    kcal = 2.5 * 45 + 0.04 * finished * 3.0
    assert by["energy", "kcal"].serving == pytest.approx(kcal)
    assert by["energy", "kcal"].per_100g == pytest.approx(100 * kcal / finished)
    assert by["energy", "kcal"].label == f"{100 * kcal / finished:.0f}"
    assert by["salt", "g"].serving == pytest.approx(2.5 * by["sodium", "mg"].serving / 1000)
    assert card.per_serving.total_cost == pytest.approx(0.5 + 0.04 * finished * 0.01)
    assert card.batch.base_g == 1000


def test_us_rules_round_per_serving():
    card = recipe_card(Recipe("oat", {"date": 40.0}), SHELF, jurisdiction="US")
    kcal = next(f for f in card.facts if f.unit == "kcal")
    assert int(kcal.label) % 10 == 0
    assert abs(int(kcal.label) - kcal.serving) <= 5
    assert not [f for f in card.facts if f.name == "salt"]


def test_unknown_is_said_and_never_zero():
    text = to_markdown(card_document(recipe_card(Recipe("oat", {"plum": 1.5, "date": 40.0}), SHELF)))
    assert re.search(r"sugars, g \| unknown, at least \d", text)
    assert re.search(r"Plum drops lacks [a-z, ]*sugars", text)
    assert "in all unknown" in text


def test_a_card_says_what_it_has_to():
    card = recipe_card(Recipe("oat", {"plum": 1.5, "date": 40.0}), SHELF, tasters=["ana"], made_on="2024-05-01")
    for text in (to_html(card_document(card)), to_markdown(card_document(card))):
        for word in (
            "Oat drink with Date syrup and Plum drops",
            "g/kg",
            "drops",
            "ml",
            "gluten",
            "2024-05-01",
            "label",
        ):
            assert word in text
        assert "licensed practice come first" in text
    assert any("ana" in c.text for c in card.cautions)


def test_json_holds_the_same_and_nothing_that_json_cannot():
    card = recipe_card(Recipe("oat", {"plum": 1.5, "date": 40.0}), SHELF)
    kept = json.loads(json.dumps(card.to_dict(), allow_nan=False))
    assert kept["recipe"] == "oat|date=40.0;plum=1.5"
    assert {line["flavouring_id"] for line in kept["batch"]["lines"]} == {"date", "plum"}
    assert kept["cost_per_serving"]["total"] is None
    assert kept["cautions"]
    assert kept["nutrition"][0]["serving"] is None or kept["nutrition"][0]["serving"] > 0


def test_large_batches_are_written_without_exponents():
    card = recipe_card(Recipe("oat", {"date": 300.0}), SHELF, litres=20)
    for text in (to_html(card_document(card)), to_markdown(card_document(card))):
        assert not re.search(r"\de[+-]\d", text)


def test_names_are_escaped():
    nasty = Shelf.of([Base(base_id="oat", name="<script>alert(1)</script>")], [])
    page = to_html(card_document(recipe_card(Recipe("oat"), nasty)))
    assert "<script" not in page


def test_absence_of_a_caution_is_no_green_light():
    import dataclasses

    card = dataclasses.replace(recipe_card(Recipe("oat"), SHELF), cautions=())
    assert "none known to this tool" in to_markdown(card_document(card))
    assert card.to_dict()["cautions"] == ["none known to this tool"]


@pytest.mark.parametrize("servings", [0, 10_000, -1])
def test_sizes_that_cannot_be_made(servings):
    with pytest.raises(QuantityError, match="servings of 250 g cannot be made, allowed is 1 to 82"):
        recipe_card(Recipe("oat", {"date": 40.0}), SHELF, servings=servings)


def test_unknown_things_are_refused():
    with pytest.raises(PairingError, match="no flavouring 'prune'"):
        recipe_card(Recipe("oat", {"prune": 1.0}), SHELF)


@pytest.fixture(scope="module")
def learned():
    palate = make_palate(5)
    readings = palate.log(60, np.random.default_rng(2))
    return readings, pairing.learn(palate.bases_df, palate.flavourings_df, readings, random_state=0)


def test_with_a_model_it_says_how_sure(learned):
    readings, model = learned
    last = readings.dropna(subset=["liking"]).iloc[-1]
    rows = readings[(readings["trial_id"] == last["trial_id"]) & (readings["reading"] == last["reading"])]
    recipe = Recipe(last["base_id"], dict(zip(rows["flavouring_id"], rows["dose_g_per_kg"], strict=True)))
    card = recipe_card(recipe, model.shelf, model=model)
    expected = model.predict([recipe]).iloc[0]
    assert (card.liking, card.liking_low) == (expected["liking"], expected["liking_low"])
    assert card.evidence.cups >= 1
    page = to_html(card_document(card))
    assert "expected liking" in page
    assert "standard error" in page or "1 cup" in page
    assert page.count("<svg") == 1
    for dose in card.doses:
        needed = model.needed_dose([recipe.base_id], [dose.flavouring_id], list(recipe.doses)).iloc[0]
        assert dose.needed == pytest.approx(needed["dose_g_per_kg"])
