"""What the demo's season teaches, held against the hidden truth that made it."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import demo_truth as truth
import numpy as np
import pandas as pd
import pytest

import pairing
from pairing import Brief, Recipe

DEMO = Path(__file__).parents[2] / "demo_data"


@pytest.fixture(scope="module")
def model():
    tables = [pd.read_csv(DEMO / f"{name}.csv") for name in ("bases", "flavourings", "readings")]
    return pairing.learn(*tables, random_state=0)


def mean_liking(base_id, doses):
    return float(np.mean([truth.liking(base_id, doses, taster) for taster in truth.TASTERS]))


def test_needed_doses_are_found_far_better_than_the_label_says(model):
    needed = model.needed_dose().query("reachable")
    pairs = list(zip(needed["base_id"], needed["flavouring_id"], strict=True))
    true = np.array([truth.needed_log_dose(base_id, flavouring_id) for base_id, flavouring_id in pairs])
    off = np.log(needed["dose_g_per_kg"]) - true
    label = np.log([truth.LABEL_G_PER_KG[flavouring_id] for _, flavouring_id in pairs]) - true
    assert math.sqrt(np.mean(off**2)) < 0.4 * math.sqrt(np.mean(label**2))
    inside = (np.log(needed["low"]) < true) & (true < np.log(needed["high"]))
    assert inside.mean() > 0.6


def test_pea_needs_far_more_and_never_shows_violet(model):
    factor = model.base_factor().set_index("base_id")["factor"]
    assert factor["pea"] > 1.4
    assert factor["barley"] < 0.9
    (violet,) = model.needed_dose(["pea"], ["violet"])["reachable"]
    assert not violet


def test_pairs_that_become_something_new_stand_out(model):
    table = model.synergy()
    pairs = zip(table["flavouring_a"], table["flavouring_b"], table["synergy"], strict=True)
    synergy = {frozenset((a, b)): points for a, b, points in pairs}
    new = [{"cardamom", "quince"}, {"bitter-orange", "smoked-tea"}, {"cucumber", "lime-leaf"}]
    assert min(synergy[frozenset(pair)] for pair in new) > np.quantile(list(synergy.values()), 0.9)


def test_liking_is_predicted_on_combinations_that_nobody_poured(model):
    drunk = pd.read_csv(DEMO / "readings.csv").dropna(subset="flavouring_id").groupby(["trial_id", "base_id"])
    tried = {(base_id, frozenset(cup["flavouring_id"])) for (_, base_id), cup in drunk}
    recipes = [
        Recipe(base_id, dict.fromkeys(pair))
        for base_id in truth.BASES
        for pair in itertools.combinations(truth.LABEL_G_PER_KG, 2)
        if (base_id, frozenset(pair)) not in tried and not truth.curdles(base_id, dict.fromkeys(pair))
    ]
    true = np.array([mean_liking(r.base_id, dict.fromkeys(r.doses)) for r in recipes])
    said = model.predict(recipes)
    assert np.corrcoef(said["liking"], true)[0, 1] > 0.5
    inside = (said["liking_low"] < true) & (true < said["liking_high"])
    assert 0.65 < inside.mean() < 0.95


@pytest.mark.parametrize("base_id", truth.BASES)
def test_what_is_suggested_is_truly_better_than_a_random_cup(model, base_id):
    found = model.suggest(Brief(bases=(base_id,)), n=5, random_state=0)
    suggested = [mean_liking(base_id, dict(one.recipe.doses)) for one in found]
    random_cups = [mean_liking(base_id, dict.fromkeys(p)) for p in itertools.combinations(truth.LABEL_G_PER_KG, 2)]
    assert np.mean(suggested) > np.quantile(random_cups, 0.8)


def test_tasters_disagree_about_mint(model):
    mint = [Recipe("oat", {"mint": None})]
    ana, mikko = (float(model.predict(mint, taster)["liking"].iloc[0]) for taster in ("ana", "mikko"))
    assert ana - mikko > 0.8
