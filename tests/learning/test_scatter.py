"""Scores scatter more from some tasters, and in stepped cups; stepped cups are liked otherwise than fresh ones."""

import numpy as np
import pandas as pd
import pytest
from simulated import make_palate
from small_logs import cup, learn

from pairing import Recipe
from pairing.learning.scatter import MOST, Scatter, fit_scatter


def noted(palate, log, offset, ratio, rng):
    """The same log with an offset and more noise in stepped cups, rounded as a person would."""
    liked = log[log["liking"].notna()].drop_duplicates(["trial_id", "reading"])
    stepped = (liked["stepped"] == "yes").to_numpy()
    more = np.sqrt(ratio**2 - 1) * palate.liking_noise_sd * rng.standard_normal(len(liked))
    shift = pd.Series(stepped * (offset + more), index=pd.MultiIndex.from_frame(liked[["trial_id", "reading"]]))
    at = shift.reindex(pd.MultiIndex.from_frame(log[["trial_id", "reading"]])).to_numpy()
    return log.assign(liking=np.clip(np.round(log["liking"] + at), 1, 9))


def test_a_stepped_cup_counts_for_less_and_predictions_are_of_fresh_ones():
    offsets, ratios, off = [], [], []
    for seed in range(8):
        palate = make_palate(3000 + seed, 6, 24)
        rng = np.random.default_rng([seed, 1])
        log = noted(palate, palate.log(200, rng), -0.5, 1.4, rng)
        model = learn(log, bases=palate.bases_df, flavourings=palate.flavourings_df)
        asked = palate.untried(log, 200, rng)
        found = model.predict([Recipe(b, d) for b, d in asked])["liking"]
        off.append(np.mean(found - palate.true_likings(asked)))
        offsets.append(model.liking.posterior.mean[model.liking.columns.slice("stepped")][0])
        ratios.append(np.sqrt(model.liking.scatter.stepped))
    assert np.mean(offsets) == pytest.approx(-0.35, abs=0.15)
    assert np.mean(ratios) > 1.05
    assert np.mean(off) == pytest.approx(0.0, abs=0.25)


def test_how_far_a_taster_scatters_is_told_from_a_dozen_duplicates():
    rng, errors = np.random.default_rng(3), []
    for _ in range(6):
        true = {"ana": 0.5, "ben": 1.3}
        cups = [
            cup("oat", {flavouring: dose}, 3, float(np.clip(level + sd * rng.standard_normal(), 1, 9)), taster=who)
            for who, sd in true.items()
            for flavouring, dose, level in (("quince", 2.0, 6), ("clove", 1.0, 4), ("rose", 4.0, 5))
            for _ in range(8)
        ]
        scatter = learn(*cups).liking.scatter
        errors.append(0.5 * np.log(scatter.tasters[1] / scatter.tasters[0]) - np.log(true["ben"] / true["ana"]))
    assert np.sqrt(np.mean(np.square(errors))) < np.log(1.6)
    assert np.mean(errors) < 0.05  # drawn towards each other, if anything


def test_scatter_is_shrunken_towards_that_of_all():
    few = fit_scatter(np.array([[100.0, 0.0], [2.0, 0.0]]), np.array([[100.0, 0.0], [8.0, 0.0]]))
    many = fit_scatter(np.array([[100.0, 0.0], [100.0, 0.0]]), np.array([[100.0, 0.0], [400.0, 0.0]]))
    assert 1.0 < few.tasters[1] / few.tasters[0] < 1.8
    assert many.tasters[1] / many.tasters[0] == pytest.approx(3.5, rel=0.2)
    assert many.stepped == 1.0  # none was stepped


def test_scores_that_never_differ_do_not_outweigh_the_rest():
    told = fit_scatter(np.array([[50.0, 0.0], [50.0, 0.0]]), np.array([[1e-9, 0.0], [50.0, 0.0]]))
    assert told.tasters.min() >= np.exp(-MOST) - 1e-9


def test_weights_are_relative_to_a_fresh_cup_of_the_average_taster():
    scatter = Scatter(np.array([1.0, 4.0]), 2.0)
    assert scatter.precision(np.array([0, 1, 1]), np.array([False, False, True])).tolist() == [1.0, 0.25, 0.125]
