"""Liking: who said it, of what, and how sure that is."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.stats import norm
from simulated import make_palate
from small_logs import BASES, FLAVOURINGS, cup, learn, table

import pairing
from pairing import Brief, Cup
from pairing.learning.asked import SLOPE_SD, SLOPE_SDS, slope_evidence
from pairing.learning.factors import Factors
from pairing.learning.liking import BLOCKS, OWN
from pairing.learning.liking_fit import fit_liking
from pairing.learning.parts import HeldParts
from pairing.learning.penalty import expected_squares
from pairing.learning.scatter import spread_prior
from pairing.learning.stages import SLOPE_COUNT
from pairing.model.recipe import Recipe


def liked(doses, score, base_id="oat", **more):
    return cup(base_id, doses, 3, score, **more)


def liking(model, base_id, *flavourings, taster=None):
    return model.predict([Recipe(base_id, dict.fromkeys(flavourings))], taster).iloc[0]


def test_order_and_ranges_follow_the_scores():
    scores = {"quince": 8, "clove": 6, "smoke": 2}
    cups = [liked({f: d}, s) for (f, s), d in zip(scores.items(), (2.0, 1.0, 0.5), strict=True) for _ in range(5)]
    model = learn(*cups)
    found = model.predict([Recipe("oat", {f: None}) for f in (*scores, "rose")])
    values = found["liking"].to_numpy()
    assert values[0] > values[1] > values[2]
    assert abs(values[0] - 8) < 0.8
    assert abs(values[2] - 2) < 0.8
    assert found["liking_sd"][3] > 1.3 * found["liking_sd"][:3].max()
    assert (found["liking_low"] < found["liking"]).all()
    assert (found["liking"] < found["liking_high"]).all()
    assert found["liking_low"].min() >= 1
    assert found["liking_high"].max() <= 9


def test_predictions_come_in_the_order_asked():
    model = learn(*[liked({"quince": 2.0}, 8)] * 3, *[liked({"smoke": 0.5}, 2)] * 3)
    one = model.predict([Recipe("oat", {"quince": None}), Recipe("oat", {"smoke": None})])["liking"].tolist()
    other = model.predict([Recipe("oat", {"smoke": None}), Recipe("oat", {"quince": None})])["liking"].tolist()
    assert one == pytest.approx(other[::-1])


def test_flavourings_may_be_named_in_any_order():
    model = learn(*[liked({"quince": 2.0, "rose": 4.0}, 8)] * 3)
    one, other = model.predict(
        [Recipe("oat", {"quince": 2.0, "rose": 4.0}), Recipe("oat", {"rose": 4.0, "quince": 2.0})]
    ).to_numpy()
    np.testing.assert_allclose(one, other)


def test_a_pair_that_is_better_than_its_parts_is_known_for_it():
    cups = [liked({"quince": 2.0}, 5), liked({"rose": 4.0}, 5), liked({"clove": 1.0}, 5)] * 4
    cups += [liked({"quince": 2.0, "rose": 4.0}, 8), liked({"quince": 2.0, "clove": 1.0}, 4)] * 4
    model = learn(*cups)
    pairs = model.synergy("oat").set_index(["flavouring_a", "flavouring_b"])
    assert pairs.loc[("quince", "rose"), "synergy"] > 1.0 > pairs.loc[("quince", "clove"), "synergy"]
    assert pairs.loc[("quince", "rose"), "p_positive"] > 0.95
    assert pairs.loc[("quince", "rose"), "trials"] == 4
    assert pairs.loc[("clove", "rose"), "sd"] > pairs.loc[("quince", "rose"), "sd"]
    assert not pairs.loc[("clove", "rose"), "tested"]


def test_what_is_liked_in_one_base_only_stays_there():
    cups = [liked({"smoke": 0.5}, s, b) for b, s in (("oat", 8), ("milk", 3), ("rice", 5)) for _ in range(5)]
    cups += [liked({"rose": 4.0}, 5, b) for b in ("oat", "milk", "rice") for _ in range(5)]
    model = learn(*cups)
    assert liking(model, "oat", "smoke")["liking"] > liking(model, "milk", "smoke")["liking"] + 2
    rose = [liking(model, b, "rose")["liking"] for b in ("oat", "milk")]
    assert abs(rose[0] - rose[1]) < 1.5


# --- tasters ---------------------------------------------------------------------------------------------------------


def people():
    cups = []
    for taster, shift in (("ana", 1.5), ("ben", 0.0), ("cyd", -1.5)):
        for flavouring, dose, score in (("quince", 2.0, 6), ("clove", 1.0, 5), ("rose", 4.0, 4)):
            cups += [liked({flavouring: dose}, score + shift, taster=taster)] * 3
    return cups


def test_tasters_have_offsets_and_the_mean_is_between_them():
    model = learn(*people())
    ana, ben, cyd = (liking(model, "oat", "quince", taster=t)["liking"] for t in ("ana", "ben", "cyd"))
    assert ana > ben + 0.8 > cyd + 1.6
    mean = model.response.predict_encoded(model.response.encode(["oat"], [("quince",)]))[0][0]
    each = model.response.predict_encoded(
        model.response.encode(["oat"] * 3, [("quince",)] * 3, None, ["ana", "ben", "cyd"])
    )[0]
    assert mean == pytest.approx(each.mean(), abs=1e-6)


def test_a_new_person_is_wider_than_those_known():
    model = learn(*people())
    known, new = (liking(model, "oat", "quince", taster=t) for t in ("ben", "new"))
    assert new["liking_sd"] > 1.3 * known["liking_sd"]
    assert liking(model, "oat", "quince", taster="nobody we know")["liking_sd"] == pytest.approx(new["liking_sd"])
    assert liking(model, "oat", "quince")["liking_sd"] < known["liking_sd"]


def test_one_taster_per_recipe():
    model = learn(*people())
    found = model.predict([Recipe("oat", {"quince": None})] * 3, ["cyd", "ana", "cyd"])["liking"]
    assert found[0] == found[2] < found[1]


def test_personal_taste_is_kept_apart_from_what_all_like():
    cups = [liked({"smoke": 0.5}, s, taster=t) for t, s in (("ana", 9), ("ben", 4), ("cyd", 4)) for _ in range(4)]
    cups += [liked({"rose": 4.0}, 5, taster=t) for t in ("ana", "ben", "cyd") for _ in range(4)]
    model = learn(*cups)
    gap = {
        t: liking(model, "oat", "smoke", taster=t)["liking"] - liking(model, "oat", "rose", taster=t)["liking"]
        for t in ("ana", "ben")
    }
    assert gap["ana"] > gap["ben"] + 1.5


def test_whoever_uses_more_of_the_scale_has_a_steeper_slope():
    palate = make_palate(5, 4, 12, n_tasters=2)
    slope = {"taster-1": 1.5, "taster-2": 0.5}
    cups, rng = [], np.random.default_rng(0)
    for base_id, ids in palate.combinations():
        true = palate.true_liking(base_id, dict.fromkeys(ids))
        for taster, k in slope.items():
            doses = {f: palate.true_dose(base_id, f, ids) for f in ids}
            score = np.clip(5 + k * (true - 5) + 0.4 * rng.standard_normal(), 1, 9)
            cups.append(cup(base_id, doses, 3, score, taster=taster))
    keep = rng.permutation(len(cups))[:240]
    model = learn(*[cups[i] for i in keep], bases=palate.bases_df, flavourings=palate.flavourings_df)
    slopes = dict(zip(model.log.tasters, model.liking.slopes, strict=True))
    assert slopes["taster-1"] > slopes["taster-2"] + 0.3
    assert np.mean(list(slopes.values())) == pytest.approx(1.0)


def alike(seed, n_flavourings=80, often=6, times=12):
    """Scores of four people who use the scale alike: two know a few cups well, two taste the rest once each."""
    rng = np.random.default_rng(seed)
    ids = [f"f{i:02d}" for i in range(n_flavourings)]
    few, many = (0.7 * norm.ppf((np.arange(n) + 0.5) / n) for n in (often, n_flavourings - often))
    cups = []
    for place, worth in enumerate([*few, *rng.permutation(many)]):
        people, n = (("ana", "cyd"), times) if place < often else (("ben", "dee"), 1)
        for taster in people * n:
            cups.append(liked({ids[place]: 1.0}, float(np.clip(5 + worth + rng.normal(), 1, 9)), taster=taster))
    shelf = pd.DataFrame({"flavouring_id": ids, "name": ids, "label_dose_g_per_kg": 1.0})
    model = learn(*cups, bases=BASES.iloc[:1], flavourings=shelf)
    return dict(zip(model.log.tasters, model.liking.slopes, strict=True))


def test_whoever_tastes_what_is_hardly_known_is_not_taken_to_use_more_of_the_scale():
    """Likings that are hardly known are drawn in towards the mean: a slope on them alone would come out too steep.

    With the uncertainty left out the ratio of slopes is 1.77 here, with it 1.25.
    """
    slopes = [alike(seed) for seed in range(3)]
    ratio = [(one["ben"] + one["dee"]) / (one["ana"] + one["cyd"]) for one in slopes]
    assert np.mean(ratio) == pytest.approx(1.25, abs=0.25)


@pytest.mark.parametrize(("sd", "low", "high"), [(0.0, 0.0, 0.15), (0.15, 0.1, 0.25), (0.5, 0.35, 0.6)])
def test_how_far_slopes_differ_is_learned(sd, low, high):
    rng = np.random.default_rng(0)
    square = rng.uniform(10, 60, 300)
    slope = 1.2 * (1 + sd * rng.standard_normal(300))
    product = slope * square + np.sqrt(square) * rng.standard_normal(300)
    known = [slope_evidence(product, square, product.sum() / square.sum(), 1.0, s) for s in SLOPE_SDS] + spread_prior(
        SLOPE_SDS, SLOPE_SD, SLOPE_COUNT
    )
    assert low <= SLOPE_SDS[int(np.argmax(known))] <= high
    few = [slope_evidence(product[:2], square[:2], 1.2, 1.0, s) for s in SLOPE_SDS] + spread_prior(
        SLOPE_SDS, SLOPE_SD, SLOPE_COUNT
    )
    assert SLOPE_SDS[int(np.argmax(few))] == pytest.approx(SLOPE_SD, rel=0.6)


def test_evidence_of_slopes_is_that_of_normal_estimates():
    """Computed with scipy: a taster's own slope p ÷ q is normal around that of all; who said nothing counts nothing."""
    product, square = np.array([0.3, 8.0, 0.0]), np.array([0.4, 6.0, 0.0])
    own = product[:2] / square[:2] / 1.1
    wanted = stats.norm(1.0, np.sqrt(0.2**2 + 0.8**2 / square[:2])).logpdf(own).sum() + np.log(2 * np.pi)
    assert slope_evidence(product, square, 1.1, 0.8, 0.2) == pytest.approx(wanted)


