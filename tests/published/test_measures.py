"""US and imperial measures against their definitions."""

from fractions import Fraction

import pytest

from pairing.quantities.units import OUNCE, unit_of

GALLON_ML = Fraction("16.387064") * 231
IMPERIAL_GALLON_ML = Fraction("4546.09")


@pytest.mark.parametrize(
    ("word", "share"),
    [("gal", 1), ("quart", 4), ("pint", 8), ("cup", 16), ("fl oz", 128), ("tbsp", 256), ("tsp", 768)],
)
def test_us_measures(word, share):
    """Published: NIST Handbook 44, Appendix C: the US gallon is 231 cubic inches, exactly 3785.411784 ml."""
    assert unit_of(word).size == GALLON_ML / share


@pytest.mark.parametrize(("word", "share"), [("gallon", 1), ("quart", 4), ("pint", 8), ("fl oz", 160)])
def test_imperial_measures(word, share):
    """Published: UK Weights and Measures Act 1985: the gallon is 4.54609 l, 160 fluid ounces."""
    assert unit_of(word, "imperial").size == IMPERIAL_GALLON_ML / share


def test_ounce_and_pound():
    """Published: NIST Handbook 44, Appendix C: the avoirdupois pound is exactly 453.59237 g, 16 ounces."""
    assert unit_of("lb").size == Fraction("453.59237")
    assert OUNCE.size == Fraction("453.59237") / 16


def test_a_label_teaspoon_differs_and_that_is_said():
    """Published: 21 CFR 101.9(b)(5)(viii): on a label a teaspoon is 5 ml; the US measure is 1.44 % smaller."""
    assert 5 / unit_of("tsp").size == pytest.approx(1.0144, abs=5e-5)
    assert "5 ml" in unit_of("tsp").note


def test_dash_and_pinch():
    """Common practice (no source): a dash is 1/8 teaspoon, a pinch 1/16; no standard fixes them."""
    assert unit_of("dash").size == pytest.approx(0.6161, abs=5e-5)
    assert unit_of("pinch").size == pytest.approx(0.3081, abs=5e-5)
    assert "no standard" in unit_of("dash").note
