"""Servings: sums, lower bounds, unknowns, agreement of the vector helpers."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import QuantityError, UnknownIdError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.reason import Lack
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.alcohol import ethanol_pct_vv
from pairing.nutrition.composition import compose
from pairing.nutrition.facts import WORDS
from pairing.nutrition.serving import per_100g, serving, traits

OAT = Base(
    base_id="oat",
    name="Oat",
    energy_kcal_per_100g=40,
    sugars_g_per_100g=3,
    sodium_mg_per_100g=40,
    caffeine_mg_per_100g=0,
    ethanol_g_per_100g=0,
    density_g_per_ml=1.03,
    serving_g=240,
    cost_per_kg=1.5,
    allergens="gluten",
)
EXTRACT = Flavouring(
    flavouring_id="extract",
    name="Extract",
    form="drops",
    drop_mg=20,
    density_g_per_ml=0.9,
    energy_kcal_per_g=3,
    sugars_g_per_g=0,
    sodium_mg_per_g=0,
    caffeine_mg_per_g=0,
    ethanol_g_per_g=0.4,
    cost_per_g=0.5,
    allergens="none",
)
PASTE = Flavouring(flavouring_id="paste", name="Paste", form="paste", energy_kcal_per_g=5, sugars_g_per_g=0.3)
SHELF = Shelf.of([OAT, Base(base_id="bare", name="Bare")], [EXTRACT, PASTE])


def test_a_serving_by_hand():
    found = serving(Recipe("oat", {"extract": 200}), SHELF)
    assert (found.base_g, found.finished_g) == (240, pytest.approx(300))
    assert found.grams == pytest.approx({"extract": 60})
    assert found.drops == pytest.approx({"extract": 3000})
    assert found.ml == pytest.approx({"extract": 60 / 0.9})
    assert found.added_kcal == pytest.approx(180)
    assert found.total_kcal == pytest.approx(180 + 96)
    assert found.added_kj == pytest.approx(180 * 4.184)
    assert (found.added_sugars_g, found.total_sugars_g) == (0, pytest.approx(7.2))
    assert found.sodium_mg == pytest.approx(96)
    assert found.ethanol_g == pytest.approx(24)
    # 8 % ethanol by mass; its density with water (OIML R 22, from memory), and what the base takes up beyond water
    ml = 300 / 0.98473 + 276 * (1 / 1.03 - 1 / 0.99820)
    assert found.ethanol_pct_vv == pytest.approx(100 * 24 / 0.78924 / ml, rel=1e-4)
    assert (found.added_cost, found.total_cost) == (pytest.approx(30), pytest.approx(30.36))
    assert found.allergens == {"gluten"}
    assert found.unknown == found.allergens_unknown == ()
    assert found.at_least == {}
    assert found.assumptions == ()
    assert per_100g(found.added_kcal, found) == pytest.approx(60)


def test_total_is_the_plain_serving_and_what_was_added():
    plain, full = serving(Recipe("oat"), SHELF), serving(Recipe("oat", {"extract": 10}), SHELF)
    assert plain.added_kcal == plain.added_cost == 0
    assert full.total_kcal == pytest.approx(plain.total_kcal + full.added_kcal)
    assert full.total_cost == pytest.approx(plain.total_cost + full.added_cost)


def test_unknown_is_never_zero_and_the_known_rest_is_a_lower_bound():
    found = serving(Recipe("oat", {"extract": 10, "paste": 20}), SHELF)
    assert found.added_kcal is not None
    assert found.sodium_mg is None
    assert found.at_least["sodium_mg"] == pytest.approx(96)
    assert found.added_cost is None
    assert found.at_least["added_cost"] == pytest.approx(found.grams["extract"] * 0.5)
    assert found.ethanol_pct_vv is None
    assert found.at_least["ethanol_pct_vv"] > 0
    assert Lack("paste", "sodium") in found.unknown
    assert found.allergens_unknown == ("paste",)
    assert found.drops["paste"] is None


def test_an_unknown_base_leaves_totals_unknown_but_not_what_is_added():
    found = serving(Recipe("bare", {"extract": 10}), SHELF)
    assert found.total_kcal is None
    assert found.added_kcal is not None
    assert found.at_least["total_kcal"] == pytest.approx(found.added_kcal)
    assert Lack("bare", "energy") in found.unknown
    assert found.base_g == 250
    assert any("1.03 g/ml assumed" in a for a in found.assumptions)
    assert not any(a.startswith(tuple(f"{i}:" for i in SHELF.names)) for a in found.assumptions)  # names, no ids


def test_a_dose_of_nothing_needs_no_facts():
    found = serving(Recipe("oat", {"paste": 0}), SHELF)
    assert found.sodium_mg == pytest.approx(96)


def test_assumptions_are_said():
    loose = Flavouring(flavouring_id="loose", name="Loose", form="drops", energy_kcal_per_g=0, carrier="ethanol")
    found = serving(Recipe("oat", {"loose": 1}), Shelf.of([OAT], [loose]))
    said = " ".join(found.assumptions)
    assert "uncalibrated" in said
    assert "density 1.00" in said
    assert "0 to 7 kcal/g" in said
    assert found.ethanol_g is None
    numbered = Flavouring(flavouring_id="n", name="N", carrier="ethanol:0.5")
    assert serving(Recipe("oat", {"n": 10}), Shelf.of([OAT], [numbered])).ethanol_g == pytest.approx(
        240 / 0.99 * 0.01 * 0.5
    )


def test_a_base_from_parts_is_composed():
    powder = Base(base_id="powder", name="Powder", energy_kcal_per_100g=400)
    shake = Base(base_id="shake", name="Shake", made_from="powder:30;water:270")
    assert serving(Recipe("shake"), Shelf.of([powder, shake], []), 300).total_kcal == pytest.approx(120)


@pytest.mark.parametrize("serving_g", [0, -1, math.nan, math.inf, 20_001])
def test_impossible_servings_are_refused(serving_g):
    with pytest.raises(QuantityError, match="1 to 20000"):
        serving(Recipe("oat"), SHELF, serving_g)


def test_open_doses_and_unknown_ids_are_refused():
    with pytest.raises(QuantityError, match="dose of paste is open"):
        serving(Recipe("oat", {"paste": None}), SHELF)
    with pytest.raises(UnknownIdError):
        serving(Recipe("oat", {"pasta": 1}), SHELF)
    with pytest.raises(UnknownIdError):
        serving(Recipe("rice"), SHELF)


@given(st.floats(0, 400), st.floats(0, 400), st.floats(1, 20_000))
def test_masses_add_up(extract, paste, base_g):
    found = serving(Recipe("oat", {"extract": extract, "paste": paste}), SHELF, base_g)
    assert found.base_g + math.fsum(found.grams.values()) == pytest.approx(found.finished_g)
    twice = serving(Recipe("oat", {"extract": extract, "paste": paste}), SHELF, min(2 * base_g, 20_000))
    assert twice.added_kcal / twice.base_g == pytest.approx(found.added_kcal / found.base_g)


def test_vectors_agree_with_servings():
    ids = list(SHELF.flavourings)
    per_g = traits(SHELF, ids)
    assert set(per_g) == {"kcal_per_g", "cost_per_g", "ethanol_g_per_g"}
    found = serving(Recipe("oat", {"extract": 12}), SHELF)
    g = np.array([found.grams.get(i, 0.0) for i in ids])
    assert np.nansum(g * per_g["kcal_per_g"]) == pytest.approx(found.added_kcal)
    assert np.isnan(per_g["cost_per_g"][1])
    assert float(ethanol_pct_vv(found.ethanol_g, found.finished_g, 1.03)) == pytest.approx(found.ethanol_pct_vv)
    unknown = ethanol_pct_vv(np.array([1.0, np.nan]), np.array([250.0, 250.0]), np.array([np.nan, 1.0]))
    ml = 250 / 0.99745 + 249 * (1 / 1.03 - 1 / 0.99820)  # 0.4 % ethanol by mass, as above
    assert unknown[0] == pytest.approx(100 / 0.78924 / ml, rel=1e-4)
    assert np.isnan(unknown[1])
    assert traits(SHELF, [])["kcal_per_g"].shape == (0,)


@pytest.mark.parametrize(
    ("carrier", "column", "grams"),
    [
        ("ethanol:0.6", 0, 0.6),
        ("ethanol:0.6", 0.7, 0.7),
        ("ethanol:0.6", None, 0.6),
        ("ethanol", 0.3, 0.3),
        ("ethanol", None, None),
        (None, None, None),
    ],
)
def test_ethanol_is_the_larger_of_column_and_carriers(carrier, column, grams):
    bitter = Flavouring(flavouring_id="bitter", name="Bitter", carrier=carrier, ethanol_g_per_g=column)
    mixed = Base(base_id="mixed", name="Mixed", made_from="bitter:50;water:50")
    shelf = Shelf.of([OAT, mixed], [bitter])
    assert traits(shelf, ["bitter"])["ethanol_g_per_g"][0] == pytest.approx(
        math.nan if grams is None else grams, nan_ok=True
    )
    per_100g = compose(mixed, shelf).ethanol_g_per_100g
    assert per_100g is None if grams is None else per_100g == pytest.approx(50 * grams)


def test_a_corrected_fact_is_seen_at_once():
    first = Shelf.of([OAT], [EXTRACT])
    assert serving(Recipe("oat", {"extract": 10}), first).added_kcal == pytest.approx(240 / 0.99 * 0.01 * 3)
    changed = Flavouring(flavouring_id="extract", name="Extract", energy_kcal_per_g=6)
    second = Shelf.of([OAT], [changed])
    assert serving(Recipe("oat", {"extract": 10}), second).added_kcal == pytest.approx(240 / 0.99 * 0.01 * 6)


def test_jurisdiction_counts():
    glycerol = Flavouring(
        flavouring_id="g", name="G", carrier="glycerol:0.9", fat_g_per_g=0, protein_g_per_g=0, carbohydrate_g_per_g=0
    )
    shelf = Shelf.of([OAT], [glycerol])
    eu, us = (serving(Recipe("oat", {"g": 10}), shelf, jurisdiction=j).added_kcal for j in ("EU", "US"))
    assert us / eu == pytest.approx(4.32 / 2.4)


def test_every_sum_has_a_word():
    assert len(set(WORDS)) == 6


def test_what_is_lacking_is_told_by_values_whatever_the_ids_say():
    names = ("plum lacks ethanol", "a lacks caffeine")
    items = [Flavouring(flavouring_id=name, name="Fig", sodium_mg_per_g=0) for name in names]
    found = serving(Recipe("oat", dict.fromkeys(names, 1.0)), Shelf.of([OAT], items))
    assert set(names) <= set(found.lacking("caffeine"))
    assert not set(found.lacking("sodium")) & set(names)
