"""Every door reads numbers alike: same text and same stated convention, same number or same refusal."""

import argparse
import math

import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pairing import Brief, Cup, Recipe
from pairing.cli import calibrate
from pairing.cli.common import number
from pairing.errors import PairingError
from pairing.model.columns import FLAVOURINGS, READINGS, Column
from pairing.model.fields import amounts, check, read_cell
from pairing.model.recipe import parse_recipe_text
from pairing.quantities.amounts import amount_to_g, parse_amount
from pairing.quantities.directions import parse_direction
from pairing.quantities.rates import conversion, read_in
from pairing.store.cells import read_column
from pairing.store.problems import Problems
from pairing_dashboard.wording import entered

DOSE = READINGS.by_name["dose_g_per_kg"]
ANYTHING = Column("dose_g_per_kg", "number")


def column(text, comma=None, of=ANYTHING):
    """One cell of a table, with whatever the store asks of a whole column."""
    problems = Problems()
    values, _ = read_column(pd.Series([text], dtype=object), of, problems, comma=comma)
    for found in problems.found.values():
        raise PairingError(found[0][2], found[0][3])
    return values[0]


def option(text, name=""):
    try:
        return number(text, name)
    except argparse.ArgumentTypeError as refusal:
        message, _, hint = str(refusal).partition(" — ")
        raise PairingError(message, hint) from None


DOORS = {
    "cell": lambda text: read_cell(text, ANYTHING),
    "column": column,
    "field": lambda text: check(text, ANYTHING),
    "command option": option,
    "recipe text": lambda text: parse_recipe_text(f"oat|plum={text}").doses["plum"],
    "recipe": lambda text: Recipe("oat", {"plum": text}).doses["plum"],
    "brief": lambda text: Brief(max_added_kcal=text).max_added_kcal,
    "cup": lambda text: Cup("oat", base_g=1).pour(g=text).content_g - 1,
    "form": lambda text: entered(text, 0, 999, "g/kg"),
    "amount": lambda text: parse_amount(f"{text} g").value,
    "amounts by name": lambda text: amounts(f"a:{text}")["a"],
    "counting of drops": lambda text: calibrate._counting(f"40={text}")[1],
    "label direction": lambda text: parse_direction(f"{text} g/kg of the finished drink").mid,
}
BY_CONVENTION = {
    "cell": lambda text, comma: read_cell(text, ANYTHING, comma),
    "column": column,
    "amount": lambda text, comma: parse_amount(f"{text} g", comma).value,
    "amount in a table": lambda text, comma: parse_amount(kept(f"{text} g", READINGS.by_name["amount"], comma)).value,
    "label direction": lambda text, comma: parse_direction(f"{text} g/kg finished", comma=comma).mid,
    "label direction in a table": lambda text, comma: (
        parse_direction(kept(f"{text} g/kg finished", FLAVOURINGS.by_name["label_dose"], comma)).mid
    ),
    "amounts by name in a table": lambda text, comma: amounts(
        kept(f"a:{text}", FLAVOURINGS.by_name["sweeteners"], comma)
    )["a"],
}


def kept(text, of, comma):
    problems = Problems()
    values, _ = read_column(pd.Series([text], dtype=object), of, problems, comma=comma)
    for found in problems.found.values():
        raise PairingError(found[0][2], found[0][3])
    return values[0]


def outcome(door, *text):
    try:
        return float(door(*text))
    except PairingError as refusal:
        return refusal


def agrees(found, said):
    """Whether a door gives the same number, or a refusal of the same kind with the same remedy."""
    if not isinstance(said, PairingError):
        return not isinstance(found, PairingError) and found == pytest.approx(said, rel=1e-9)
    own = ("is not a number", "is a date", "does not fit")  # a door says what it wants instead
    return (
        isinstance(found, PairingError)
        and bool(found.hint)
        and (any(o in said.message for o in own) or said.hint in found.hint)
    )


