"""A prediction taken apart: the points are the prediction, to the last decimal."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from small_logs import cup, learn, table

from pairing.api import Rule
from pairing.learned import learn_shelf
from pairing.learning.scatter import Scatter
from pairing.model.recipe import Recipe
from pairing.store.exchange import clean

KINDS = {"average", "base", "flavouring", "affinity", "pair", "family", "taster", "dose", "rule", "bounds"}


def crowd_rule():
    return Rule(
        id="lab:crowd",
        summary="Crowds are pleasant",
        source="from memory",
        acts_on="liking",
        feature=lambda table: (table.n_flavourings > 1) * 1.0,
        because=lambda recipe: "a crowd",
        prior_mean=0.5,
        prior_sd=0.3,
    )


def cups(tasters=("me",)):
    out = []
    for t in tasters:
        out += [cup("oat", {"quince": 2.0}, 3, 9, taster=t), cup("milk", {"quince": 2.0}, 4, 8, taster=t)] * 3
        out += [cup("oat", {"quince": 1.0, "rose": 4.0}, {"quince": 1, "rose": 3}, 9, taster=t)] * 2
        out += [cup("rice", {"smoke": 0.5}, 5, 1, taster=t), cup("rice", {}, None, 4, taster=t)] * 2
    return out


MODELS = {
    "one taster": lambda: learn(*cups()),
    "tasters": lambda: learn(*cups(("ana", "ben", "cyd"))),
    "many tasters": lambda: learn(*cups([f"p{i}" for i in range(30)])),
    "rules": lambda: learn(*cups(("ana", "ben")), rules=[crowd_rule()]),
    "nothing logged": learn,
}
RECIPES = [
    Recipe("oat", {"quince": None}),
    Recipe("oat", {"quince": 2.0, "rose": None}),
    Recipe("milk", {"quince": 30.0, "smoke": 9.0}),  # far too strong: the scale ends
    Recipe("rice", {}),
    Recipe("milk", {"rose": 1.0, "clove": 0.2, "quince": 1.0, "smoke": None}),  # mostly never tried
]


@pytest.mark.parametrize("name", MODELS)
def test_points_add_up_to_the_prediction_exactly(name):
    model = MODELS[name]()
    for taster in (None, model.log.tasters[0] if model.log.tasters else "me", "somebody new"):
        for recipe in RECIPES:
            parts = model.explain(recipe, taster)
            predicted = float(model.predict([recipe], taster)["liking"].iloc[0])
            assert float(parts["points"].sum()) == pytest.approx(predicted, abs=1e-9)
            assert set(parts["kind"]) <= KINDS
            assert (parts["sd"] >= 0).all()
            assert not parts.isna().any().any()
            named = list(parts["flavouring_ids"])
            assert all(len(set(ids)) == len(ids) and set(ids) <= set(recipe.doses) for ids in named)
            assert all(len(ids) <= 1 for ids in parts.loc[parts["kind"] == "affinity", "flavouring_ids"])


def test_the_ends_of_the_scale_take_away_what_is_beyond_them():
    model = MODELS["one taster"]()
    parts = model.explain(Recipe("milk", {"quince": 200.0, "smoke": 90.0})).set_index("kind")
    assert parts.loc["bounds", "points"] > 0.5
    dose = parts.loc["dose", "points"]
    assert np.sum(dose) < -2


def test_parts_are_named_as_people_know_them():
    model = MODELS["tasters"]()
    parts = model.explain(Recipe("oat", {"quince": 2.0, "rose": 4.0}))
    kinds = dict(zip(parts["part"], parts["kind"], strict=True))
    assert kinds["oat"] == "base"
    assert kinds["quince"] == "flavouring"
    assert kinds["quince in oat"] == "affinity"
    assert kinds["quince + rose"] == "pair"
    assert kinds["fruit family"] == "family"
    assert not parts.duplicated(["part", "kind"]).any()


def test_a_rule_has_its_own_line():
    model = MODELS["rules"]()
    pair, single = (model.explain(Recipe("oat", doses)) for doses in ({"quince": 2.0, "rose": 4.0}, {"quince": 2.0}))
    assert (pair["kind"] == "rule").sum() == 1
    assert "rule" not in set(single["kind"])


def test_a_well_known_flavouring_is_credited_with_more_than_one_never_tried():
    model = MODELS["one taster"]()
    known = model.explain(Recipe("oat", {"quince": None})).set_index("part")
    unknown = model.explain(Recipe("oat", {"clove": None})).set_index("part")
    assert known.loc["quince", "points"] > unknown.loc["clove", "points"] + 0.3
    assert known.loc["quince", "sd"] < unknown.loc["clove", "sd"]


# --- what a prediction leans on --------------------------------------------------------------------------------------


def test_a_prediction_leans_on_the_scores_of_the_same_cup_first():
    others = [cup("milk", {"rose": 4.0}, 3, 5), cup("rice", {"smoke": 0.5}, 3, 4), cup("milk", {"quince": 2.0}, 3, 6)]
    model = learn(*others, cup("oat", {"quince": 2.0}, 3, 8, trial_id="same"), *others)
    leans = model.leans_on(Recipe("oat", {"quince": None}), n=3)
    assert leans["trial_id"].iloc[0] == "same"
    assert leans["liking"].iloc[0] == 8
    assert (np.diff(leans["weight"].abs()) <= 1e-12).all()


def test_a_long_log_is_looked_through_in_pieces(monkeypatch):
    model = learn(*cups(("ana", "ben")))
    whole = model.leans_on(Recipe("oat", {"quince": None}), n=6)
    monkeypatch.setattr("pairing.learning.response.AT_A_TIME", 3)
    pd.testing.assert_frame_equal(model.leans_on(Recipe("oat", {"quince": None}), n=6), whole)


def test_a_score_weighs_by_how_far_its_taster_scatters():
    model = learn(*cups(("ana", "ben")))
    uneven = replace(model, liking=replace(model.liking, scatter=Scatter(np.array([1.0, 4.0]))))
    one, other = (
        m.leans_on(Recipe("oat", {"quince": None}), n=100).set_index("trial_id")["weight"] for m in (model, uneven)
    )
    share = {"ana": 1.0, "ben": 0.25}
    told = model.leans_on(Recipe("oat", {"quince": None}), n=100).set_index("trial_id")["taster"].map(share)
    assert np.allclose(other, (one * told)[other.index], rtol=1e-12)


def test_the_weight_is_what_one_more_point_moves():
    """Lower one score by half a point, with variances held: the prediction moves by half of that score's weight."""
    base = cups(("ana", "ben"))
    model = learn(*base)
    row = model.leans_on(Recipe("oat", {"quince": None}), n=1).iloc[0]
    which = int(row["trial_id"][1:])
    lower = [{**r, "liking": r["liking"] - 0.5} for r in base[which]]
    readings = table(*base[:which], lower, *base[which + 1 :])
    changed = learn_shelf(model.shelf, clean("readings", readings).table, start=model)
    assert changed.response.noise_sd == pytest.approx(model.response.noise_sd, rel=1e-12)

    def mean(m):
        return float(m.response.predict_encoded(m.response.encode(["oat"], [("quince",)]))[0][0])

    assert row["weight"] > 0.05
    assert mean(model) - mean(changed) == pytest.approx(0.5 * row["weight"], rel=0.1)
