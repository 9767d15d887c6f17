"""Recipes and bases held against each other: chances, ratios, and what a blind check would take."""

import math

import numpy as np
import pytest
import simulated
from scipy.stats import binom, norm

from pairing.errors import TableError, UnknownIdError
from pairing.learned import learn_shelf
from pairing.learned.side_by_side import dose_ratios, side_by_side
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf


@pytest.fixture(scope="module")
def palate():
    return simulated.make_palate(7, 3, 6)


@pytest.fixture(scope="module")
def model(palate):
    log = palate.log(120, np.random.default_rng(7))
    return learn_shelf(Shelf.from_tables(palate.bases_df, palate.flavourings_df), log)


def test_the_chance_is_that_of_joint_draws_and_both_sides_agree(model, palate):
    base, (f, g) = palate.base_ids[0], palate.flavouring_ids[:2]
    both = [Recipe(base, {f: None}), Recipe(base, {f: None, g: None})]
    table = side_by_side(model, both)
    draws = model.response.samples(model.response.encode([base, base], [(f,), (f, g)]), 20_000, random_state=1)
    assert table["p_better"].iloc[0] == pytest.approx((draws[:, 0] > draws[:, 1]).mean(), abs=0.015)
    assert table["p_better"].sum() == pytest.approx(1.0)
    assert table["p_best"].tolist() == table["p_better"].tolist(), "of two it is one chance, said alike everywhere"
    assert table["difference"].iloc[0] == pytest.approx(-table["difference"].iloc[1])
    assert table["liking"].tolist() == pytest.approx(model.predict(both)["liking"].tolist())


def test_servings_have_the_power_that_is_said(model, palate):
    """Against the exact binomial of SciPy: a two-sided paired test at 5 %, power 0.8."""
    base = palate.base_ids[0]
    recipes = [Recipe(base, {f: None}) for f in palate.flavouring_ids]
    table = side_by_side(model, recipes)
    checked = 0
    for row in table.dropna(subset="servings").to_dict("records"):
        n, share = int(row["servings"]), norm.cdf(abs(row["difference"]) / model.response.noise_sd / math.sqrt(2))
        needed = next(k for k in range(n // 2, n + 2) if 2 * binom.sf(k - 1, n, 0.5) <= 0.05)
        assert binom.sf(needed - 1, n, share) >= 0.8 - 0.02
        checked += 1
    assert checked
    twice = side_by_side(model, [recipes[0], recipes[0]])
    assert twice["servings"].isna().all(), "no number of servings finds what is not there"


def test_ratios_are_those_of_the_needed_doses_with_shared_doubt_left_out(model, palate):
    bases, items = palate.base_ids[:3], palate.flavouring_ids[:3]
    table = dose_ratios(model, bases, items)
    needed = model.needed_dose(bases, items).set_index(["base_id", "flavouring_id"])
    single = table[table["flavouring_id"].notna()]
    for row in single.to_dict("records"):
        here, there = (needed.loc[(b, row["flavouring_id"])] for b in (row["base_id"], row["than"]))
        assert row["ratio"] == pytest.approx(here["dose_g_per_kg"] / there["dose_g_per_kg"])
        width = math.log(row["high"] / row["low"])
        assert width <= 2 * 1.29 * math.hypot(here["log_sd"], there["log_sd"]) + 1e-9
    overall = table[table["flavouring_id"].isna()].set_index("base_id")["ratio"]
    for base_id, rows in single.groupby("base_id"):
        assert overall[base_id] == pytest.approx(np.exp(np.log(rows["ratio"]).mean()))


def test_one_side_is_refused_and_unknown_names_offer_the_nearest(model, palate):
    with pytest.raises(TableError, match="1 recipe"):
        side_by_side(model, [Recipe(palate.base_ids[0], {})])
    with pytest.raises(TableError, match="1 base"):
        dose_ratios(model, palate.base_ids[:1])
    with pytest.raises(UnknownIdError):
        side_by_side(model, ["nothing|x=1", "nothing|x=2"])
