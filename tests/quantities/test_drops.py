"""What a drop weighs, and weighing it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from pairing.errors import QuantityError
from pairing.model.flavouring import Flavouring
from pairing.quantities.calibration import calibrate
from pairing.quantities.drops import USUAL_DROP_MG, drop_mass, is_liquid


def flavouring(**facts):
    return Flavouring(flavouring_id="x", name="X", **facts)


def test_the_bottles_own_mass_comes_first():
    found = drop_mass(flavouring(drop_mg=31, carrier="ethanol"))
    assert (found.mg, found.calibrated, found.comes_in_drops, found.queried) == (31, True, True, False)
    assert drop_mass(flavouring(drop_mg=125)).queried


@pytest.mark.parametrize(
    "carrier", ["ethanol:0.6", "propylene glycol", "vegetable glycerin", "sunflower oil", "water", None]
)
def test_defaults_are_wide_usual_and_marked(carrier):
    found = drop_mass(flavouring(carrier=carrier, form="drops"))
    assert not found.calibrated
    assert found.source.startswith("uncalibrated, ")
    assert ("unknown" in found.source) == (carrier is None), "what it is usual for is said"
    assert USUAL_DROP_MG[0] < found.low < found.mg < found.high <= USUAL_DROP_MG[1]
    assert found.high / found.low > 1.5


def test_the_main_carrier_decides():
    assert drop_mass(flavouring(carrier="water:0.1;ethanol:0.8")).mg < drop_mass(flavouring(carrier="water:0.8")).mg


def test_what_comes_in_drops():
    assert drop_mass(flavouring(label_dose="3 drops per 100 ml")).comes_in_drops
    assert drop_mass(flavouring(form="extract")).comes_in_drops
    assert not drop_mass(flavouring(form="powder")).comes_in_drops
    assert not drop_mass(flavouring(form="syrup")).comes_in_drops


def test_liquid_or_not():
    assert is_liquid(flavouring(form="syrup"))
    assert is_liquid(flavouring(form="oil powder")) is False
    assert is_liquid(flavouring(carrier="ethanol"))
    assert is_liquid(flavouring()) is None


def test_repeats_narrow_the_interval_and_spread_widens_it():
    once, twice = calibrate(30, 0.9, 0.01), calibrate([30, 30, 30], [0.9, 0.9, 0.9], 0.01)
    apart = calibrate([30, 30, 30], [0.7, 0.9, 1.1], 0.01)
    assert twice.high - twice.low < once.high - once.low < apart.high - apart.low
    assert once.mg == pytest.approx(30)


def test_the_interval_is_that_of_two_imagined_runs_and_the_scale():
    """Computed with scipy: runs alike say nothing of their own spread, so 5 % is taken, by two runs of it."""
    found = calibrate([30, 30], [0.9, 0.9], 0.1)
    scale_sd = 1000 * 0.1 / np.sqrt(6) * np.sqrt(2) / 60
    half = stats.t(3).ppf(0.9) * np.sqrt(2 * (0.05 * 30) ** 2 / 3 / 2 + scale_sd**2)
    assert (found.low, found.high) == pytest.approx((30 - half, 30 + half))


def test_a_coarse_scale_asks_for_more_drops():
    coarse, fine = calibrate(20, 0.5, 0.1), calibrate(20, 0.5, 0.01)
    assert (coarse.n_drops, fine.n_drops) == (90, 20)  # 0.1 g ÷ √6 is 2 % of 82 drops of 25 mg, in tens
    assert str(coarse.n_drops) in coarse.advice
    assert coarse.high - coarse.low > fine.high - fine.low


def test_the_interval_holds_what_it_says():
    """Simulation: drops of known mass, runs 5 % apart, a rounding scale: 80 % intervals hold it 80 times in 100."""
    rng = np.random.default_rng(4)
    hits = 0
    for _ in range(600):
        true = rng.uniform(12, 60)
        runs = true * (1 + 0.05 * rng.standard_normal(2))
        masses = np.maximum(np.round((runs * 50 / 1000 + rng.uniform(-0.05, 0.05, 2)) / 0.1) * 0.1, 0.1)
        found = calibrate([50, 50], masses.tolist(), 0.1)
        hits += found.low <= true <= found.high
    assert 0.74 < hits / 600 < 0.90


@pytest.mark.parametrize(
    ("drops", "grams", "scale"),
    [
        (0, 1, 0.1),
        (2.5, 1, 0.1),
        (10, 0, 0.1),
        (10, -1, 0.1),
        (10, 0.05, 0.1),
        ([1, 2], [0.5], 0.1),
        (10, 1, 0),
        ([], [], 0.1),
    ],
)
def test_impossible_weighings_are_refused(drops, grams, scale):
    with pytest.raises(QuantityError) as caught:
        calibrate(drops, grams, scale)
    assert caught.value.hint


@given(st.integers(1, 500), st.floats(0.1, 50))
def test_the_estimate_is_inside_its_interval(drops, grams):
    found = calibrate(drops, grams)
    assert 0 < found.low < found.mg < found.high
    assert found.queried == (not USUAL_DROP_MG[0] <= found.mg <= USUAL_DROP_MG[1])
