"""Needed doses: which way each word moves them, and how sure the answer is."""

import numpy as np
import pytest
from simulated import CUTS, make_palate
from small_logs import BASES, FLAVOURINGS, cup, learn, needed

from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes


def once(dose, word, **more):
    return cup("oat", {"quince": dose}, word, **more)


def test_without_readings_the_label_is_the_guess_and_a_wide_one():
    row = needed(learn())
    assert row["label_ratio"] == pytest.approx(1.0, abs=0.1)
    assert row["log_sd"] > 0.4
    assert row["readings"] == 0


def test_every_word_moves_the_dose_its_way():
    """At the label dose: the weaker the word, the more is needed."""
    doses = [needed(learn(once(2.0, word)))["dose_g_per_kg"] for word in range(6)]
    assert (np.diff(doses) < 0).all()
    assert doses[0] > 1.2 * 2.0
    assert doses[5] < 2.0 / 1.2
    assert doses[3] == pytest.approx(2.0, rel=0.1)


def test_just_right_far_from_the_label_is_believed_more_with_every_cup():
    doses = [needed(learn(*[once(6.0, 3)] * n))["dose_g_per_kg"] for n in (1, 3, 8)]
    assert 2.0 < doses[0] < doses[1] < doses[2]
    assert doses[2] == pytest.approx(6.0, rel=0.15)


def test_readings_narrow_the_interval_and_say_how_many():
    rows = [needed(learn(*[once(2.0, 3)] * n)) for n in (0, 1, 6)]
    assert rows[0]["log_sd"] > rows[1]["log_sd"] > rows[2]["log_sd"]
    assert [r["readings"] for r in rows] == [0, 1, 6]
    for row in rows:
        assert row["low"] < row["dose_g_per_kg"] < row["high"]
        assert np.log(row["high"] / row["low"]) == pytest.approx(2 * 1.2816 * row["log_sd"], rel=1e-3)


def test_a_log_of_nothing_but_what_was_right_is_believed():
    """Who writes down only the doses that worked still learns them, and 'just right' does not become any dose."""
    doses = {"quince": 4.0, "clove": 1.6, "smoke": 0.5, "rose": 3.0}
    model = learn(*[cup(b, {f: d}, 3) for f, d in doses.items() for b in ("oat", "milk") for _ in range(8)])
    for flavouring, dose in doses.items():
        row = needed(model, "oat", flavouring)
        assert row["dose_g_per_kg"] == pytest.approx(dose, rel=0.15)
        assert row["log_sd"] < 0.25
    assert model.strength_params.thresholds[3] <= 0.5


def test_all_sips_count_also_those_before_it_was_right():
    sips = [once(d, w, trial_id="x") for d, w in ((2.0, 1), (2.8, 1), (3.9, 2), (5.5, 3))]
    last = learn(sips[-1])
    whole = learn(*sips)
    assert needed(whole)["dose_g_per_kg"] > needed(last)["dose_g_per_kg"]
    assert needed(whole)["log_sd"] < needed(last)["log_sd"]


def test_what_is_learned_in_one_base_reaches_another_less_surely():
    model = learn(*[once(5.0, 3)] * 5)
    here, there, other = needed(model), needed(model, "milk"), needed(model, "milk", "rose")
    assert 1.3 < there["label_ratio"] < here["label_ratio"]
    assert 1.0 < other["label_ratio"] < there["label_ratio"]
    assert here["log_sd"] < there["log_sd"] < other["log_sd"]


def test_not_detected_up_to_the_limit_is_not_reachable():
    faint = FLAVOURINGS.assign(max_dose_g_per_kg=[5.0, 5, 5, 20])
    model = learn(*[once(d, 0) for d in (1.0, 2.0, 3.0, 4.0, 5.0, 5.0)], flavourings=faint)
    row = needed(model)
    assert not row["reachable"]
    assert row["dose_g_per_kg"] > 5.0
    assert np.isfinite(row[["dose_g_per_kg", "low", "high"]].to_numpy(float)).all()
    assert needed(model, "oat", "rose")["reachable"]


def test_what_read_just_right_at_the_highest_dose_is_reachable():
    """The estimate may lie a little above the highest dose tried, where that dose itself read 'just right'."""
    row = needed(learn(*[once(d, 0) for d in (2.0, 4.0, 6.0)], *[once(9.0, 3)] * 6))
    assert row["dose_g_per_kg"] == pytest.approx(9.0, rel=0.15)
    assert row["reachable"]


def test_without_a_stated_limit_three_labels_or_what_was_tried_is_as_far_as_one_goes():
    assert not needed(learn(*[once(d, 0) for d in (2.0, 4.0, 6.0, 6.0, 6.0)]))["reachable"]
    assert needed(learn(*[once(d, 2) for d in (2.0, 4.0, 6.0)], *[once(9.0, 4)] * 6))["reachable"]


