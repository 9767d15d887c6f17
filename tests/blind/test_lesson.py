"""The tasting lesson: what is served, and what five cups say of a tongue."""

import math

import pytest

from pairing.blind.lesson import LEVELS, Lesson, lesson, verdict
from pairing.errors import LogError

CUPS = Lesson(("111", "222", "333", "444", "555"), (0.5, 1.0, 0.0, 2.0, 1.0))


def said(*values):
    return dict(zip(CUPS.codes, values, strict=True))


def test_every_dose_is_served_and_one_of_them_twice_never_side_by_side():
    for seed in range(20):
        served = lesson(random_state=seed)
        assert sorted(served.levels) == sorted((*LEVELS, 1.0))
        places = [i for i, level in enumerate(served.levels) if level == 1.0]
        assert places[1] - places[0] > 1
        assert len(set(served.codes)) == 5
    assert lesson(random_state=3) == lesson(random_state=3)
    assert len({lesson(n, random_state=3).levels for n in range(8)}) > 3


def test_repeatability_is_that_of_the_standard():
    # published: ISO 5725-6:1994, 4.1: of two results the standard deviation is their difference / √2, r is 1.96 √2 s
    found = verdict(CUPS, said(2, 4, 0, 9, 6), said(5, 7, 4, 6, 5))
    assert found.liking_sd == pytest.approx(2 / math.sqrt(2))
    assert found.liking_limit == pytest.approx(1.959964 * 2, rel=1e-6)
    assert found.d_prime[(1.0, 2.0)] == pytest.approx((9 - 5) / (2 / math.sqrt(2)))


def test_the_verdict_says_what_is_told_apart_and_what_not():
    words = str(verdict(CUPS, said(5, 5, 0, 9, 5), said(5, 7, 4, 6, 7)))
    assert "you tell 0.5 × from 0 ×, 2 × from 1 × apart" in words
    assert "not 1 × from 0.5 ×" in words
    assert "your liking repeats within" in words
    dull = verdict(CUPS, said(5, 5, 5, 5, 5), said(5, 5, 5, 5, 5))
    assert dull.ranked == 0.5
    assert str(dull).startswith("these cups were too alike for you")


def test_a_cup_without_an_answer_and_one_off_the_scale_are_refused():
    with pytest.raises(LogError, match="liking of cup 555 is not said"):
        verdict(CUPS, said(1, 2, 3, 4, 5), {code: 5 for code in CUPS.codes[:-1]})
    with pytest.raises(LogError, match="strength of cup 222 is 12"):
        verdict(CUPS, said(1, 12, 3, 4, 5), said(5, 5, 5, 5, 5))
