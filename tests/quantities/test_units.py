"""Units: what each stands for, and what is assumed about it."""

import pint
import pytest

from pairing.errors import QuantityError
from pairing.quantities.units import OUNCE, fluid, unit_of

REGISTRY = pint.UnitRegistry()


@pytest.mark.parametrize("word", ["ml", "mL".lower(), "millilitre", "milliliters", "cc"])
def test_spellings_of_one_unit(word):
    assert unit_of(word) == unit_of("ml")


def test_the_system_decides_and_is_said():
    assert unit_of("gallon").size != unit_of("gallon", "imperial").size
    assert "US measure assumed" in unit_of("gallon").note
    assert "imperial" in unit_of("gallon", "imperial").note
    assert unit_of("tsp", "metric").size == unit_of("tsp", "imperial").size == 5
    assert unit_of("litre").note == ""


def test_a_bare_ounce_stays_open():
    assert unit_of("oz").kind == "oz"
    assert fluid(unit_of("oz")).kind == "ml"
    assert OUNCE.kind == "g"


def test_household_words_without_a_standard_are_noted():
    assert "no standard" in unit_of("dash").note
    assert unit_of("pinch").size == pytest.approx(unit_of("dash").size / 2)


def test_unknown_unit_names_known_ones():
    with pytest.raises(QuantityError, match="squirt") as caught:
        unit_of("squirt")
    assert "drops" in caught.value.hint


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        *((name, name.replace("fl oz", "fluid_ounce")) for name in ("lb", "fl oz", "cup", "pint", "quart", "gallon")),
        ("tsp", "teaspoon"),
        ("tbsp", "tablespoon"),
        ("kg", "kilogram"),
        ("ug", "microgram"),
        ("cl", "centiliter"),
    ],
)
def test_the_table_is_that_of_a_unit_library(ours, theirs):
    # reference library: pint, its own list of a thousand units
    unit = unit_of(ours)
    assert float(unit.size) == pytest.approx(REGISTRY(theirs).to(unit.kind).magnitude, rel=1e-12)


@pytest.mark.parametrize("name", ["fl oz", "cup", "pint", "quart", "gallon"])
def test_imperial_measures_are_those_of_a_unit_library(name):
    theirs = REGISTRY("imperial_" + name.replace("fl oz", "fluid_ounce")).to("ml").magnitude
    assert float(unit_of(name, "imperial").size) == pytest.approx(theirs, rel=1e-12)
