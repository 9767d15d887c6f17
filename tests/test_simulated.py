"""The simulated palate is what the tests and benchmarks rely on: its truth, its sips and its logs agree."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from simulated import CUTS, STEP, make_palate

from pairing.model.columns import READINGS
from pairing.model.shelf import Shelf
from pairing.testing.counting import steps


def test_same_seed_same_palate_and_other_seed_another():
    one, two, other = make_palate(3), make_palate(3), make_palate(4)
    assert one.log_dose == two.log_dose
    assert one.log(20, np.random.default_rng(0)).equals(two.log(20, np.random.default_rng(0)))
    assert one.log_dose != other.log_dose


def test_tables_make_a_shelf_and_a_log_has_only_known_columns():
    palate = make_palate(0, n_bases=3, n_flavourings=5, n_tasters=2)
    shelf = Shelf.from_tables(palate.bases_df, palate.flavourings_df, palate.tasters_df)
    assert (len(shelf.bases), len(shelf.flavourings), len(shelf.tasters)) == (3, 5, 2)
    log = palate.log(30, np.random.default_rng(0))
    assert set(log.columns) <= set(READINGS.names)
    assert not log.duplicated(list(READINGS.key)).any()
    assert set(log["taster"]) <= set(palate.tasters)


def test_needed_doses_lie_off_the_label_by_half_a_log_unit():
    errors, own = [], []
    for seed in range(8):
        palate = make_palate(seed)
        log_label = np.log(palate.flavourings_df["label_dose_g_per_kg"].to_numpy())
        off = np.array(palate.log_dose) - log_label
        errors.append(off)
        own.append(off - off.mean(axis=0) - off.mean(axis=1, keepdims=True) + off.mean())
    assert math.sqrt(np.mean(np.square(errors))) == pytest.approx(0.46, abs=0.05)
    assert np.std(own) == pytest.approx(0.25, abs=0.04)


def test_liking_of_random_combinations_spreads_and_is_not_additive():
    spreads, left = [], []
    for seed in range(6):
        palate = make_palate(seed)
        chosen = np.random.default_rng(seed).choice(len(found := palate.combinations()), 600, replace=False)
        recipes = [(found[i][0], dict.fromkeys(found[i][1])) for i in chosen]
        likings = palate.true_likings(recipes)
        design = np.zeros((len(recipes), 30))
        for row, (base_id, doses) in enumerate(recipes):
            design[row, palate.base_index[base_id]] = 1
            design[row, [6 + palate.flavouring_index[f] for f in doses]] = 1
        fitted = design @ np.linalg.lstsq(design, likings, rcond=None)[0]
        spreads.append(likings.std())
        left.append((likings - fitted).std())
    assert 1.3 < np.mean(spreads) < 1.65
    assert np.mean(left) > 0.9  # what no additive model can reach


def test_liking_falls_on_both_sides_of_the_needed_dose_faster_above():
    palate = make_palate(1)
    base_id, (flavouring_id,), best = max(
        ((b, s, palate.true_liking(b, dict.fromkeys(s))) for b, s in palate.combinations(1)), key=lambda x: x[2]
    )
    needed = palate.true_dose(base_id, flavouring_id)
    at = [palate.true_liking(base_id, {flavouring_id: needed * math.exp(z)}) for z in (-0.8, -0.4, 0.0, 0.4, 0.8)]
    assert at[2] == pytest.approx(best)
    assert at[0] < at[1] < at[2] > at[3] > at[4]
    assert at[4] < at[0]


def test_average_taster_is_the_mean_of_the_tasters():
    palate = make_palate(2, n_tasters=3)
    recipe = (palate.base_ids[0], {palate.flavouring_ids[3]: None})
    each = [palate.true_liking(*recipe, taster=t) for t in palate.tasters]
    assert palate.true_liking(*recipe) == pytest.approx(np.mean(each))
    assert np.ptp(each) > 0


def test_companions_shift_the_needed_dose():
    palate = make_palate(5)
    a, b = palate.flavouring_ids[:2]
    assert palate.true_log_dose("base-00", a, (a,)) == palate.true_log_dose("base-00", a)
    assert palate.true_log_dose("base-00", a, (b,)) != palate.true_log_dose("base-00", a)


def test_strength_words_follow_the_dose():
    palate, rng = make_palate(0, strength_noise_sd=1e-9, cup_sd=0.0), np.random.default_rng(0)
    needed = palate.true_dose("base-00", "flav-00")
    edges = [-2.0, *(0.5 * (low + high) for low, high in itertools.pairwise(CUTS)), 1.0]
    words = [palate.taste("base-00", {"flav-00": needed * math.exp(z)}, rng)[0]["flav-00"] for z in edges]
    assert words == [0, 1, 2, 3, 4, 5]
    assert palate.taste("base-00", {"flav-00": 0.0}, rng)[0] == {"flav-00": 0}


def test_ladder_steps_up_by_the_same_factor_and_likes_only_the_last_sip():
    palate, rng = make_palate(0), np.random.default_rng(7)
    start = {"flav-00": 0.2 * palate.true_dose("base-00", "flav-00")}
    rows = palate.ladder_trial("t", "base-00", ["flav-00"], rng, start=start)
    doses = [row["dose_g_per_kg"] for row in rows]
    assert len(rows) > 2
    assert np.allclose(np.divide(doses[1:], doses[:-1]), STEP, rtol=1e-4)
    assert [row["reading"] for row in rows] == list(range(1, len(rows) + 1))
    assert all(math.isnan(row["liking"]) for row in rows[:-1])
    assert rows[-1]["liking"] in range(1, 10)
    assert {row["ended"] for row in rows} <= {"right", "too strong", "not reached"}


def test_untried_combinations_are_not_in_the_log():
    palate = make_palate(0, n_bases=2, n_flavourings=4)
    log = palate.log(15, np.random.default_rng(0))
    tried = {(b, frozenset(g["flavouring_id"])) for (_, b), g in log.groupby(["trial_id", "base_id"])}
    untried = palate.untried(log, 100, np.random.default_rng(0))
    assert untried
    assert not {(b, frozenset(doses)) for b, doses in untried} & tried


def test_twice_the_trials_are_twice_the_work():
    palate, logs = make_palate(0), {}
    taken = [steps(lambda n=n: logs.update({n: palate.log(n, np.random.default_rng(0))})) for n in (300, 600)]
    assert taken[1] <= 2.2 * taken[0]
    assert logs[600]["trial_id"].nunique() == 600
