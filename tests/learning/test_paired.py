"""Blind comparisons as evidence."""

import numpy as np
import pandas as pd
import pytest
from scipy.special import log_ndtr
from scipy.stats import norm
from small_logs import cup, learn, needed

from pairing.errors import TableError
from pairing.learning.paired import log_chance, working_gap
from pairing.model.recipe import Recipe

SHARES = np.array([1.0, 0.0, 0.5, 1.0])
GAPS = np.array([0.4, 0.4, -0.2, -1.5])


def chance(gap, scale):
    return SHARES * log_ndtr(gap / scale) + (1 - SHARES) * log_ndtr(-gap / scale)


def test_score_and_information_are_derivatives():
    score, information = working_gap(SHARES, GAPS, 0.7)
    h = 1e-4
    less, same, more = (chance(GAPS + d, 0.7) for d in (-h, 0.0, h))
    np.testing.assert_allclose(score, (more - less) / (2 * h), rtol=1e-5)
    np.testing.assert_allclose(information, -(more - 2 * same + less) / h**2, rtol=1e-4)


def test_the_derivative_by_the_log_scale():
    value, slope = log_chance(SHARES, GAPS, 0.7)
    h = 1e-5
    np.testing.assert_allclose(value, chance(GAPS, 0.7))
    np.testing.assert_allclose(
        slope, (chance(GAPS, 0.7 * np.exp(h)) - chance(GAPS, 0.7 * np.exp(-h))) / (2 * h), rtol=1e-5
    )


def comparisons(question, left, right, answers):
    return pd.DataFrame(
        {
            "check_id": "c",
            "serving": range(1, len(answers) + 1),
            "question": question,
            "left": left,
            "right": right,
            "answer": answers,
        }
    )


CUPS = [cup("oat", {"quince": 2.0}, 3, 5), cup("milk", {"quince": 2.0}, 3, 5), cup("oat", {"rose": 4.0}, 3, 5)]


def test_the_base_in_which_it_tastes_stronger_needs_less():
    """Equal doses, and milk is picked as the stronger cup: milk holds back less."""
    checks = comparisons("stronger", "milk|quince=2", "oat|quince=2", ["left"] * 16 + ["right"] * 2)
    plain, told = learn(*CUPS), learn(*CUPS, comparisons=checks)

    def ratio(model):
        return needed(model, "milk")["dose_g_per_kg"] / needed(model, "oat")["dose_g_per_kg"]

    assert ratio(plain) == pytest.approx(1.0, abs=0.1)
    assert ratio(told) < 0.85
    other = comparisons("stronger", "milk|quince=2", "oat|quince=2", ["right"] * 16 + ["left"] * 2)
    assert ratio(learn(*CUPS, comparisons=other)) > 1.15


def test_sides_may_be_trials_of_the_log():
    checks = comparisons("stronger", "t001", "t000", ["left"] * 16)
    recipes = comparisons("stronger", "milk|quince=2", "oat|quince=2", ["left"] * 16)
    one, other = learn(*CUPS, comparisons=checks), learn(*CUPS, comparisons=recipes)
    pd.testing.assert_frame_equal(one.needed_dose(), other.needed_dose())


def test_what_is_preferred_is_liked_more():
    asked = [Recipe("oat", {"quince": None}), Recipe("oat", {"rose": None})]
    even, told, other = (
        np.diff(learn(*CUPS, comparisons=checks).predict(asked)["liking"])[0]
        for checks in (
            None,
            comparisons("prefer", "t000", "t002", ["left"] * 14 + ["right"]),
            comparisons("prefer", "t000", "t002", ["right"] * 14 + ["left"]),
        )
    )
    assert told < even - 0.2
    assert other > even + 0.2