# --- doses -----------------------------------------------------------------------------------------------------------


def test_expected_squares_are_those_of_draws():
    mean, sd = np.array([0.3, -0.5, 0.0, 1.0]), np.array([0.2, 0.4, 0.3, 0.0])
    z = mean + sd * np.random.default_rng(0).standard_normal((400_000, 4))
    under, over = expected_squares(mean, sd)
    np.testing.assert_allclose(over, (np.maximum(z, 0) ** 2).mean(axis=0), atol=3e-3)
    np.testing.assert_allclose(under, (np.minimum(z, 0) ** 2).mean(axis=0), atol=3e-3)


def test_an_open_dose_is_charged_nothing_and_a_stated_one_what_is_not_known():
    model = learn(*[liked({"quince": 2.0}, 7)] * 6)
    right = float(model.needed_dose(["oat"], ["quince"])["dose_g_per_kg"].iloc[0])
    found = model.predict([Recipe("oat", {"quince": d}) for d in (None, right, right * 2, right / 2, right * 4)])[
        "liking"
    ]
    assert found[0] > found[1] > found[2] > found[4]
    assert found[1] > found[3]


# --- robustness ------------------------------------------------------------------------------------------------------


def test_a_few_wild_scores_hardly_move_the_rest():
    rng = np.random.default_rng(3)
    ids, doses = ("quince", "clove", "smoke", "rose"), (2.0, 1.0, 0.5, 4.0)
    tame = []
    for _ in range(15):
        tame += [liked({f: d}, float(np.clip(6 + rng.normal(0, 0.4), 1, 9))) for f, d in zip(ids, doses, strict=True)]
    wild = [*tame]
    for i in (3, 7):  # the last flavouring, twice a slip of the pen
        wild[i] = liked({"rose": 4.0}, 1)
    before, after = learn(*tame), learn(*wild)
    moved = liking(after, "oat", "rose")["liking"] - liking(before, "oat", "rose")["liking"]
    mean_moves = (1 - 6) * 2 / 15
    assert mean_moves / 2 < moved <= 0.05
    assert after.response.noise_sd < 1.0


