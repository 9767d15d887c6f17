import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import TableError
from pairing.model.columns import BASES, CALIBRATIONS, COMPARISONS, FLAVOURINGS, READINGS
from pairing.model.constants import MAX_SERVING_G
from pairing.model.fields import check, read_cell, unseen
from pairing.quantities.constants import MAX_DOSE_G_PER_KG
from pairing.quantities.numbers import decimal_comma

FAT = BASES.by_name["fat_g_per_100g"]
DOSE = READINGS.by_name["dose_g_per_kg"]


@pytest.mark.parametrize(
    ("text", "comma", "value"),
    [
        ("1,5", True, 1.5),
        ("0,125", None, 0.125),
        (",5", True, 0.5),
        ("1.234,5", None, 1234.5),
        ("1,234.5", None, 1234.5),
        ("1 234,5", True, 1234.5),
        ("1'234.5", None, 1234.5),
        ("1’234’567", None, 1234567.0),
        ("1,234,567", None, 1234567.0),
        ("12,34,567.5", None, 1234567.5),
        ("12,34,567.5", False, 1234567.5),
        ("1,00,000", None, 100000.0),
        ("1,23,45,678", None, 12345678.0),
        ("1.234.567,8", None, 1234567.8),
        ("12 345,25", None, 12345.25),
        ("1,234", True, 1.234),
        ("1,234", False, 1234.0),
        ("2e-3", None, 0.002),
        ("-3", None, -3.0),
    ],
)
def test_numbers_as_people_write_them(text, comma, value):
    assert read_cell(text, DOSE, comma) == value


@pytest.mark.parametrize("text", ["1,234", "12,345"])
def test_a_comma_that_may_be_thousands_is_refused_with_the_remedy(text):
    with pytest.raises(TableError, match=r"may be 1\d?\d{3} or 1\d?\.\d{3} — write 1"):
        read_cell(text, DOSE, None)


def test_a_point_among_decimal_commas_is_refused():
    with pytest.raises(TableError, match=r"may be 1234 or 1,234 where commas are decimal signs — write 1234 or 1,234"):
        read_cell("1.234", DOSE, True)


@pytest.mark.parametrize(
    "text",
    [
        "1.5.2",
        "1,2,3",
        "12,34.5",
        "1,234,56",
        "1,23,45",
        "123,45,678",
        "1.23.456",
        "1.234,567.8",
        "0,123,456",
        "1,234.567.890",
    ],
)
@pytest.mark.parametrize("comma", [None, True, False])
def test_thousands_come_in_groups_of_three(text, comma):
    with pytest.raises(TableError, match=r"has several commas or points — write it with one decimal sign"):
        read_cell(text, DOSE, comma)


@pytest.mark.parametrize("text", ["1234 567", "12 34", "1.5 234", "1 2 3"])
def test_blanks_part_thousands_only(text):
    with pytest.raises(TableError, match="is not a number"):
        read_cell(text, DOSE)


@pytest.mark.parametrize(
    "text", ["01.05.2026", "1.5.26", "3/4/2026", "2026-05-01", "2026-05-01T12:30", "1-5-2026 10:00"]
)
def test_a_date_is_no_number(text):
    with pytest.raises(TableError, match=rf"dose_g_per_kg: '{text}' is a date, not a number"):
        read_cell(text, DOSE)


@pytest.mark.parametrize("text", ["", " ", "-", "–", "?", "n/a", "unknown", "NaN"])
def test_words_for_unknown_are_unknown_never_zero(text):
    assert math.isnan(read_cell(text, FAT))


@pytest.mark.parametrize("text", ["abc", "<0.5", "1 2", "1.2.3.", "once", "0.5*", "~3"])
def test_what_is_no_number_is_refused(text):
    with pytest.raises(TableError):
        read_cell(text, FAT)