def test_a_preference_of_so_many_is_a_gap_of_so_many_points():
    """Thurstone's case V: the left is picked with chance Φ(gap ÷ √2 σ), where σ is the spread of one score."""
    share = 0.8
    checks = comparisons("prefer", "oat|quince=2", "oat|rose=4", ["left"] * 3200 + ["right"] * 800)
    model = learn(comparisons=checks)
    asked = model.response.encode(["oat"] * 2, [("quince",), ("rose",)], [(2.0,), (4.0,)])
    left, right = model.response.predict_encoded(asked)[0]
    assert left - right == pytest.approx(norm.ppf(share) * np.sqrt(2) * model.response.noise_sd, rel=0.02)


def test_comparisons_tell_nothing_of_the_spread_of_a_score():
    rng = np.random.default_rng(0)
    cups = [cup("oat", {f: d}, 3, 5.5 + 0.8 * rng.normal()) for f, d in (("quince", 2.0), ("rose", 4.0)) * 30]
    even = comparisons("prefer", "oat|quince=2", "oat|rose=4", ["left"] * 120 + ["right"] * 120)
    plain, told = learn(*cups), learn(*cups, comparisons=even)
    assert told.response.noise_sd == pytest.approx(plain.response.noise_sd, rel=0.03)
    assert learn(comparisons=even).response.noise_sd == pytest.approx(learn().response.noise_sd)


def test_ties_say_that_two_cups_are_alike_and_nothing_more():
    asked = [Recipe("oat", {"quince": None}), Recipe("oat", {"rose": None})]
    cups = [*CUPS, cup("oat", {"quince": 2.0}, 3, 7), cup("oat", {"rose": 4.0}, 3, 3)]
    ties = comparisons("prefer", "t000", "t002", ["tie"] * 20)
    before, after = (np.diff(learn(*cups, comparisons=c).predict(asked)["liking"])[0] for c in (None, ties))
    assert before < -0.3
    assert before < after < 0


def test_variances_of_a_huge_log_are_learned_from_scores(monkeypatch):
    """Compared cups have no rows of their own to be chosen."""
    chosen = []
    monkeypatch.setattr("pairing.learning.liking_fit.variance_rows", lambda cups, n: chosen.append(len(cups)))
    learn(*CUPS, comparisons=comparisons("prefer", "t000", "t002", ["left"] * 5))
    assert chosen == [len(CUPS)]


def test_comparisons_alone_are_enough():
    checks = comparisons("prefer", "oat|quince=2", "oat|rose=4", ["left"] * 12 + ["right"] * 2)
    liking = learn(comparisons=checks).predict([Recipe("oat", {"quince": 2.0}), Recipe("oat", {"rose": 4.0})])
    assert liking["liking"][0] > liking["liking"][1]
    assert np.isfinite(liking.to_numpy()).all()


@pytest.mark.parametrize(("left", "answer", "match"), [("t9", "left", "t9"), ("oat|quince=2", "leftish", "leftish")])
def test_what_cannot_be_understood_is_refused(left, answer, match):
    with pytest.raises(TableError, match=match):
        learn(*CUPS, comparisons=comparisons("stronger", left, "t000", [answer]))


def near_target(answers, targets=("reference",)):
    """Likeness of quince less that of rose, after blind checks of which is closer."""
    cups = [
        cup("oat", {f: d}, 3, None, likeness=5.0, target_id=target)
        for target in targets
        for f, d in (("quince", 2.0), ("rose", 4.0))
    ]
    model = learn(*cups, comparisons=comparisons("closer", "t000", "t001", answers))
    near = model.likeness_to("reference")
    found = near.on_scale(near.encode(["oat"] * 2, [("quince",), ("rose",)]))[0]
    return float(found[0] - found[1])


def test_the_cup_that_was_closer_is_more_like_the_target():
    assert near_target(["left"] * 14 + ["right"]) > 0.2
    assert near_target(["right"] * 14 + ["left"]) < -0.2


def test_closer_to_one_of_several_targets_says_nothing():
    assert abs(near_target(["left"] * 14 + ["right"], targets=("reference", "other"))) < 1e-6
