"""What belongs to the occasion: lot, time, temperature, place in the evening, a full glass; learned, and left out."""

import numpy as np
import pandas as pd
import pytest
from simulated import make_palate
from small_logs import cup, learn, table

import pairing
from pairing import Recipe
from pairing.learned.serving import served
from pairing.learning import liking, strength
from pairing.learning.block import Block, Entries, entries_of
from pairing.learning.log import read_log
from pairing.learning.scene import Occasion, Scene, Typical

COLUMNS = ("lot", "position", "minutes_since_addition", "temperature_c", "glass")
BLOCKS = ("lot", "position", "minutes", "temperature", "full glass")
RNG = np.random.default_rng(0)


@pytest.mark.parametrize("name", BLOCKS)
def test_each_is_declared_in_one_place_and_costs_nothing_where_absent(name):
    """One declaration per response, with its key, prior and flags; without a note of it there is not one entry."""
    cups = [cup("oat", {"quince": 2.0}, 3, 6), cup("oat", {"rose": 4.0}, 2, 5)]
    log = read_log(learn(*cups).shelf, table(*cups))
    scene = Scene.of_recipes(log.recipes, learn().liking.traits, None, Occasion.of(log, np.arange(2), Typical()))
    declared = [block for block in (*liking.BLOCKS, *strength.BLOCKS) if block.name == name]
    assert 1 <= len(declared) <= 2
    assert not entries_of(declared, scene)


def test_one_more_is_one_declaration(monkeypatch):
    """What nobody thought of yet: here whether a cup came late in the evening."""
    late = Block("late", "occasion", 0.5, keys=lambda scene: Entries.of(np.flatnonzero(scene.occasion.position > 2), 0))
    monkeypatch.setattr(liking, "BLOCKS", (*(b for b in liking.BLOCKS if b.name != "position"), late))
    position = np.tile([1, 2, 3, 4], 15)
    model = scored(np.where(position > 2, -1.5, 0.0), position=position)
    assert effect(model.liking, "late")[0] == pytest.approx(-1.4, abs=0.4)
    assert model.predict([Recipe("oat", {"quince": None})])["liking"][0] == pytest.approx(6.0, abs=0.4)
    assert "late" not in scored(np.zeros(60)).liking.columns.keys


def effect(part, block):
    """Learned effects of a block."""
    return part.posterior.mean[part.columns.slice(block)]


def scored(shift, n=60, **occasion):
    """Cups of three flavourings that are liked alike but for a shift, and what was noted beside them."""
    rng = np.random.default_rng(5)
    cups = []
    for i in range(n):
        flavouring, dose = (("quince", 2.0), ("clove", 1.0), ("rose", 4.0))[i % 3]
        noted = {name: values[i] for name, values in occasion.items()}
        cups.append(cup("oat", {flavouring: dose}, 3, float(6 + shift[i] + 0.3 * rng.standard_normal()), **noted))
    return learn(*cups)


def test_a_log_without_them_has_no_columns_for_them():
    model = learn(cup("oat", {"quince": 2.0}, 3, 6), cup("oat", {"rose": 4.0}, 2, 5))
    for part in (model.liking, model.strength):
        assert not set(BLOCKS) & set(part.columns.keys)


def test_a_full_glass_is_not_blamed_on_what_was_in_it():
    """Quince alone was drunk by the glass, and whatever is drunk so is liked less; once rose was, too."""
    full = np.array([i % 3 == 0 or i % 6 == 2 for i in range(60)])
    model = scored(np.where(full, -1.5, 0.0), glass=np.where(full, "full", "sip"))
    assert effect(model.liking, "full glass")[0] == pytest.approx(-1.4, abs=0.4)
    quince, clove = model.predict([Recipe("oat", {f: None}) for f in ("quince", "clove")])["liking"]
    assert abs(quince - clove) < 0.5
    blind = scored(np.where(full, -1.5, 0.0))
    assert np.diff(blind.predict([Recipe("oat", {f: None}) for f in ("quince", "clove")])["liking"])[0] > 1.0


