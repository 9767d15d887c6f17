"""Alcohol by volume against tables of ethanol and water."""

import numpy as np
import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.alcohol import base_without_ethanol_g_per_ml, ethanol_pct_vv, mixture_g_per_ml
from pairing.nutrition.serving import serving


@pytest.mark.parametrize(
    ("pct_vv", "kg_per_m3"),
    [
        (0, 998.20), (10, 984.71), (12, 982.35), (20, 973.56), (40, 948.05), (50, 930.14), (60, 909.11),
        (70, 885.56), (80, 859.27), (90, 829.18), (96, 807.42), (100, 789.24),
    ],
)  # fmt: skip
def test_densities_at_20_degrees(pct_vv, kg_per_m3):
    """From memory: OIML R 22:1975, International Alcoholometric Tables, density by alcoholic strength at 20 °C."""
    share = pct_vv / 100 * 789.24 / kg_per_m3  # a strength by volume is one by mass, by definition
    assert 1000 * mixture_g_per_ml(share) == pytest.approx(kg_per_m3, abs=0.02)
    assert float(ethanol_pct_vv(share, 1.0, 0.9982)) == pytest.approx(pct_vv, abs=0.01)


@pytest.mark.parametrize(
    ("pct_ww", "g_per_ml"),
    [(10, 0.9819), (20, 0.9687), (30, 0.9539), (40, 0.9352), (50, 0.9139), (60, 0.8911), (70, 0.8676), (80, 0.8436),
     (90, 0.8180)],
)  # fmt: skip
def test_densities_of_a_handbook(pct_ww, g_per_ml):
    """From memory: CRC Handbook, concentrative properties of aqueous solutions, ethanol, 20 °C."""
    assert mixture_g_per_ml(pct_ww / 100) == pytest.approx(g_per_ml, abs=3e-4)


@pytest.mark.parametrize(
    ("share", "kg_per_m3"),
    [(0.05, 989.08), (0.1, 981.84), (0.2, 968.92), (0.3, 954.01), (0.4, 935.32), (0.5, 913.57), (0.6, 891.11)],
)
def test_densities_of_a_reference_library(share, kg_per_m3):
    """Open data: Melinder 2010 (IIR), as CoolProp 8.0 gives it for INCOMP::MEA at 20 °C."""
    assert 1000 * mixture_g_per_ml(share) == pytest.approx(kg_per_m3, rel=4e-4)


def test_strengths_that_a_sum_of_volumes_gets_wrong():
    """From memory: OIML R 22, Table: 19.5 % by mass is about 23.9 % vol (a sum of volumes says 24.7), 84.6 % 89.2."""
    assert float(ethanol_pct_vv(19.5, 100.0, 0.9982)) == pytest.approx(23.95, abs=0.02)
    assert float(ethanol_pct_vv(84.6, 100.0, 1.03)) == pytest.approx(89.2, abs=0.4)


def test_never_above_100_and_rising():
    share = np.linspace(0, 1, 200)
    for density in (0.7, 0.9982, 1.03, 1.4):
        found = ethanol_pct_vv(share, 1.0, density)
        assert found[0] == 0
        assert found[-1] == pytest.approx(100)
        assert (np.diff(found) > -1e-9).all()
        assert found.max() <= 100


def test_a_spirit_as_a_base_keeps_its_strength():
    """The density of a base with ethanol is that of the whole: from memory, OIML R 22, 40 % vol is 33.30 % by mass."""
    spirit = Base(base_id="s", name="Spirit", ethanol_g_per_100g=33.30, density_g_per_ml=0.94805)
    assert base_without_ethanol_g_per_ml(spirit) == pytest.approx(0.9982, abs=1e-4)
    found = serving(Recipe("s"), Shelf.of([spirit], []))
    assert found.ethanol_pct_vv == pytest.approx(40.0, abs=0.02)


def test_a_dilute_drink_is_as_before():
    """100 ml at 0.5 % vol hold 0.395 g (from memory: CRC Handbook)."""
    assert float(ethanol_pct_vv(0.395, 100.0, 1.0)) == pytest.approx(0.5, abs=0.002)
    drops = Flavouring(flavouring_id="x", name="X", carrier="ethanol:0.846")
    water = Base(base_id="w", name="Water", ethanol_g_per_100g=0, density_g_per_ml=0.9982)
    assert serving(Recipe("w", {"x": 999}), Shelf.of([water], [drops]), 1).ethanol_pct_vv < 90