# --- bigger recipes --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def kitchen():
    palate = make_palate(21)
    log = palate.log(300, np.random.default_rng(21), share=(0.5, 0.5, 0.0))
    return palate, log, learn(log, bases=palate.bases_df, flavourings=palate.flavourings_df)


def test_triples_are_told_from_pairs_with_honest_intervals(kitchen):
    """The log has singles and pairs only."""
    palate, _, model = kitchen
    rng = np.random.default_rng(0)
    triples = [(b, s) for b, s in palate.combinations(3) if len(s) == 3]
    chosen = [triples[i] for i in rng.choice(len(triples), 400, replace=False)]
    truth = np.array([palate.true_liking(b, dict.fromkeys(s)) for b, s in chosen])
    found = model.predict([Recipe(b, dict.fromkeys(s)) for b, s in chosen])
    inside = (truth >= found["liking_low"]) & (truth <= found["liking_high"])
    assert 0.65 < inside.mean() < 0.95
    assert np.corrcoef(truth, found["liking"])[0, 1] > 0.45
    pairs = [Recipe(b, dict.fromkeys(s)) for b, s in palate.combinations(2) if len(s) == 2]
    assert found["liking_sd"].mean() > model.predict(pairs)["liking_sd"].mean()


def test_combinations_never_tried_beat_the_average_and_are_covered(kitchen):
    palate, log, model = kitchen
    asked = palate.untried(log, 400, np.random.default_rng(1))
    truth = palate.true_likings(asked)
    found = model.predict([Recipe(b, d) for b, d in asked])
    error = (found["liking"] - truth).to_numpy()
    assert np.sqrt((error**2).mean()) < 0.75 * np.sqrt(((truth - log["liking"].mean()) ** 2).mean())
    inside = (truth >= found["liking_low"]) & (truth <= found["liking_high"])
    assert 0.70 < inside.mean() < 0.90