def test_a_new_version_starts_from_its_parent_and_is_wider():
    new = FLAVOURINGS.assign(version_of=[None, None, "quince", None], label_dose_g_per_kg=[2.0, 1.0, 2.0, 4.0])
    model = learn(*[once(5.0, 3)] * 6, flavourings=new)
    parent, child, stranger = (needed(model, "oat", f) for f in ("quince", "smoke", "rose"))
    assert stranger["label_ratio"] < child["label_ratio"]
    assert child["dose_g_per_kg"] == pytest.approx(parent["dose_g_per_kg"], rel=0.2)
    assert 1.1 * parent["log_sd"] < child["log_sd"] < stranger["log_sd"]


def test_in_one_base_only_what_is_its_own_makes_a_new_version_wider():
    new = FLAVOURINGS.assign(version_of=[None, None, "quince", None], family="fruit", label_dose_g_per_kg=2.0)
    model = learn(*[once(d, w) for d, w in ((3.0, 1), (5.0, 3), (8.0, 5))] * 4, bases=BASES.iloc[:1], flavourings=new)
    parent, child, stranger = (needed(model, "oat", f)["log_sd"] for f in ("quince", "smoke", "rose"))
    assert 1.2 * parent < child < stranger


def test_a_new_version_of_a_base_starts_from_its_parent_and_is_wider():
    new = BASES.assign(version_of=[None, None, "oat"])
    cups = [cup("oat", {f: r * d}, 3) for f, d in (("quince", 2), ("clove", 1), ("rose", 4)) for r in (2.4, 2.6)]
    cups += [cup("milk", {f: d}, 3) for f, d in (("quince", 2.0), ("clove", 1.0), ("rose", 4.0)) for _ in range(2)]
    factors = learn(*cups, bases=new).base_factor().set_index("base_id")
    assert factors.loc["rice", "factor"] > 1.2 > factors.loc["milk", "factor"]
    model = learn(*cups, bases=new)
    assert needed(model, "rice", "smoke")["log_sd"] > needed(model, "oat", "smoke")["log_sd"]


def test_base_factors_average_to_one_over_the_logged_bases():
    cups = [cup(b, {"quince": d}, 3) for b, d in (("oat", 2.0), ("milk", 4.0)) for _ in range(4)]
    factors = learn(*cups).base_factor().set_index("base_id")
    logged = factors.loc[["oat", "milk"], "factor"]
    assert np.log(logged).mean() == pytest.approx(0.0, abs=1e-9)
    assert logged["milk"] > 1.1
    assert (factors["low"] < factors["factor"]).all()
    assert (factors["factor"] < factors["high"]).all()
    wide = np.log(factors["high"] / factors["low"])
    assert wide["rice"] > wide["milk"]


def test_a_taster_who_calls_everything_weak_does_not_move_the_average_taster_alone():
    """Two tasters disagree about the same cups: the needed dose is between them."""
    cups = [cup("oat", {"quince": 2.0}, w, taster=t) for t, w in (("ana", 1), ("ben", 3)) for _ in range(8)]
    model = learn(*cups)
    mean = needed(model)["dose_g_per_kg"]
    alone = needed(learn(*[once(2.0, 1)] * 8))["dose_g_per_kg"]
    assert 2.0 < mean < alone
    recipes = Recipes.from_ids(model.shelf, ["oat"], [("quince",)], None)
    ana, ben = (float(model.strength.needed(recipes, model.response.who(1, t))[0][0, 0]) for t in ("ana", "ben"))
    assert ben < np.log(mean) < ana
    stranger = model.strength.needed(recipes, model.response.who(1, "new"))
    assert float(stranger[1][0, 0]) > needed(model)["log_sd"]


def test_companions_ask_for_more():
    alone = [once(2.0, 3)] * 4 + [once(3.6, 5)] * 4 + [cup("oat", {"rose": 4.0}, 3), cup("oat", {"rose": 7.2}, 5)] * 4

    def gain(*words):
        both = [cup("oat", {"quince": q, "rose": 2 * q}, w) for q, w in zip((2.0, 3.6), words, strict=True)]
        model = learn(*alone, *both * 6)
        return np.log(needed(model, alongside=["rose"])["dose_g_per_kg"] / needed(model)["dose_g_per_kg"])

    assert gain(1, 3) > 0.12
    assert abs(gain(3, 5)) < 0.06


def test_what_steps_add_is_told_from_the_dose():
    """Stepped cups read stronger at the same dose: the offset takes it, the needed dose is for fresh cups."""
    rng = np.random.default_rng(0)
    cups = []
    for i in range(60):
        stepped, dose = i % 2 == 1, float(np.exp(rng.normal(np.log(2.0), 0.3)))
        heard = np.log(dose / 2.0) + 0.25 * stepped + 0.2 * rng.standard_normal()
        cups.append(once(dose, int(np.searchsorted(CUTS, heard)), stepped="yes" if stepped else "no"))
    model = learn(*cups)
    assert model.strength_params.stepped > 0.06
    assert needed(model)["dose_g_per_kg"] == pytest.approx(2.0, rel=0.15)