@pytest.mark.parametrize(
    ("text", "column", "value"),
    [
        ("3 g", FAT, 3.0),
        ("3g", FAT, 3.0),
        ("300 mg", FAT, 0.3),
        ("3 g/100 g", FAT, 3.0),
        ("30 g/kg", FAT, 3.0),
        ("3 %", FAT, 3.0),
        ("35 kcal per 8 g", FLAVOURINGS.by_name["energy_kcal_per_g"], 4.375),
        ("1,2 %", DOSE, 12.0),
        ("5 g/kg", DOSE, 5.0),
        ("0.4 kg", READINGS.by_name["base_g"], 400.0),
        ("2 dl", READINGS.by_name["base_ml"], 200.0),
        ("2 h", READINGS.by_name["minutes_since_addition"], 120.0),
        ("20 °C", READINGS.by_name["temperature_c"], 20.0),
        ("700 mg", CALIBRATIONS.by_name["grams"], 0.7),
        ("€ 12.50", BASES.by_name["cost_per_kg"], 12.5),
        ("12.50 €/kg", BASES.by_name["cost_per_kg"], 12.5),
        ("1.25 € per 100 g", BASES.by_name["cost_per_kg"], 12.5),
    ],
)
def test_trailing_units_are_converted(text, column, value):
    assert read_cell(text, column, comma=None) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("table", "name", "least", "most"),
    [
        (BASES, "energy_kcal_per_100g", 0, 900),
        (BASES, "fat_g_per_100g", 0, 100),
        (BASES, "sodium_mg_per_100g", 0, 40_000),
        (BASES, "caffeine_mg_per_100g", 0, 100_000),
        (BASES, "ethanol_g_per_100g", 0, 100),
        (BASES, "density_g_per_ml", 0.2, 3),
        (BASES, "serving_g", 1, MAX_SERVING_G),
        (BASES, "ph", 0, 14),
        (BASES, "viscosity_mpa_s", 0.1, None),
        (FLAVOURINGS, "label_dose_g_per_kg", 0, MAX_DOSE_G_PER_KG),
        (FLAVOURINGS, "density_g_per_ml", 0.2, 3),
        (FLAVOURINGS, "drop_mg", 0.1, 500),
        (FLAVOURINGS, "max_dose_g_per_kg", 0, MAX_DOSE_G_PER_KG),
        (FLAVOURINGS, "fat_loving", 0, 1),
        (FLAVOURINGS, "energy_kcal_per_g", 0, 9.5),
        (FLAVOURINGS, "sugars_g_per_g", 0, 1),
        (FLAVOURINGS, "sodium_mg_per_g", 0, 400),
        (FLAVOURINGS, "caffeine_mg_per_g", 0, 1000),
        (FLAVOURINGS, "ethanol_g_per_g", 0, 1),
        (READINGS, "base_g", 0.1, None),
        (READINGS, "base_ml", 0.1, None),
        (READINGS, "reading", 1, None),
        (READINGS, "position", 1, None),
        (READINGS, "strength", 0, 5),
        (READINGS, "liking", 1, 9),
        (READINGS, "likeness", 0, 10),
        (READINGS, "temperature_c", -30, 110),
        (READINGS, "minutes_since_addition", 0, None),
    ],
)
def test_a_number_is_taken_up_to_its_limits_and_refused_beyond(table, name, least, most):
    column = table.by_name[name]
    step = 1 if column.kind == "integer" else 0.01
    for value, beyond in ((least, -step), (most, step)):
        if value is not None:
            assert check(value, column) == value
            with pytest.raises(TableError, match="allowed is"):
                check(value + beyond, column)


def test_energy_in_kilojoules_is_converted():
    # published: 1 kcal = 4.184 kJ, the thermochemical calorie (ISO 80000-5:2019, Annex)
    assert read_cell("146.44 kJ", BASES.by_name["energy_kcal_per_100g"]) == pytest.approx(35.0)


@pytest.mark.parametrize("text", ["3 ml", "3 kcal", "3 g per portion", "3 furlongs"])
def test_a_unit_that_does_not_fit_is_refused(text):
    with pytest.raises(TableError, match="does not fit"):
        read_cell(text, FAT)


def test_words_of_the_scales_are_read():
    # published: hedonic words Peryam & Pilgrim 1957; just-about-right words ASTM MNL63
    assert read_cell("Like very much", READINGS.by_name["liking"]) == 8
    assert read_cell("too weak", READINGS.by_name["strength"]) == 2


@pytest.mark.parametrize(
    ("said", "strength"),
    [
        *dict.fromkeys(("nothing", "not there"), 0).items(),
        *dict.fromkeys(("very weak", "far too weak", "way too weak"), 1).items(),
        *dict.fromkeys(("weak", "a bit weak", "slightly weak", "a little weak", "a bit too weak"), 2).items(),
        *dict.fromkeys(("ok", "okay", "right", "about right", "good", "fine", "perfect"), 3).items(),
        *dict.fromkeys(("strong", "bit strong", "a bit too strong"), 4).items(),
        *dict.fromkeys(("very strong", "far too strong", "way too strong"), 5).items(),
    ],
)
def test_loose_words_of_a_strength_are_read_as_meant(said, strength):
    assert read_cell(said, READINGS.by_name["strength"]) == strength


@given(st.floats(min_value=0.01, max_value=0.999, allow_nan=False))
def test_a_decimal_comma_reads_like_a_point(value):
    text = f"{value:.4f}"
    assert read_cell(text.replace(".", ","), DOSE, True) == read_cell(text, DOSE, None) == float(text)


def test_evidence_for_decimal_commas():
    assert decimal_comma(["7", "1,234", "0,5"]) is True
    assert decimal_comma(["1,234.5"]) is False
    assert decimal_comma(["1.234,5"]) is True
    assert decimal_comma(["1,234", "3"]) is None


@pytest.mark.parametrize("name", ["check_id", "serving", "question", "left", "right", "answer"])
def test_a_comparison_without_what_it_compares_is_refused(name):
    with pytest.raises(TableError, match=f"{name} is empty"):
        check(None, COMPARISONS.by_name[name])


def test_after_an_arabic_letter_only_the_joiner_is_needed():
    """Unicode Standard Annex 31, UAX31-R1a (cited in `pairing.model.fields.unseen`)."""
    assert [unseen(f"م{c}ن") for c in "\u200c\u00ad\u200b\u200d"] == ["", "\u00ad", "\u200b", "\u200d"]