def test_time_and_temperature_have_slopes_around_what_is_typical():
    minutes, degrees = (
        RNG.permutation(np.repeat([1.0, 5.0, 30.0], 20)),
        RNG.permutation(np.repeat([4.0, 12.0, 20.0], 20)),
    )
    shift = -0.4 * np.log1p(minutes) + 0.06 * degrees
    model = scored(shift, minutes_since_addition=minutes, temperature_c=degrees)
    assert effect(model.liking, "minutes")[0] == pytest.approx(-0.3, abs=0.12)
    assert effect(model.liking, "temperature")[0] == pytest.approx(0.55, abs=0.15)
    middle = 6 + shift.mean()
    assert model.predict([Recipe("oat", {"quince": None})])["liking"][0] == pytest.approx(middle, abs=0.3)


def test_the_first_cup_of_an_evening_may_be_liked_more():
    position = np.tile([1, 2, 3, 4], 15)
    model = scored(np.where(position == 1, 1.0, 0.0), position=position)
    first, *later = effect(model.liking, "position")
    assert first > max(later) + 0.4


def test_a_weak_bottle_is_told_from_a_weak_flavouring():
    """The same dose reads right from one lot and too weak from the other."""
    cups = [cup("oat", {"quince": 2.0}, 3, 6, lot="A") for _ in range(12)]
    cups += [cup("oat", {"quince": 2.0}, 1, 4, lot="B") for _ in range(12)]
    cups += [cup("oat", {"rose": 4.0}, 3, 6, lot="A") for _ in range(12)]
    model = learn(*cups)
    strong, weak, other = effect(model.strength, "lot")
    assert weak > strong + 0.05  # more of it is needed
    assert abs(other) < weak


def test_lots_of_two_flavourings_with_one_name_are_two():
    log = read_log(learn(cup("oat", {"quince": 2.0}, 3, 6)).shelf, table(
        cup("oat", {"quince": 2.0, "rose": 4.0}, 3, 6, lot="A"), cup("oat", {"quince": 2.0}, 3, 6, lot=None)
    ))  # fmt: skip
    assert sorted(log.recipes.lot[0].tolist()) == [0, 1]
    assert log.recipes.lot[1].tolist() == [2, -1]  # cups that name no lot are told from those that do
    assert log.lots == (("quince", "A"), ("rose", "A"), ("quince", None))


@pytest.mark.parametrize(("noted", "two"), [("lot", "AB"), ("session", "AB"), ("position", (1, 2))])
def test_two_of_them_can_be_told_apart_and_one_alone_cannot(noted, two):
    for values in (two, two[:1] * 2):
        model = learn(*(cup("oat", {"quince": 2.0}, 3, 6, **{noted: one}) for one in values))
        assert (noted in model.liking.columns.keys) == (values == two)


def test_what_is_not_known_is_typical():
    log = read_log(learn(cup("oat", {"quince": 2.0}, 3, 6)).shelf, table(
        *(cup("oat", {"quince": 2.0}, 3, 6, minutes_since_addition=m, temperature_c=t) for m, t in ((0, 4), (None, 8)))
    ))  # fmt: skip
    typical = Typical.of(Typical.told(log))
    assert typical == Typical(0.0, 6.0)
    occasion = Occasion.of(log, np.arange(2), typical)
    assert occasion.log_minutes[0] == 0.0
    assert np.isnan(occasion.log_minutes[1])
    assert occasion.temperature_c.tolist() == [-2.0, 2.0]