def test_draws_agree_with_mean_sd_and_joint_covariance(kitchen):
    palate, log, model = kitchen
    asked = model.response.encode(
        *zip(*[(b, tuple(d)) for b, d in palate.untried(log, 6, np.random.default_rng(2))], strict=True)
    )
    mean, sd = model.response.predict_encoded(asked)
    drawn = model.response.samples(asked, 20_000, random_state=0)
    np.testing.assert_allclose(drawn.mean(axis=0), mean, atol=0.05)
    np.testing.assert_allclose(drawn.std(axis=0), sd, rtol=0.05)
    np.testing.assert_allclose(np.cov(drawn.T), model.response.joint_cov(asked, asked), atol=0.06)


# --- likeness --------------------------------------------------------------------------------------------------------


def like(flavouring, dose, score, target="reference"):
    return cup("oat", {flavouring: dose}, 3, None, likeness=score, target_id=target)


def test_likeness_to_a_target_is_learned_apart_from_liking():
    cups = [like("quince", 2.0, 9.0), like("smoke", 0.5, 1.0), like("rose", 4.0, 5.0)] * 4
    cups += [liked({"quince": 2.0}, 3), liked({"smoke": 0.5}, 8)] * 4
    model = learn(*cups)
    near = model.likeness_to("reference")
    found = near.on_scale(near.encode(["oat"] * 3, [("quince",), ("rose",), ("smoke",)]))[0]
    assert found[0] > found[1] > found[2]
    assert ((found >= 0) & (found <= 10)).all()
    assert liking(model, "oat", "quince")["liking"] < liking(model, "oat", "smoke")["liking"]


def test_an_unknown_target_is_refused():
    with pytest.raises(ValueError, match="elsewhere"):
        learn(like("quince", 2.0, 9.0)).likeness_to("elsewhere")


def test_a_new_version_of_a_flavouring_starts_from_its_parent_and_is_wider():
    new = FLAVOURINGS.assign(version_of=[None, None, "quince", None], family=["fruit", "spice", "fruit", "flower"])
    cups = [liked({"quince": 2.0}, 8.5)] * 6 + [liked({"clove": 1.0}, 4)] * 6
    model = learn(*cups, flavourings=new)
    parent, child, stranger = (liking(model, "oat", f) for f in ("quince", "smoke", "rose"))
    assert child["liking"] > stranger["liking"] + 0.5
    assert 1.1 * parent["liking_sd"] < child["liking_sd"] < stranger["liking_sd"]


def test_the_order_of_rows_changes_nothing():
    cups = people()
    one = learn(table(*cups))
    readings = table(*cups).sample(frac=1.0, random_state=1)
    two = learn(readings)
    asked = [Recipe("oat", {"quince": None}), Recipe("milk", {"rose": None, "clove": None})]
    pd.testing.assert_frame_equal(one.predict(asked), two.predict(asked), rtol=1e-8)
    assert len(BASES) == len(one.shelf.bases)