NUMERALS = [
    "1,234", "12,345", "1.234", "1,5", "0,125", ",5", ".5", "..5", "5.", "1.e2", "1e2", "1E-2", "1 234,5", "0 234",
    "1'0.5", "1,234,567", "1.234,5", "12,34,567.5", "1.5.2", "1,2,3", "½", "1½", "1 1/2", "3/4", "1/0", "half", "one",
    "two and a half", "５", "１，２３４", "٣", "١,٢٣٤", "5²", "①", "1_000", "0x10", "1e400", "9" * 400, "9" * 5000,
    "inf", "1/" + "9" * 400, "Infinity", "1e-400", "\ud800", "5\ud800", "5\x00", "1 2", "lots", "<5", "+5",
    "01.05.2026", "1,", "5 %%", "1 ,5",
]  # fmt: skip
DIGITS = st.text(st.sampled_from("0123456789"), min_size=1, max_size=4)
MARKS = st.sampled_from([",", ".", " ", "'", "’", "\u00a0", "/", "½", "e", "e-", "²", "", "，", "٣"])
WRITTEN = (
    st.lists(st.one_of(DIGITS, MARKS), min_size=1, max_size=5).map("".join).filter(lambda t: any(map(str.isdigit, t)))
)


@pytest.mark.parametrize("name", DOORS)
@pytest.mark.parametrize("text", NUMERALS)
def test_listed_numbers_are_read_alike(name, text):
    said = outcome(read_in, text)
    if isinstance(said, float) and not 0.001 < said < 999:
        return  # each door has limits of its own
    assert agrees(outcome(DOORS[name], text), said)


@given(WRITTEN)
@settings(max_examples=300)
def test_any_number_is_read_alike(text):
    said = outcome(read_in, text)
    if isinstance(said, float) and not 0.001 < said < 999:
        return
    found = {name: outcome(door, text) for name, door in DOORS.items()}
    assert not {name: str(value) for name, value in found.items() if not agrees(value, said)}, str(said)


@given(WRITTEN, st.sampled_from([None, True, False]))
@example("1,234", True)
@example("1,234", False)
@example("1.234", True)
@example("1，000", True)
@example("٣,٢٣٤", False)
@example("0,125", False)
@settings(max_examples=300)
def test_any_number_is_read_alike_in_a_stated_convention(text, comma):
    said = outcome(read_in, text, "", comma)
    if isinstance(said, float) and not 0.001 < said < 999:
        return
    found = {name: outcome(door, text, comma) for name, door in BY_CONVENTION.items()}
    assert not {name: str(value) for name, value in found.items() if not agrees(value, said)}, str(said)


IN_GRAMS = {
    "cell": lambda text: column(text, None, Column("base_g", "number")),
    "command option": lambda text: option(text, "base_g"),
    "form": lambda text: entered(text, 0, 1e6, "g"),
    "amount": lambda text: amount_to_g(parse_amount(text)),
    "counting of drops": lambda text: calibrate._counting(f"40={text}")[1],
}


@pytest.mark.parametrize("name", IN_GRAMS)
@pytest.mark.parametrize(
    ("text", "grams"),
    [("1 lb", 453.59237), ("0.4 kg", 400), ("300 mg", 0.3), ("2,5 g", 2.5), ("half a kilogram", 500), ("5 µg", 5e-6)],
)
def test_masses_are_read_alike(name, text, grams):
    assert outcome(IN_GRAMS[name], text) == pytest.approx(grams)


@pytest.mark.parametrize("name", IN_GRAMS)
def test_a_bare_ounce_is_refused_alike_and_both_readings_are_named(name):
    refusal = outcome(IN_GRAMS[name], "0.4 oz")
    assert "'0.4 oz' may be 11.34 g by mass or 11.83 ml, as a fluid ounce" in refusal.message
    assert "write g, or fl oz" in refusal.hint


@pytest.mark.parametrize("text", ["1,234", "9" * 400, "1e400", "5²", "\ud800", "٣٣٣٣", "nan", "inf", "1/0"])
def test_a_label_or_an_amount_never_ends_in_a_traceback(text):
    for door in (parse_direction, parse_amount):
        for around in (
            "{}",
            "{} drops",
            "{} drops per 100 ml",
            "3 drops per {} ml",
            "1:{}",
            "{} %",
            "3 drops ({} ml) per l",
        ):
            found = outcome(lambda t, read=door: getattr(read(t), "mid", 0.0), around.format(text))
            assert isinstance(found, PairingError) or math.isfinite(found)


def test_a_number_per_nothing_is_no_unit():
    with pytest.raises(PairingError, match="'g per 0 g' does not fit"):
        read_in("1 g per 0 g", "fat_g_per_100g")
    assert conversion("fat_g_per_0g", "fat_g_per_100g") is None
