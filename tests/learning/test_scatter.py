"""Scores scatter more from some tasters, and in stepped cups; stepped cups are liked otherwise than fresh ones."""

import numpy as np
import pandas as pd
import pytest
from simulated import make_palate
from small_logs import cup, learn

from pairing import Recipe
from pairing.learning.parts import HeldParts
from pairing.learning.scatter import Scatter, Squares
from pairing.learning.scatter import fit_scatter as fit_over


def fit_scatter(count, square):
    """Variances from what is left of scores, all in one part."""
    squares = Squares(count, square)
    return squares.scatter(fit_over(HeldParts((squares,))))


def noted(palate, log, offset, ratio, rng):
    """The same log with an offset and more noise in stepped cups, rounded as a person would."""
    liked = log[log["liking"].notna()].drop_duplicates(["trial_id", "reading"])
    stepped = (liked["stepped"] == "yes").to_numpy()
    more = np.sqrt(ratio**2 - 1) * palate.liking_noise_sd * rng.standard_normal(len(liked))
    shift = pd.Series(stepped * (offset + more), index=pd.MultiIndex.from_frame(liked[["trial_id", "reading"]]))
    at = shift.reindex(pd.MultiIndex.from_frame(log[["trial_id", "reading"]])).to_numpy()
    return log.assign(liking=np.clip(np.round(log["liking"] + at), 1, 9))


def test_a_stepped_cup_counts_for_less_and_predictions_are_of_fresh_ones():
    """Each log beside itself without the effect: what a few palates' fresh and stepped cups differ by cancels."""
    offsets, ratios, off = [], [], []
    for seed in range(4):
        palate = make_palate(3000 + seed, 6, 24)
        rng = np.random.default_rng([seed, 1])
        log = palate.log(200, rng)
        asked = palate.untried(log, 200, rng)
        without, model = (
            learn(table, bases=palate.bases_df, flavourings=palate.flavourings_df)
            for table in (log, noted(palate, log, -0.5, 1.4, rng))
        )
        found, alike = (one.predict([Recipe(b, d) for b, d in asked])["liking"] for one in (model, without))
        off.append(np.mean(found - alike))
        offsets.append(_offset(model) - _offset(without))
        ratios.append(np.sqrt(model.liking.scatter.stepped / without.liking.scatter.stepped))
    assert np.mean(offsets) == pytest.approx(-0.45, abs=0.1)  # the prior leaves nine tenths of it
    # rounding adds a twelfth to both variances, 1.85 times is left of 1.96, and the prior leaves four fifths of its log
    assert np.mean(ratios) == pytest.approx(1.28, abs=0.13)
    assert np.mean(off) == pytest.approx(0.0, abs=0.1)


def _offset(model):
    return model.liking.posterior.mean[model.liking.columns.slice("stepped")][0]


def test_how_far_a_taster_scatters_is_told_from_a_dozen_duplicates():
    true, errors = {"ana": 0.5, "ben": 1.3}, []
    for seed in range(8):
        rng = np.random.default_rng([seed, 5])
        cups = [
            cup("oat", {flavouring: dose}, 3, float(np.clip(level + sd * rng.standard_normal(), 1, 9)), taster=who)
            for who, sd in true.items()
            for flavouring, dose, level in (("quince", 2.0, 6), ("clove", 1.0, 4), ("rose", 4.0, 5))
            for _ in range(8)
        ]
        liking = learn(*cups).liking
        errors.append(np.log(liking.noise_sd * np.sqrt(liking.scatter.tasters) / list(true.values())))
    assert np.mean(np.abs(errors)) < np.log(1.25)  # a dozen differences by themselves: 0.8 times that
    assert np.mean(np.diff(errors)) < 0.05  # drawn towards each other, if anything


def test_scatter_is_shrunken_towards_that_of_all():
    few = fit_scatter(np.array([[100.0, 0.0], [2.0, 0.0]]), np.array([[100.0, 0.0], [8.0, 0.0]]))
    many = fit_scatter(np.array([[100.0, 0.0], [100.0, 0.0]]), np.array([[100.0, 0.0], [400.0, 0.0]]))
    assert 1.0 < few.tasters[1] / few.tasters[0] < 1.8
    assert many.tasters[1] / many.tasters[0] == pytest.approx(3.5, rel=0.2)
    assert many.stepped == 1.0  # none was stepped


def test_tasters_who_scatter_alike_are_left_alike():
    rng, n = np.random.default_rng(0), 20
    alike = fit_scatter(np.array([[n, 0.0]] * 300), np.column_stack([rng.chisquare(n, 300), np.zeros(300)]))
    unlike = fit_scatter(
        np.array([[n, 0.0]] * 300),
        np.column_stack([rng.chisquare(n, 300) * np.exp(0.6 * rng.standard_normal(300)), np.zeros(300)]),
    )
    assert np.log(alike.tasters).std() < 0.05  # the scores' own luck is 0.32
    assert np.log(unlike.tasters).std() == pytest.approx(0.6, abs=0.1)


def test_scores_that_never_differ_do_not_outweigh_the_rest():
    told = fit_scatter(np.array([[50.0, 0.0], [50.0, 0.0]]), np.array([[1e-9, 0.0], [50.0, 0.0]]))
    assert told.tasters.min() >= 0.22  # e^−1.5: a score of theirs counts as 4.5 of the average taster's at most


def test_weights_are_relative_to_a_fresh_cup_of_the_average_taster():
    scatter = Scatter(np.array([1.0, 4.0]), 2.0)
    assert scatter.precision(np.array([0, 1, 1]), np.array([False, False, True])).tolist() == [1.0, 0.25, 0.125]
