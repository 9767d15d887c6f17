"""Intake limits against the opinions that set them, for a body mass of 70 kg."""

import pytest

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.allergens import ALLERGENS
from pairing.nutrition.serving import serving
from pairing.nutrition.substances import steviol_share
from pairing.safety.limits import daily_limit_mg, limits_in


@pytest.mark.parametrize(
    ("substance", "eu_mg", "us_mg"),
    [
        ("sucralose", 1050, 350),
        ("aspartame", 2800, 3500),
        ("acesulfame k", 1050, 1050),
        ("saccharin", 630, 1050),
        ("cyclamate", 490, 0),
        ("steviol glycosides", 280, 280),
        ("neotame", 700, 21),
        ("advantame", 350, 2296),
        ("propylene glycol", 1750, 1750),
        ("caffeine", 400, 400),
        ("sodium", 2000, 2300),
        ("coumarin", 7, 0),
        ("glycyrrhizin", 100, 100),
        ("menthol", 280, 280),
    ],
)
def test_a_day_at_70_kg(substance, eu_mg, us_mg):
    """Published: EFSA, JECFA, FDA, SCF 2003, WHO 2012, DGA 2020; menthol from memory.

    EFSA: sucralose 2026; acesulfame K 2025;23(4):e9317 (no longer 9 mg/kg); saccharin 2024 (no longer 5); propylene
    glycol 2018;16(4):5235; caffeine 2015;13(5):4102; coumarin 2008;793.
    """
    assert daily_limit_mg(substance, 70) == pytest.approx(eu_mg)
    assert daily_limit_mg(substance, 70, "US") == pytest.approx(us_mg)


def test_cyclamate_is_not_permitted_in_the_us():
    """Published: FDA."""
    assert [x.most for x in limits_in("US") if x.substance == "cyclamate"] == [0]


@pytest.mark.parametrize(
    ("name", "share"),
    [
        ("stevioside", 0.396),
        ("Reb A", 0.329),
        ("RebA", 0.329),
        ("Rebaudioside-A", 0.329),
        ("Reb-M", 0.247),
        ("rebaudioside C", 0.335),
        ("rebaudioside D", 0.282),
        ("rebaudioside M", 0.247),
        ("dulcoside A", 0.404),
    ],
)
def test_steviol_equivalents(name, share):
    """Published: EFSA 2010: the ADI is in steviol equivalents; 318.45 ÷ molar mass (molar masses from memory)."""
    assert steviol_share(name) == pytest.approx(share, abs=0.002)


def test_rebaudioside_a_at_70_kg():
    """Published: EFSA 2010: 4 mg/kg steviol is 12.1 mg/kg rebaudioside A: 850 mg a day at 70 kg."""
    assert daily_limit_mg("steviol glycosides", 70) / steviol_share("rebaudioside a") == pytest.approx(850, abs=1)


def test_propylene_glycol_in_ml_of_a_flavour():
    """Published: EFSA Journal 2018;16(4):5235: 1750 mg is 1.88 ml of a flavour with 90 % of it (density 1.036 g/ml)."""
    assert daily_limit_mg("propylene glycol", 70) / 1000 / 0.9 / 1.036 == pytest.approx(1.88, abs=0.005)


def test_allergen_lists():
    """Published: Regulation (EU) 1169/2011, Annex II has 14; FALCPA and the FASTER Act name 9."""
    assert len(set(ALLERGENS["EU"])) == 14
    assert len(set(ALLERGENS["US"])) == 9
    assert "sesame" in ALLERGENS["US"]


@pytest.mark.parametrize(("ml", "percent"), [(1, 0.145), (3.48, 0.5)])
def test_an_extract_in_240_ml(ml, percent):
    """Published: FDA CPG 510.400 (0.5 % by volume): 3.48 ml of a 35 % extract in 240 ml reach it; 1 ml is 0.145 %."""
    base = Base(base_id="b", name="B", ethanol_g_per_100g=0, density_g_per_ml=1.0)
    extract = Flavouring(flavouring_id="e", name="E", ethanol_g_per_g=0.35 * 0.789 / 0.95, density_g_per_ml=0.95)
    dose = 1000 * ml * 0.95 / (240 + ml * 0.95)
    found = serving(Recipe("b", {"e": dose}), Shelf.of([base], [extract]), serving_g=240)
    assert found.ml["e"] == pytest.approx(ml)
    assert found.ethanol_pct_vv == pytest.approx(percent, abs=0.001)