def test_each_taster_has_a_right_dose_of_their_own():
    """One perceives everything e^1.2 times as strong as the other: so do predictions, suggestions and the ladder."""
    rng, rows = np.random.default_rng(0), []
    for i in range(60):
        dose = float(2 * np.exp(rng.normal(0, 0.5)))
        for who, keen in (("ana", 0.6), ("ben", -0.6)):
            off = np.log(dose / 2) + keen
            strength = int(np.searchsorted((-1.5, -0.75, -0.22, 0.22, 0.7), off + 0.15 * rng.standard_normal()))
            liking = int(np.clip(round(7 - 3 * off**2 + 0.5 * rng.standard_normal()), 1, 9))
            rows.append({"trial_id": f"t{i}", "base_id": "oat", "flavouring_id": "quince", "dose_g_per_kg": dose,
                         "taster": who, "strength": strength, "liking": liking})  # fmt: skip
    model = pairing.learn(
        pd.DataFrame([{"base_id": "oat", "name": "Oat"}]),
        pd.DataFrame([{"flavouring_id": "quince", "name": "Quince", "label_dose_g_per_kg": 2.0}]),
        pd.DataFrame(rows),
    )
    right = {"ana": 2 * np.exp(-0.6), "ben": 2 * np.exp(0.6)}
    recipes = [Recipe("oat", {"quince": dose}) for dose in right.values()]
    for place, (who, dose) in enumerate(right.items()):
        likings = model.predict(recipes, who)["liking"]
        assert likings[place] > likings[1 - place] + 2
        assert model.suggest(Brief(tasters=(who,)), 1)[0].recipe.doses["quince"] == pytest.approx(dose, rel=0.15)
        advice = model.next_addition(Cup("oat", base_g=1000).add("quince", g=0.3), "quince", tasters=who, scale_g=0.01)
        assert advice.target_g_per_kg == pytest.approx(dose, rel=0.25)
    both = model.predict(recipes)["liking"]
    each = [model.predict(recipes, who)["liking"] for who in right]
    np.testing.assert_allclose(both, (each[0] + each[1]) / 2, atol=0.02)
    between = model.suggest(Brief(tasters=("ana", "ben")), 1)[0].recipe.doses["quince"]
    assert between == pytest.approx(2, rel=0.15)


def test_a_score_at_the_end_of_the_scale_says_little_of_how_far_beyond_it_a_cup_lies():
    """Cups whose points lie below 1 read 1: they must not make being off the needed dose look cheap."""
    palate = make_palate(3000, 6, 24)
    model = learn(palate.log(300, np.random.default_rng(0)), bases=palate.bases_df, flavourings=palate.flavourings_df)
    endless = fit_liking(model.log, model.liking.traits, model.strength, ends=(-np.inf, np.inf))

    def cost(liking):
        return [liking.posterior.mean[liking.columns.slice(side)][0] for side in ("too weak", "too strong")]

    error, without = (np.abs(np.subtract(cost(fit), (palate.under, palate.over))) for fit in (model.liking, endless))
    assert error.sum() < 0.9 * without.sum()


def test_low_rank_means_of_cells_with_and_without_columns_are_heard(monkeypatch):
    """Cells with columns expect them; of cells without, what they say is taken off the scores."""
    cups = [cup(base, {f: 2.0}, 3, 6.0) for base in ("oat", "milk") for f in ("quince", "rose")] * 3
    found = Factors(np.arange(2), np.ones((2, 1)), np.array([[-0.5], [0.5], [-0.5], [0.5]]))
    monkeypatch.setattr("pairing.learning.liking_fit.MANY_CELLS", 1)
    monkeypatch.setattr("pairing.learning.stages.fit_factors", lambda *_: HeldParts((found,)))
    assert learn(*cups).liking.columns.means == {"affinity": found.cells}
    monkeypatch.setattr("pairing.learning.columns.thinned", lambda count: np.zeros(len(count), bool))
    found = learn(*cups)
    assert "affinity" not in found.liking.columns.keys
    rose, quince = (found.predict([Recipe("oat", {f: None})])["liking"][0] for f in ("rose", "quince"))
    assert np.isfinite([rose, quince]).all()


def test_what_no_slope_stretches_and_what_a_kitchen_keeps_to_itself():
    """An average is everyone's own use of the scale; a lot's effect is liked alike by all, and stays in its kitchen."""
    occasions = {"cup", "session", "position", "minutes", "temperature", "full glass", "stepped"}
    tasters = {"taster", "taster*flavouring", "taster*base"}
    assert {"average", *tasters, *occasions} == OWN
    assert {block.name for block in BLOCKS if block.local} == tasters | {"cup", "session", "lot"}
