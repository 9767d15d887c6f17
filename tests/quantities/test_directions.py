"""Label directions: every way of writing one, what is assumed, what is refused."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pairing.errors import QuantityError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.quantities.directions import label_dose, label_doses, parse_direction
from pairing.quantities.drops import drop_mass
from pairing.quantities.labels import span

OZ, GAL = 29.5735295625, 3785.411784


def flavouring(**facts):
    return Flavouring(flavouring_id="x", name="X", **facts)


def finished(r):
    return r / (1 + r / 1000)


DROPS = flavouring(form="drops", drop_mg=25, density_g_per_ml=1.04)
POWDER = flavouring(form="powder")
BASE = Base(base_id="b", name="B", density_g_per_ml=1.05)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("3 drops per 100 ml", 0.075 / 0.105, None),
        ("3 drops/100ml", 0.075 / 0.105, None),
        ("1-2 drops/100ml", 0.025 / 0.105, 0.05 / 0.105),
        ("1 drop - 2 drops per 100 ml", 0.025 / 0.105, 0.05 / 0.105),
        ("between 1 and 2 drops per 100 ml", 0.025 / 0.105, 0.05 / 0.105),
        ("Add 3 drops to 100 ml", 0.075 / 0.105, None),
        ("3 drops for every 100 ml", 0.075 / 0.105, None),
        ("per 100 ml: 3 drops", 0.075 / 0.105, None),
        ("For 1 litre use 2 tsp", 2 * 4.92892159375 * 1.04 / 1.05, None),
        ("3 drops per glass (250 ml)", 0.075 / 0.2625, None),
        ("a drop per 100 ml", 0.025 / 0.105, None),
        ("3 drops / 1 000 ml", 0.075 / 1.05, None),
        ("3 drops per 1\u00a0000 ml", 0.075 / 1.05, None),
        ("2 000 \u00b5g/kg", 0.002, None),
        ("500 \u03bcg per kg", 0.0005, None),
        ("3-4 drops per 100-200 ml", 0.075 / 0.21, 0.1 / 0.105),
        ("1 drop per fl oz", 0.025 / (OZ * 1.05e-3), None),
        ("10 drops per 8 oz", 0.25 / (8 * OZ * 1.05e-3), None),
        ("2 fl oz per 5 gal", 2 * OZ * 1.04 / (5 * GAL * 1.05e-3), None),
        ("1 oz per gallon", OZ * 1.04 / (GAL * 1.05e-3), None),
        ("1 oz/gal", OZ * 1.04 / (GAL * 1.05e-3), None),
        ("2 imperial fl oz per 5 gal", 2 * 28.4130625 * 1.04 / (5 * 4546.09 * 1.05e-3), None),
        ("2 tsp per litre", 2 * 4.92892159375 * 1.04 / 1.05, None),
        ("half a teaspoon per cup", 0.5 * 4.92892159375 * 1.04 / (0.2365882365 * 1.05), None),
        ("0.5–1 %", 5, 10),
        ("0,5 %", 5, None),
        ("0.8 % w/w", 8, None),
        ("0.8 % v/v", 8 * 1.04 / 1.05, None),
        ("1 % by volume", 10 * 1.04 / 1.05, None),
        ("0.8 % w/v", 8 / 1.05, None),
        ("0.1 wt%", 1, None),
        ("5 ‰", 5, None),
        ("5 g/kg", 5, None),
        ("5g per kg", 5, None),
        ("2 mL/kg", 2.08, None),
        ("100 mg/l", 0.1 / 1.05, None),
        ("500 ppm", 0.5, None),
        ("1:1000", 1, None),
        ("1 part to 1000 parts", 1, None),
        ("1 lb per gallon", 453.59237 / (GAL * 1.05e-3), None),
        ("Dosage: 0.05-0.15 %", 0.5, 1.5),
        ("35 g per 350 ml", 35 / 0.3675, None),
        ("1.5 g / 100 g of oat milk", 15, None),
        ("5 drops per 8 fl oz (240 ml)", 0.125 / (8 * OZ * 1.05e-3), None),
        ("1 tsp (5 ml) per litre", 5 * 1.04 / 1.05, None),
        ("1 ml : 100 ml", 10 * 1.04 / 1.05, None),
        ("0.1% - 0.3%", 1, 3),
        ("0.05 % (0.5 g/kg)", 0.5, None),
        ("1/2-1 tsp per cup", 0.5 * 4.92892159375 * 1.04 / (0.2365882365 * 1.05), 4.92892159375 * 1.04 / 0.24841764833),
        ("10 drops/½ cup", 0.25 / (0.11829411825 * 1.05), None),
        ("1 scoop (12 g) per 300 ml", 12 / 0.315, None),
        ("2.5g per serving (300ml)", 2.5 / 0.315, None),
        ("1 part flavouring to 500 parts drink", 2, None),
        ("8 drops in a 12 oz glass", 0.2 / (12 * OZ * 1.05e-3), None),
        ("3 gtt/100 mL", 0.075 / 0.105, None),
    ],
)
def test_what_people_write(text, low, high):
    found = parse_direction(text, DROPS, BASE)
    assert found.low == pytest.approx(finished(low), rel=1e-9)
    assert found.high == pytest.approx(finished(low if high is None else high), rel=1e-9)
    assert found.mid == pytest.approx(math.sqrt(found.low * found.high))
    assert found.as_written == text
    assert not found.finished


@pytest.mark.parametrize(
    "text", ["5 g/kg finished", "0.5 % of the finished drink", "Recommended 0.5% in final product", "1 in 200"]
)
def test_a_finished_direction_is_taken_as_it_stands(text):
    found = parse_direction(text)
    assert found.finished
    assert found.mid == pytest.approx(5)


def test_volumes_take_the_stated_density_else_one_point_oh_three_and_say_so():
    assert parse_direction("5 g per litre").mid == pytest.approx(finished(5 / 1.03))
    assert any("1.03 g/ml assumed" in a for a in parse_direction("5 g per litre").assumptions)
    assert parse_direction("5 g per litre", None, BASE).mid == pytest.approx(finished(5 / 1.05))
    known = parse_direction("5 ml per litre", flavouring(density_g_per_ml=1.2))
    assert known.mid == pytest.approx(finished(5 * 1.2 / 1.03))


def test_volumes_on_both_sides_without_a_density_are_compared_as_they_are():
    found = parse_direction("5 ml per litre")
    assert found.mid == pytest.approx(finished(5))
    assert any("only volumes" in a for a in found.assumptions)


def test_an_ounce_of_powder_is_a_mass_and_that_is_said():
    powder, liquid = parse_direction("1 oz per gallon", POWDER, BASE), parse_direction("1 oz per gallon", DROPS, BASE)
    assert powder.mid == pytest.approx(finished(28.349523125 / (GAL * 1.05e-3)))
    assert any("by mass" in a for a in powder.assumptions)
    assert any("fluid ounces, as it is liquid" in a for a in liquid.assumptions)
    unknown = parse_direction("1 oz per gallon", flavouring(), BASE)
    assert any("form is not known" in a for a in unknown.assumptions)


def test_us_is_assumed_aloud_and_imperial_is_heard():
    assert any("US measure assumed" in a for a in parse_direction("1 ml per gallon").assumptions)
    for word in ("imperial", "UK", "British"):
        found = parse_direction(f"10 ml per {word} gallon")
        assert found.mid == pytest.approx(finished(10 / 4.54609))
    with pytest.raises(QuantityError, match="two systems"):
        parse_direction("1 US fl oz per imperial gallon")


def test_an_uncalibrated_drop_is_marked():
    found = parse_direction("3 drops per 100 ml", flavouring(form="drops", carrier="ethanol"))
    assert any("uncalibrated" in a for a in found.assumptions)
    assert not any("uncalibrated" in a for a in parse_direction("3 drops per 100 ml", DROPS).assumptions)


def test_a_measure_in_brackets_is_the_suppliers_own():
    found = parse_direction("10 drops (0.5 ml) per 250 ml")
    assert found.mid == pytest.approx(finished(2))
    assert any("brackets" in a for a in found.assumptions)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("3 drops", "not per how much drink"),
        ("to taste", "no dose was understood"),
        ("5 %% of 3", "understood '5 %' only"),
        ("-3 drops per 100 ml", "negative"),
        ("2000 g/kg", "2000 g per kg, at most 999"),
        ("150 %", "at most 999"),
        ("up to 0.5 %", "limit"),
        ("5 g/kg max", "limit"),
        ("at least 2 drops per 100 ml", "limit"),
        ("3 drops per glass", "not how large"),
        ("3 drops per 100 ml or 1 g per litre", "was not understood"),
        ("0 drops per 100 ml", "no dose"),
        ("3 drops per 0 ml", "no dose"),
        ("1,500 g per l", "may be"),
        ("5", "no dose was understood"),
        ("", "empty"),
        ("   ", "empty"),
        ("2 scoops per shaker", "not how much one is"),
        ("5 g/kg/day", "'/day' was not understood"),
        ("1:0", "part of 0"),
        ("10 drops per 5 drops", "measured in drops"),
        ("nan %", "no dose"),
        ("3 drops per 100 ml twice daily", "was not understood"),
        ("10-20", "no dose"),
        ("5 drops per 8 fl oz (100 ml)", "two sizes"),
        ("0.05 % (5 g/kg)", "two things"),
        ("1 packet per 16 oz", "'packet' per 16 oz, but not how much one is"),
        ("add 3 drops at the end", "understood '3 drops' only"),
        ("1:2:3", "was not understood"),
    ],
)
def test_ambiguous_or_impossible_text_is_refused_with_a_remedy(text, says):
    with pytest.raises(QuantityError) as caught:
        parse_direction(text)
    assert says in caught.value.message
    assert caught.value.hint


def test_the_hint_completes_what_was_understood():
    with pytest.raises(QuantityError) as caught:
        parse_direction("3 drops")
    assert "3 drops per 100 ml" in caught.value.hint
    assert parse_direction("3 drops per 100 ml")


SCRAPS = "3 0 1-2 0,5 1,500 ½ 1/2 half a drops ml g kg oz fl gallon tsp cup litre per / to in of % %% v/v ppm"
SCRAPS += " : 1:0 - + ( ) max uk us"


def read_or_refuse(text, bottle=None):
    try:
        return parse_direction(text, bottle)
    except QuantityError as error:
        return error


@given(st.one_of(st.text(max_size=40), st.lists(st.sampled_from(SCRAPS.split()), max_size=8).map(" ".join)))
@settings(max_examples=400)
def test_any_text_is_read_or_refused(text):
    found = read_or_refuse(text)
    if isinstance(found, QuantityError):
        assert found.hint
    else:
        assert 0 < found.low <= found.high < 1000


@given(
    low=st.floats(0.001, 400),
    factor=st.floats(1, 2),
    unit=st.sampled_from(["g", "mg", "ml", "drops", "tsp"]),
    drink=st.sampled_from(["kg", "100 g", "litre", "100 ml", "gallon"]),
)
def test_a_range_is_its_two_ends(low, factor, unit, drink):
    low, high = round(low, 3), round(low * factor, 3)
    both = read_or_refuse(f"{low:.3f}-{high:.3f} {unit} per {drink}", DROPS)
    if isinstance(both, QuantityError):
        assert "999" in both.message
        return
    assert both.low == pytest.approx(parse_direction(f"{low:.3f} {unit} per {drink}", DROPS).mid)
    assert both.high == pytest.approx(parse_direction(f"{high:.3f} {unit} per {drink}", DROPS).mid)


def test_label_dose_prefers_the_number_and_has_none_without_either():
    assert label_dose(flavouring()) is None
    assert label_dose(flavouring(label_dose="5 g/kg", label_dose_g_per_kg=4)).mid == 4
    assert label_dose(flavouring(label_dose="5 g/kg")).mid == pytest.approx(finished(5))
    drops = flavouring(label_dose="3 drops per 100 ml", drop_mg=30)
    assert label_dose(drops, BASE).mid == pytest.approx(finished(0.003 * drop_mass(drops).mg / 0.105))


def test_the_basis_is_shown():
    assert parse_direction("150 g/kg").understood == "150 g per kg of base = 130.43 g/kg finished"
    assert parse_direction("0.5 % finished").understood == "0.5 % by mass of finished drink = 5 g/kg finished"


def test_what_the_other_ounce_would_change_is_said_first():
    maple = flavouring(form="syrup", density_g_per_ml=1.32)
    found = parse_direction("1 oz per gallon", maple, BASE)
    other = parse_direction("28.349523125 g per gallon", maple, BASE)
    assert found.doubtful
    assert f"by mass the dose is −{100 * (1 - other.mid / found.mid):.0f} %" in found.assumptions[0]
    drink = parse_direction("6 drops per 8 oz", DROPS, BASE)
    assert not drink.doubtful
    assert drink.assumptions[0].startswith("oz of drink: fluid ounces; by mass the dose is +")
    assert not parse_direction("1 fl oz per gallon", maple, BASE).doubtful


def test_a_stated_convention_settles_a_comma():
    assert parse_direction("1,250 mg/kg finished", comma=True).mid == pytest.approx(0.00125)
    assert parse_direction("1,250 mg/kg finished", comma=False).mid == pytest.approx(1.25)
    with pytest.raises(QuantityError, match=r"'1,000' may be 1000 or 1,000 where commas are decimal signs"):
        parse_direction("3 drops per 1,000 ml", comma=True)


def test_a_label_per_volume_is_a_dose_by_the_density_of_the_base():
    light, dense = Base(base_id="l", name="L"), Base(base_id="d", name="D", density_g_per_ml=1.1)
    found = label_doses(flavouring(label_dose="5 g per litre"), [light, dense, light])
    assert [d.mid for d in found] == [pytest.approx(finished(5 / rho)) for rho in (1.03, 1.1, 1.03)]
    assert label_doses(flavouring(), [light]) == [None]


@given(st.sampled_from("1a (%.,/ -"), st.integers(1, 2000))
@settings(max_examples=40)
def test_a_long_text_is_refused_in_bounded_work(sign, n):
    assert isinstance(read_or_refuse("3 drops " + sign * n), QuantityError)


def test_what_was_understood_is_said_to_a_hundredth_of_a_gram():
    assert [span(99.994, 99.994), span(100.25, 100.25), span(1, 1.5)] == ["99.99", "100.25", "1–1.5"]