def test_what_is_below_the_typical_counts_as_what_is_above_and_the_unknown_does_not():
    noted = [(0, 4), (10, 8), (300, 18), (None, None)]
    cups = [cup("oat", {"quince": 2.0}, 3, 6, minutes_since_addition=m, temperature_c=t) for m, t in noted]
    model = learn(*cups)
    log = read_log(model.shelf, table(*cups))
    occasion = Occasion.of(log, np.arange(4), Typical.of(Typical.told(log)))
    made = entries_of(
        (*liking.BLOCKS, *strength.BLOCKS), Scene.of_recipes(log.recipes, model.liking.traits, None, occasion)
    )
    minutes = np.log1p([0, 10, 300]) - np.log1p([0, 10, 300]).mean()
    for name, value in (("minutes", minutes), ("thickening", minutes), ("temperature", [-0.6, -0.2, 0.8])):
        assert made[name].row.tolist() == [0, 1, 2]
        np.testing.assert_allclose(made[name].value, value)


def test_notes_that_mean_nothing_do_no_harm():
    """Random notes beside every cup: the error on combinations never tried stays what it is."""
    errors = {False: [], True: []}
    for seed in range(4):
        palate = make_palate(900 + seed, 5, 14)
        log = palate.log(90, np.random.default_rng(seed)).drop(columns="position")
        asked = palate.untried(log, 200, np.random.default_rng(1))
        truth = palate.true_likings(asked)
        for noted in (False, True):
            rng, n = np.random.default_rng(seed), len(log)
            notes = {
                "lot": rng.choice(["A", "B", "C"], n),
                "position": rng.integers(1, 9, n),
                "minutes_since_addition": rng.integers(0, 60, n).astype(float),
                "temperature_c": rng.uniform(4, 25, n),
                "glass": rng.choice(["sip", "full"], n),
            }
            assert set(notes) == set(COLUMNS)
            readings = log.assign(**notes) if noted else log
            model = learn(readings, bases=palate.bases_df, flavourings=palate.flavourings_df)
            found = model.predict([Recipe(b, d) for b, d in asked])["liking"]
            errors[noted].append(np.sqrt(np.mean((found - truth) ** 2)))
    assert np.mean(errors[True]) < 1.03 * np.mean(errors[False])


def test_notes_are_left_out_of_predictions():
    model = scored(np.zeros(60), glass=["full", "sip"] * 30, temperature_c=[4.0, 20.0] * 30)
    kinds = set(model.explain(Recipe("oat", {"quince": 2.0}))["kind"])
    assert "occasion" not in kinds
    assert isinstance(model.explain(Recipe("oat", {"quince": 2.0})), pd.DataFrame)


def glasses(share, n=40, seed=0):
    """Return cups of one base, half of them full glasses, which need ``share`` of the dose of a sip."""
    rng = np.random.default_rng(seed)
    rows = []
    for i in range(n):
        full = i % 2 == 1
        dose = 2.0 * np.exp(rng.normal(0.0, 0.35))
        z = np.log(dose / (2.0 * (share if full else 1.0))) + rng.normal(0.0, 0.15)
        word = int(np.searchsorted([-0.6, -0.25, 0.25, 0.6], z)) + 1
        rows.append((f"c{i}", "oat", "plum", dose, word, "full" if full else "sip"))
    return pd.DataFrame(rows, columns=["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "strength", "glass"])


def test_a_full_glass_starts_below_a_sip_and_is_learned():
    bases = pd.DataFrame({"base_id": ["oat"], "name": ["Oat"]})
    flavourings = pd.DataFrame({"flavouring_id": ["plum"], "name": ["Plum"], "label_dose_g_per_kg": [2.0]})
    sips = glasses(1.0)
    start = pairing.learn(bases, flavourings, sips[sips["glass"] == "sip"]).serving_share
    assert (round(start.share, 2), start.readings) == (0.85, 0)
    assert start.low < 0.75
    assert start.high > 0.95
    for true in (0.6, 1.05):
        found = pairing.learn(bases, flavourings, glasses(true)).serving_share
        assert found.readings == 20
        assert abs(np.log(found.share / true)) < abs(np.log(0.85 / true)) / 2
        assert found.high / found.low < start.high / start.low
    glass = served(Recipe("oat", {"plum": 2.0}), start)
    assert glass.doses["plum"] == pytest.approx(1.7, rel=0.01)
