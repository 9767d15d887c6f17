"""A rule is a prior, not a verdict: the log corrects it."""

import numpy as np
import pytest
from small_logs import cup, learn, needed

from pairing.api import Rule
from pairing.learned.stored import pack, unpack
from pairing.model.recipe import Recipe

FRUIT_AND_FLOWER = Recipe("oat", {"quince": None, "rose": None})


def rule(name="fruit-and-flower", acts_on="liking", mean=1.0, sd=0.5, feature=None, **more):
    def together(table):
        return (table.any(table.described("fruit")) & table.any(table.described("flower"))) * 1.0

    return Rule(
        id=name,
        summary="Fruit goes with flowers",
        source="from memory",
        acts_on=acts_on,
        feature=feature or together,
        because=lambda recipe: "fruit goes with flowers",
        prior_mean=mean,
        prior_sd=sd,
        **more,
    )


def weight(model, row=0):
    return model.rule_weights().iloc[row]


def predicted(model, recipe=FRUIT_AND_FLOWER):
    return float(model.predict([recipe])["liking"].iloc[0])


def cups(pair_score, n):
    singles = [cup("oat", {"quince": 2.0}, 3, 5), cup("oat", {"rose": 4.0}, 3, 5), cup("oat", {"clove": 1.0}, 3, 5)]
    others = [cup("oat", {"clove": 1.0, "smoke": 0.5}, 3, 5), cup("oat", {"quince": 2.0, "clove": 1.0}, 3, 5)]
    return singles * 4 + others * 3 + [cup("oat", {"quince": 2.0, "rose": 4.0}, 3, pair_score)] * n


def test_without_cups_a_rule_weighs_what_it_expects():
    model = learn(rules=[rule()])
    assert weight(model)["learned_mean"] == 1.0
    assert weight(model)["learned_sd"] == 0.5
    assert predicted(model) - predicted(learn()) == pytest.approx(1.0, abs=0.35)  # the scale's ends pull in


def test_the_log_moves_the_weight_its_way():
    sour, sweet = (learn(*cups(score, 6), rules=[rule()]) for score in (2, 8))
    assert weight(sour)["learned_mean"] < 1.0 < weight(sweet)["learned_mean"]
    assert weight(sour)["learned_sd"] < 0.5
    assert weight(sour)["prior_mean"] == 1.0


def test_a_contradicted_rule_ends_near_its_data():
    """The rule promises +2; two dozen cups of three pairs say −2."""
    wrong = rule(mean=2.0, sd=1.0, feature=lambda table: (table.n_flavourings > 1) * 1.0)
    singles = [cup("oat", {f: d}, 3, 6) for f, d in (("quince", 2.0), ("clove", 1.0), ("smoke", 0.5), ("rose", 4.0))]
    pairs = [
        cup("oat", doses, 3, 4)
        for doses in (
            {"quince": 2.0, "clove": 1.0},
            {"smoke": 0.5, "rose": 4.0},
            {"quince": 2.0, "rose": 4.0},
            {"clove": 1.0, "smoke": 0.5},
        )
    ]
    model = learn(*singles * 6, *pairs * 6, rules=[wrong])
    pair = Recipe("oat", {"quince": None, "rose": None})
    assert predicted(model, pair) == pytest.approx(4.0, abs=0.5)
    assert weight(model)["learned_mean"] < 0.7
    free = learn(*singles * 6, *pairs * 6)
    assert predicted(model, pair) == pytest.approx(predicted(free, pair), abs=0.4)


def test_a_surer_rule_gives_way_later():
    means = [weight(learn(*cups(2, 6), rules=[rule(sd=sd)]))["learned_mean"] for sd in (0.05, 0.5, 2.0)]
    assert means[0] > means[1] > means[2]


def test_a_rule_on_dose_shifts_the_needed_dose():
    more = rule(acts_on="dose", mean=0.7, sd=0.3, feature=lambda table: (table.base_index == 1) * 1.0)

    def ratio(model):
        return needed(model, "milk")["dose_g_per_kg"] / needed(model, "oat")["dose_g_per_kg"]

    assert ratio(learn(rules=[more])) == pytest.approx(2.0, rel=0.05)
    labels, words = (("quince", 2.0), ("clove", 1.0), ("rose", 4.0)), ((0.6, 1), (1.0, 3), (1.7, 5))
    cups = [cup(b, {f: k * d}, w) for b in ("oat", "milk") for f, d in labels for k, w in words]
    told = learn(*cups * 2, rules=[more])
    assert weight(told)["learned_mean"] < 0.5
    assert ratio(told) == pytest.approx(1.0, abs=0.15)


def test_a_rule_for_a_column_of_the_model_informs_that_column():
    held = rule(acts_on="dose", mean=0.6, sd=0.01, feature=lambda table: np.zeros(len(table)), column="companions")
    with_rule, without = learn(rules=[held]), learn()

    def gain(model):
        return np.log(needed(model, alongside=["rose"])["dose_g_per_kg"] / needed(model)["dose_g_per_kg"])

    assert gain(with_rule) == pytest.approx(0.6, abs=0.02)
    assert gain(without) < 0.3
    assert len(with_rule.rule_weights()) == 1


def test_what_a_rule_lacks_is_kept_with_the_learned_state():
    model = learn(*cups(7, 1), rules=[rule("sour", needs=("base_ph",), feature=lambda t: np.ones(len(t)))])
    again = unpack(pack(model), model.shelf, model.log, model.rules)
    assert again.faults == model.faults
    assert {i for fault in model.faults for i in fault.ids} <= set(model.shelf.bases)
    assert any("base_ph is unknown: " in fault.line for fault in again.faults)


def test_rules_that_say_nothing_change_nothing():
    silent = rule(feature=lambda table: np.zeros(len(table)))
    one, two = learn(*cups(7, 3)), learn(*cups(7, 3), rules=[silent])
    assert predicted(one) == pytest.approx(predicted(two), abs=1e-9)
    assert weight(two)["learned_mean"] == weight(two)["prior_mean"]
