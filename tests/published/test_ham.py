"""People as tasters: consumer ratings of four products on the 9-point scale.

*open data*: Næs, Lengard, Bølling Johansen & Hersleth (2010), Food Quality and Preference 21, from the R package
lmerTest (GPL-2 or later). On the split below the root mean squared error is 2.4245 for the average, 2.3969 for product
means and 1.8120 for a mixed model with consumer and product × consumer; a model without personal taste cannot get
there. The crossed design with product and information as fixed effects, fitted by restricted maximum likelihood with
lme4: sd of product × consumer 1.7759, of consumer 0.6112, residual 1.2977.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import pairing
from pairing import Recipe
from pairing.learning.evidence import BlockRegression

HAM = pd.read_csv(Path(__file__).with_name("data") / "ham.csv")
SCORE = HAM["Informed.liking"].to_numpy(float)


@pytest.fixture(scope="module")
def parts():
    order = np.random.default_rng(0).permutation(len(HAM))
    return HAM.iloc[order[:518]], HAM.iloc[order[518:]]


@pytest.fixture(scope="module")
def model(parts):
    train, _ = parts
    products = [f"ham-{i}" for i in sorted(HAM["Product"].unique())]
    readings = pd.DataFrame(
        {
            "trial_id": [f"t{i}" for i in train.index],
            "base_id": "plain",
            "flavouring_id": "ham-" + train["Product"].astype(str),
            "dose_g_per_kg": 10.0,
            "taster": "consumer-" + train["Consumer"].astype(str),
            "liking": train["Informed.liking"],
        }
    )
    bases = pd.DataFrame({"base_id": ["plain"], "name": ["Plain"]})
    flavourings = pd.DataFrame({"flavouring_id": products, "name": products, "label_dose_g_per_kg": 10.0})
    return pairing.learn(bases, flavourings, readings, random_state=0)


def error(guess, test):
    return float(np.sqrt(np.mean((guess - test["Informed.liking"].to_numpy()) ** 2)))


def asked(test):
    return [Recipe("plain", {f"ham-{i}": None}) for i in test["Product"]]


def test_the_split_is_the_one_that_was_measured(parts):
    train, test = parts
    assert error(train["Informed.liking"].mean(), test) == pytest.approx(2.4245, abs=1e-3)
    means = train.groupby("Product")["Informed.liking"].mean()
    assert error(test["Product"].map(means).to_numpy(), test) == pytest.approx(2.3969, abs=1e-3)


def test_personal_taste_is_learned(model, parts):
    _, test = parts
    found = model.predict(asked(test), [f"consumer-{i}" for i in test["Consumer"]])
    assert error(found["liking"].to_numpy(), test) <= 1.82
    without = model.predict(asked(test))
    assert error(without["liking"].to_numpy(), test) > 2.3


def test_intervals_hold_the_scores(model, parts):
    _, test = parts
    who = [f"consumer-{i}" for i in test["Consumer"]]
    encoded = model.response.encode(["plain"] * len(test), [tuple(r.doses) for r in asked(test)], None, who)
    mean, sd = model.response.predict_encoded(encoded)
    inside = np.abs(mean - test["Informed.liking"].to_numpy()) <= 1.2816 * np.hypot(sd, model.response.noise_sd)
    assert 0.72 < inside.mean() < 0.90


def test_the_solver_gives_the_published_variances():
    consumer = pd.factorize(HAM["Consumer"])[0]
    both = consumer * 4 + pd.factorize(HAM["Product"])[0]
    product, information = (pd.get_dummies(HAM[c], drop_first=True).to_numpy(float) for c in ("Product", "Information"))
    x = np.hstack([product, information, np.eye(81)[consumer], np.eye(324)[both]])
    model = BlockRegression([-2] * 4 + [0] * 81 + [1] * 324, tol=1e-8).fit(x, SCORE)
    assert np.sqrt(model.block_var_) == pytest.approx([0.6112, 1.7759], abs=2e-3)
    assert np.sqrt(model.noise_var_) == pytest.approx(1.2977, abs=1e-3)
    assert [model.intercept_, *model.coef_[:4]] == pytest.approx([5.7083, -0.7037, 0.2840, 0.1173, 0.2006], abs=2e-3)