@pytest.fixture(scope="module")
def tasted():
    palate = make_palate(11, 8, 40, cup_sd=0.0)
    log = palate.log(250, np.random.default_rng(11))
    return palate, learn(log, bases=palate.bases_df, flavourings=palate.flavourings_df)


def test_thresholds_and_perception_are_recovered_from_a_log(tasted):
    palate, model = tasted
    params = model.strength_params
    np.testing.assert_allclose(params.thresholds[1:], CUTS[1:], atol=0.15)
    assert params.scale == pytest.approx(palate.strength_noise_sd, rel=0.3)
    assert params.thresholds[2] == -params.thresholds[3]


def test_doses_never_tried_are_nearer_than_the_label_and_intervals_cover(tasted):
    palate, model = tasted
    table = model.needed_dose()
    cells = zip(table["base_id"], table["flavouring_id"], strict=True)
    truth = np.array([palate.true_log_dose(*cell) for cell in cells])
    untried = (table["readings"] == 0).to_numpy()
    assert untried.sum() > 20
    error = (np.log(table["dose_g_per_kg"]) - truth).to_numpy()
    label = error - np.log(table["label_ratio"]).to_numpy()
    assert np.sqrt((error[untried] ** 2).mean()) < 0.75 * np.sqrt((label[untried] ** 2).mean())
    inside = np.abs(error) < 1.2816 * table["log_sd"]
    assert 0.70 < inside.mean() < 0.92
    assert np.sqrt((error[~untried] ** 2).mean()) < np.sqrt((error[untried] ** 2).mean())


def test_fat_loving_flavourings_need_more_in_fat_when_the_log_says_so(tasted):
    palate, model = tasted
    fat = palate.bases_df["fat_g_per_100g"].to_numpy()
    loving = palate.flavourings_df["fat_loving"].to_numpy()
    lean, rich = palate.base_ids[int(fat.argmin())], palate.base_ids[int(fat.argmax())]
    table = model.needed_dose([lean, rich]).set_index(["base_id", "flavouring_id"])["dose_g_per_kg"]
    gain = np.log(table[rich].to_numpy() / table[lean].to_numpy())
    assert np.corrcoef(gain, loving)[0, 1] > 0.3


def test_a_prediction_at_the_needed_dose_is_better_than_off_it():
    spread = ((-0.7, 1), (0.0, 3), (0.7, 5))
    cups = [cup("oat", {"quince": 2.0 * np.exp(z)}, w, 7 - 2 * z * z) for z, w in spread for _ in range(5)]
    model = learn(*cups)
    best, weak, strong, much = model.predict([Recipe("oat", {"quince": d}) for d in (2.0, 1.0, 4.0, 8.0)])["liking"]
    assert best > weak
    assert best > strong > much


@pytest.mark.parametrize("n", [1, 3, 9])
def test_what_is_never_detected_needs_more_however_often_it_was_tried(n):
    cups = [cup(b, {f: 2.0}, 0, 1) for b in ("oat", "milk") for f in ("quince", "clove", "rose", "smoke")] * n
    rows = learn(*cups).needed_dose(["oat", "milk"])
    assert (rows["dose_g_per_kg"] > 4).all()
    assert not rows.loc[rows["flavouring_id"] == "smoke", "reachable"].any()


def test_without_a_label_the_dose_is_a_wide_guess_by_form():
    bare = FLAVOURINGS.assign(form=["syrup", "drops", None, None], label_dose_g_per_kg=[np.nan, 1.0, 2.0, 4.0])
    model = learn(*[cup("oat", {"smoke": d}, s) for d, s in [(1.0, 2), (2.0, 3), (4.0, 4)]], flavourings=bare)
    guess, labelled = (model.needed_dose(["oat"], [name]).iloc[0] for name in ("quince", "clove"))
    assert 15 < guess["dose_g_per_kg"] < 60
    assert guess["log_sd"] > labelled["log_sd"]
    assert guess["high"] / guess["low"] > 10
    assert np.isnan(guess["label_ratio"])


def test_a_guessed_dose_is_corrected_by_the_log_and_gets_surer():
    """A flavouring without a label: what form and carrier make one expect is wide, until cups tell."""
    unlabelled = FLAVOURINGS.assign(
        label_dose_g_per_kg=FLAVOURINGS["label_dose_g_per_kg"].where(FLAVOURINGS["flavouring_id"] != "rose")
    )
    told = [cup("oat", {"quince": 2.0}, 3, 6)] * 4
    few = learn(*told, flavourings=unlabelled).needed_dose("oat", "rose").iloc[0]
    many = (
        learn(*told, *[cup("oat", {"rose": 4.0}, 3, 6)] * 12, flavourings=unlabelled).needed_dose("oat", "rose").iloc[0]
    )
    assert few["log_sd"] > 0.9
    assert many["log_sd"] < 0.5 * few["log_sd"]
    assert abs(np.log(many["dose_g_per_kg"] / 4.0)) < 0.3
