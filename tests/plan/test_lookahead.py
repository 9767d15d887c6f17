import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm, t

from pairing.learning.strength import StrengthParams
from pairing.plan.belief import Belief, Heard, word_chances
from pairing.plan.lookahead import SIP_COST, lookahead, stop_worth

PARAMS = StrengthParams(thresholds=(-1.5, -0.75, -0.22, 0.22, 0.7), scale=0.2, stepped=0.0)


def test_without_readings_the_belief_is_the_models_normal_with_one_chance_in_twenty_of_a_wide_t():
    belief = Belief.of(0.3, 0.4)
    assert belief.mean == pytest.approx(0.3, abs=1e-6)
    narrow, wide = 2 * norm.cdf(0.2 / 0.4) - 1, 2 * t.cdf(0.2, 3) - 1
    assert belief.in_range(0.3) == pytest.approx(0.95 * narrow + 0.05 * wide, abs=2e-3)
    assert belief.over(0.3) == pytest.approx(0.95 * norm.cdf(-0.5) + 0.05 * t.cdf(-0.2, 3), abs=2e-3)
    chance = 0.95 * norm.cdf(1.5) + 0.05 * t.cdf(0.6, 3)
    assert belief.quantile(chance) == pytest.approx(0.3 + 0.6, abs=5e-3)


@pytest.mark.parametrize("off", [-6.0, -3.0, 3.0, 6.0])
def test_however_far_off_a_word_is_it_is_believed(off):
    strong, nothing, right = (Belief.of(0.0, 0.1, [Heard(off, word)], PARAMS) for word in (5, 0, 3))
    if off < 0:
        assert strong.over(off) > 0.9
    else:
        assert nothing.over(off) < 0.1
        assert nothing.in_range(off) < 0.1
    assert right.in_range(off) > 0.5


def test_readings_can_overrule_a_narrow_expectation():
    heard = [Heard(1.0, 2), Heard(1.2, 2)]  # too weak at three times what the log leads to expect
    assert Belief.of(0.0, 0.07, heard, PARAMS).mean > 0.8


def test_a_word_moves_the_belief_by_bayes_rule():
    belief = Belief.of(0.0, 0.5, [Heard(-0.4, 2, stepped=False)], PARAMS)
    grid = np.linspace(-5, 5, 10_001)
    prior = 0.95 * norm.pdf(grid, 0, 0.5) + 0.05 * t.pdf(grid, 3, 0, 1.25)
    weight = prior * (norm.cdf((-0.22 + 0.4 + grid) / 0.2) - norm.cdf((-0.75 + 0.4 + grid) / 0.2))
    assert belief.mean == pytest.approx((weight * grid).sum() / weight.sum(), abs=1e-3)


@pytest.mark.parametrize("offset", [0.3, -0.3])
def test_a_stepped_cup_is_heard_as_a_fresh_one_of_a_dose_that_reads_so(offset):
    """Stepped cups that read e^0.3 times as strong: what was just right when stepped is too weak when poured."""
    params = replace(PARAMS, stepped=offset)
    stepped = Belief.of(0.0, 0.5, [Heard(-0.4, 2), Heard(0.1, 3)], params)
    fresh = Belief.of(0.0, 0.5, [Heard(d + offset, w, stepped=False) for d, w in ((-0.4, 2), (0.1, 3))], params)
    assert stepped.mean == pytest.approx(fresh.mean, abs=2e-3)
    assert stepped.sd == pytest.approx(fresh.sd, abs=2e-3)
    plain = Belief.of(0.0, 0.5, [Heard(-0.4, 2), Heard(0.1, 3)], PARAMS)
    assert np.sign(stepped.mean - plain.mean) == np.sign(offset)


def test_readings_that_hang_together_tell_less():
    heard = [Heard(-0.4, 2), Heard(-0.4, 2), Heard(-0.4, 2)]
    loose = Belief.of(0.0, 0.6, heard, PARAMS)
    tied = Belief.of(0.0, 0.6, heard, replace(PARAMS, cup_sd=0.3))
    assert tied.sd > 1.1 * loose.sd


@pytest.mark.parametrize("word", [2, 3, 4])
def test_the_same_word_once_more_never_makes_less_sure(word):
    for cup_sd in (0.0, 0.15, 0.3):
        params = replace(PARAMS, cup_sd=cup_sd)
        spreads = [Belief.of(0.0, 0.6, [Heard(-0.1, word)] * n, params).sd for n in range(4)]
        assert spreads == sorted(spreads, reverse=True)


def test_words_have_chances_that_add_up():
    chances = word_chances(np.linspace(-3, 3, 50), PARAMS)
    assert chances.sum(axis=-1) == pytest.approx(np.ones(50))
    assert (np.diff((chances * np.arange(6)).sum(axis=-1)) > -1e-9).all()


def test_between_the_points_of_the_table_worth_does_not_jump():
    worth = lookahead(PARAMS).worth(np.linspace(-1.0, 1.0, 2001), np.full(2001, 0.12))
    assert np.abs(np.diff(worth)).max() < 0.01


def test_beyond_the_table_its_ends_hold():
    table = lookahead(PARAMS)
    assert table.worth(np.array([-9.0]), np.array([0.3])) == pytest.approx(-0.5, abs=0.01), "far too strong already"
    assert table.worth(np.array([9.0]), np.array([0.3])) == table.worth(np.array([3.0]), np.array([0.3]))
    known = table.worth(np.array([-0.15]), np.array([0.0, 1e-6, 0.04]))
    np.testing.assert_allclose(known, 1.0 - 1.5 * norm.cdf(-0.05 / 0.04))  # as it is, with the least doubt there is


def test_table_agrees_with_playing_the_ladder_out():
    """The table's worth of the best first addition, against the mean score of many ladders played with it."""
    table, rng = lookahead(PARAMS), np.random.default_rng(2)
    prior, targets = Belief.of(0.0, 0.3), np.linspace(-1.0, 0.6, 60)
    expected, scores = table.after_sip(prior, targets).max(), []
    for _ in range(250):
        needed, heard, at, score = 0.3 * rng.standard_normal(), [], -math.inf, 0.0
        while True:
            belief = Belief.of(0.0, 0.3, heard, PARAMS)
            higher = targets[targets > at + 0.04]
            worth = table.after_sip(belief, higher)
            if heard and (not len(worth) or float(stop_worth(belief, at)) >= worth.max()):
                break
            at = float(higher[worth.argmax()])
            z = at - needed + 0.2 * rng.standard_normal()
            heard.append(Heard(at, sum(z > cut for cut in PARAMS.thresholds)))
            score -= SIP_COST
        score += (abs(at - needed) <= 0.2) - 0.5 * (at - needed > 0.2)
        scores.append(score)
    assert np.mean(scores) == pytest.approx(expected, abs=3 * np.std(scores) / np.sqrt(len(scores)) + 0.02)
