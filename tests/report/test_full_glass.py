"""The dose of a full glass on a card: where it differs from that of a sip, and never applied twice."""

import pandas as pd
import pytest

import pairing
from pairing.model.recipe import Recipe
from pairing.report.card import recipe_card
from pairing.report.card_page import card_document
from pairing.report.document import to_markdown
from pairing.report.full_glass import full_glass

BASES = pd.DataFrame({"base_id": ["oat"], "name": ["Oat"], "serving_g": [250.0]})
FLAVOURINGS = pd.DataFrame(
    {
        "flavouring_id": ["plum", "clove"],
        "name": ["Plum", "Clove"],
        "label_dose_g_per_kg": [2.0, 1.0],
        "drop_mg": [30.0, 30.0],
        "food_use": "yes",
    }
)


def learned(*cups):
    rows = [(f"c{i}", "oat", "plum", dose, 3, glass) for i, (dose, glass) in enumerate(cups)]
    columns = ["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "strength", "glass"]
    return pairing.learn(BASES, FLAVOURINGS, pd.DataFrame(rows, columns=columns))


def plum(dose):
    return Recipe("oat", {"plum": dose})


def test_a_dose_of_a_sip_is_lowered_for_a_glass_and_that_of_a_glass_is_not():
    model = learned((2.4, "sip"), (2.4, "sip"))
    found = full_glass(plum(2.4), model)
    assert found.recipe.doses["plum"] == pytest.approx(2.4 * model.serving_share.share, rel=1e-3)
    assert full_glass(found.recipe, model) is None  # nobody has drunk it yet, and still not twice
    assert full_glass(Recipe("oat"), model) is None
    assert full_glass(plum(1.7), model) is not None, "no dose that was served, only somewhat near it"


def test_what_was_drunk_whole_stays_as_it_is():
    model = learned((2.4, "sip"), (2.4, "full"), (4.0, "sip"))
    assert full_glass(plum(2.4), model) is None
    assert full_glass(plum(4.0), model) is not None


def test_without_a_cup_at_these_doses_needed_doses_tell():
    model = learned((20.0, "sip"))
    needed = float(model.needed_dose(["oat"], ["clove"], ["plum"])["dose_g_per_kg"].iloc[0])
    both = Recipe("oat", {"plum": float(model.needed_dose(["oat"], ["plum"], ["clove"])["dose_g_per_kg"].iloc[0])})
    as_sip = Recipe("oat", {**both.doses, "clove": needed})
    glass = full_glass(as_sip, model)
    assert glass is not None
    assert full_glass(glass.recipe, model) is None


def test_a_card_says_the_dose_of_a_glass_and_why():
    model = learned((2.4, "sip"))
    card = recipe_card(plum(2.4), model.shelf, model=model, servings=2)
    text = to_markdown(card_document(card))
    assert "For whole glasses, not sips: Plum" in text
    assert "A sip overrates sweetness and strength" in text
    assert card.poured.base_g == card.batch.base_g
    assert card.to_dict()["full_glass"]["recipe"].startswith("oat|plum=2.0")
    glass = recipe_card(card.glass.recipe, model.shelf, model=model)
    assert glass.to_dict()["full_glass"] is None
    assert "not sips" not in to_markdown(card_document(glass))
