"""The ordinal response: derivatives by differences, thresholds recovered."""

import numpy as np
import pytest
from scipy.special import ndtr
from simulated import CUTS

from pairing.learning.ordinal import PRIOR_MEAN, Binned, Ordinal, fit_ordinal, working_response

MODEL = Ordinal(np.array([-1.4, -0.9, -0.4, 0.2, -1.2]))


def log_chance(model, category, excess):
    edges = np.concatenate([[-np.inf], model.thresholds, [np.inf]])
    return np.log(ndtr((edges[category + 1] - excess) / model.scale) - ndtr((edges[category] - excess) / model.scale))


def test_the_middle_of_just_right_is_the_needed_dose():
    assert MODEL.thresholds[2] == -MODEL.thresholds[3]
    assert (np.diff(MODEL.thresholds) > 0).all()


@pytest.mark.parametrize("category", range(6))
def test_score_and_information_are_derivatives_of_the_likelihood(category):
    excess, h = np.linspace(-0.7, 0.7, 12), 1e-4
    words = np.full(12, category)
    score, information = working_response(MODEL, words, excess)
    # the log needed dose rises as the excess falls
    less, same, more = (log_chance(MODEL, words, excess - d) for d in (-h, 0.0, h))
    np.testing.assert_allclose(score, (more - less) / (2 * h), rtol=1e-3, atol=1e-4)
    inner = (information > 2e-4) & (information < 3.9 / MODEL.scale**2)
    np.testing.assert_allclose(information[inner], (-(more - 2 * same + less) / h**2)[inner], rtol=1e-2, atol=1e-3)


def test_words_far_from_all_sense_keep_finite_weights():
    score, information = working_response(MODEL, np.array([0, 5, 3]), np.array([9.0, -9.0, 40.0]))
    assert np.isfinite(score).all()
    assert (information > 0).all()


def simulate(n, noise, spread, seed=0):
    rng = np.random.default_rng(seed)
    excess = spread * rng.standard_normal(n)
    heard = excess + noise * rng.standard_normal(n)
    return np.searchsorted(CUTS, heard), excess


@pytest.mark.parametrize("noise", [0.15, 0.4])
def test_thresholds_and_scale_are_recovered(noise):
    category, excess = simulate(6000, noise, 0.8)
    model = Ordinal.start()
    for _ in range(6):
        model = fit_ordinal(model, category, excess, np.zeros(len(excess)))
    np.testing.assert_allclose(model.thresholds, CUTS, atol=0.06)
    assert model.scale == pytest.approx(noise, rel=0.08)


def test_a_few_words_leave_the_prior_in_charge():
    model = fit_ordinal(Ordinal.start(), np.array([3, 3]), np.zeros(2), np.zeros(2))
    np.testing.assert_allclose(model.parameters, PRIOR_MEAN, atol=0.4)


def test_counting_judgements_that_are_alike_tells_what_listing_them_does():
    rng = np.random.default_rng(4)
    excess = 0.5 * rng.standard_normal(4000)
    truth = Ordinal.start()
    category = (excess[:, None] + truth.scale * rng.standard_normal((4000, 1)) > truth.thresholds).sum(axis=1)
    variance = rng.uniform(0.0, 0.04, 4000)
    listed = fit_ordinal(truth, category, excess, variance)
    halves = [Binned.of(category[half], excess[half], variance[half]) for half in (slice(1500), slice(1500, None))]
    both = halves[0] + halves[1]
    assert both.sums[:, 0].sum() == 4000
    assert len(both.key) < 1000
    np.testing.assert_allclose(fit_ordinal(truth, *both.rows).parameters, listed.parameters, atol=0.01)
