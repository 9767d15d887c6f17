"""Penalty (mean drop) analysis.

*published*: definition in ASTM MNL63 (Rothman & Parker 2009, Just-About-Right Scales): drop = mean liking of 'just
right' minus mean liking of the side, each side apart. No printed numeric example could be read; this one is synthetic.
The weighting by share is *common practice (no source)*.
"""

import pytest

from pairing.blind.penalty import penalties


def test_mean_drops():
    strength = [2] * 30 + [3] * 50 + [4] * 20
    liking = [5.5] * 30 + [7.2] * 50 + [4.9] * 20
    found = penalties(strength, liking)
    weak, strong = found.side("too weak"), found.side("too strong")
    assert sum(liking) / 100 == pytest.approx(6.23)
    assert (weak.drop, strong.drop) == pytest.approx((1.7, 2.3))
    assert (weak.weighted, strong.weighted) == pytest.approx((0.51, 0.46))
    assert strong.drop > weak.drop
    assert weak.weighted > strong.weighted
    pooled = (30 * 5.5 + 20 * 4.9) / 50
    assert 7.2 - pooled == pytest.approx(1.94)
    assert all(side.drop != pytest.approx(1.94) for side in found.groups)
