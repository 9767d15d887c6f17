"""Stand-ins: alike in taste first, allergen-safe, as strong as what they stand for."""

import numpy as np
import pandas as pd
import pytest

import pairing
from pairing import Brief, Flavouring, Recipe
from pairing.plan.replace import free_of, like, pair_points, stand_ins, with_stand_in
from pairing.plan.wheel import alike, wheel_of

BASES = pd.DataFrame({"base_id": ["oat"], "name": ["Oat"], "allergens": "none"})
FLAVOURINGS = pd.DataFrame(
    {
        "flavouring_id": ["lime", "lemon", "sesame", "hazel", "cocoa"],
        "name": ["Lime drops", "Lemon drops", "Black sesame", "Hazel paste", "Dark cocoa"],
        "label_dose_g_per_kg": [1.0, 2.0, 20.0, 20.0, 15.0],
        "allergens": ["none", "none", "sesame", "nuts", None],
        "wheel": [None, None, "nut;roast", "nut;sweet", "roast;bitter"],
    }
)
LOG = pd.DataFrame(
    {
        "trial_id": ["a", "b", "c"],
        "base_id": "oat",
        "flavouring_id": ["lime", "hazel", "cocoa"],
        "dose_g_per_kg": [1.0, 20.0, 15.0],
        "strength": 3,
        "liking": [7, 6, 5],
    }
)


@pytest.fixture(scope="module")
def model():
    return pairing.learn(BASES, FLAVOURINGS, LOG)


def points(model):
    return pair_points(model, model.synergy())


def test_who_tastes_alike_comes_first(model):
    assert stand_ins(model, "lime", points(model), free_of(model, ()))[0].flavouring_id == "lemon"
    assert stand_ins(model, "hazel", points(model), free_of(model, ()))[0].flavouring_id == "sesame"


def test_unknown_allergens_are_not_free_of_them(model):
    assert free_of(model, ["nuts"]) == {"lime", "lemon", "sesame"}
    assert stand_ins(model, "hazel", points(model), free_of(model, ["nuts"]))[0].flavouring_id == "sesame"


def test_what_a_name_says_and_who_drinks_keep_a_stand_in_out():
    praline = {"flavouring_id": "praline", "name": "Hazelnut praline", "allergens": "none", "label_dose_g_per_kg": 20.0}
    tasters = pd.DataFrame({"taster": ["noa"], "avoid": ["lemon"]})
    model = pairing.learn(BASES, pd.concat([FLAVOURINGS, pd.DataFrame([praline])]), LOG, tasters=tasters)
    assert free_of(model, ["nuts"]) == {"lime", "lemon", "sesame"}
    assert free_of(model, (), ["noa"]) == {"lime", "sesame", "hazel", "cocoa", "praline"}


def test_a_stand_in_starts_as_strong_as_what_it_stands_for(model):
    needed = np.exp(model.dose_posterior(["oat", "oat"], [("lime",), ("lemon",)])[0][:, 0])
    made = with_stand_in(model, Recipe("oat", {"lime": 1.3}), "lime", "lemon")
    assert made.doses["lemon"] == pytest.approx(1.3 * needed[1] / needed[0], rel=5e-3)


def test_cups_like_a_recipe_without_nuts(model):
    given = like(model, Recipe("oat", {"lime": 1.0, "hazel": 20.0}), points(model), ["nuts"])
    found = model.suggest(Brief(**given, avoid_allergens="nuts"), n=3)
    assert all("lime" in one.recipe.doses and "hazel" not in one.recipe.doses for one in found)
    assert any("sesame" in one.recipe.doses for one in found)


def test_company_alone_stands_in_only_where_nothing_tastes_alike(model):
    hazel = like(model, Recipe("oat", {"hazel": 20.0}), points(model), ["nuts"])
    assert hazel["on_hand"] == ("sesame",), "neither lime nor lemon, however well they go together"


def test_what_the_drinkers_avoid_is_stood_in_for():
    tasters = pd.DataFrame({"taster": ["noa"], "avoid": ["hazel"]})
    model = pairing.learn(BASES, FLAVOURINGS, LOG, tasters=tasters)
    given = like(model, Recipe("oat", {"hazel": 20.0, "lime": 1.0}), points(model), (), ["noa"])
    assert given["must_have"] == ("lime",)
    assert "sesame" in given["on_hand"]


def test_ones_own_words_count_as_the_words_of_the_trade():
    paste, drops = (Flavouring(flavouring_id=w, name="X", wheel=w) for w in ("sesame;roast;nutty", "nut;roast"))
    assert alike(paste, drops) == 1.0
    assert alike(paste, Flavouring(flavouring_id="y", name="Y", wheel="my own word")) == 0.0
    for name, never in (("Cashew paste", "smoke"), ("Peach nectar", "smoke"), ("Nutmeg oil", "nut")):
        assert never not in wheel_of(Flavouring(flavouring_id="z", name=name))
