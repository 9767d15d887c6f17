"""Doses lowered to keep a limit: never below what is still tasted, all of them where one is not enough."""

import numpy as np
import pandas as pd
import pytest
from small_logs import cup, table

import pairing
from pairing import Brief
from pairing.errors import BriefError

BASES = pd.DataFrame(
    {
        "base_id": ["water", "cider"],
        "name": ["Water", "Cider"],
        "energy_kcal_per_100g": [0.0, 50.0],
        "ethanol_g_per_100g": [0.0, 4.0],
        "serving_g": 250.0,
    }
)
BOTH = ("a", "b")


@pytest.fixture(scope="module")
def model():
    flavourings = pd.DataFrame(
        {
            "flavouring_id": BOTH,
            "name": ["A", "B"],
            "label_dose_g_per_kg": 10.0,
            "energy_kcal_per_g": [4.0, 3.9],
            "cost_per_g": [0.1, 0.2],
            "ethanol_g_per_g": [0.3, 0.2],
        }
    )
    cups = [cup("water", {f: 10.0}, 3, 6) for f in BOTH]
    return pairing.learn(BASES, flavourings, table(*cups, cup("water", dict.fromkeys(BOTH, 10.0), 3, 8)))


def ask(model, base="water", **limits):
    return model.suggest(Brief(bases=(base,), must_have=BOTH, **limits), 1)[0]


def shares(model, one):
    means, _ = model.dose_posterior([one.recipe.base_id], [BOTH])
    return [one.recipe.doses[f] / np.exp(mean) for f, mean in zip(BOTH, means[0], strict=True)]


def test_one_is_lowered_where_that_is_enough_and_both_alike_where_it_is_not(model):
    free = ask(model)
    some = shares(model, ask(model, max_added_kcal=0.85 * free.added_kcal))
    assert sorted(some) == pytest.approx([0.7, 1.0], abs=0.02)
    all_of_it = ask(model, max_added_kcal=0.75 * free.added_kcal)
    assert all_of_it.added_kcal == pytest.approx(0.75 * free.added_kcal, rel=0.02)
    assert shares(model, all_of_it) == pytest.approx([0.75, 0.75], abs=0.01)
    with pytest.raises(BriefError, match="max_added_kcal"):
        ask(model, max_added_kcal=0.59 * free.added_kcal)


@pytest.mark.parametrize("kcal", [0.65, 0.75, 0.85, 0.95])
@pytest.mark.parametrize("cost", [0.5, 0.65, 0.75, 0.85, 0.95])
def test_limits_together_never_lower_a_dose_below_what_is_tasted(model, kcal, cost):
    free = ask(model)
    limits = {"max_added_kcal": kcal * free.added_kcal, "max_added_cost": cost * free.added_cost}
    try:
        one = ask(model, **limits)
    except BriefError:
        assert cost == 0.5
        return
    assert min(shares(model, one)) >= 0.6 - 1e-9
    assert one.added_kcal <= limits["max_added_kcal"] * (1 + 1e-9)
    assert one.added_cost <= limits["max_added_cost"] * (1 + 1e-9)


def test_alcohol_of_the_base_is_not_taken_for_that_of_the_flavourings(model):
    from pairing.nutrition.serving import serving

    def pct(one):
        return serving(one.recipe, model.shelf).ethanol_pct_vv

    limit = pct(ask(model, base="cider")) - 0.3 * pct(ask(model))
    assert pct(ask(model, base="cider", max_ethanol_pct_vv=limit)) <= limit
