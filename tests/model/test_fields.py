"""Cells that hold lists and amounts: written and read back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import BriefError, TableError
from pairing.model.brief import Brief
from pairing.model.columns import TABLES
from pairing.model.fields import amounts, check, several, words, written


@given(st.dictionaries(st.sampled_from(["sucralose", "stevia", "a b"]), st.none() | st.floats(0, 1e9), max_size=3))
def test_amounts_written_are_read_back_exactly(value):
    assert dict(amounts(written(value))) == value


@pytest.mark.parametrize(
    "cell",
    [
        "aspartame:100, acesulfame k:50",
        "aspartame:100,acesulfame k:50",
        "ethanol:0.6, water:0.4",
        "sucralose,stevia:5",
        "aspartame:100 acesulfame k:50",
        "water 0.4, ethanol 0.6",
        {"a;b": None},
    ],
)
def test_a_name_that_may_be_several_is_refused(cell):
    with pytest.raises(TableError, match=r"sweeteners: .* may be several names") as caught:
        amounts(cell, "sweeteners")
    assert "put ; between entries" in caught.value.hint


@pytest.mark.parametrize("cell", ["water, ethanol", "sweet, fruity", "1,2-propanediol, water"])
def test_a_name_with_a_comma_and_no_amount_is_one_name_to_look_at(cell):
    assert dict(amounts(cell)) == {cell: None}
    assert several(cell) == [cell]


def test_kept_texts_are_taken_as_they_are():
    cell = "aspartame:100, acesulfame k:50"
    found = amounts(cell, kept=True)
    assert dict(found) == {"aspartame:100, acesulfame k": 50}
    assert written(amounts(found)) == cell


def test_commas_of_numbers_and_of_chemical_names_are_read():
    assert dict(amounts("a:1,5; 1,2-propanediol:0,9")) == {"a": 1.5, "1,2-propanediol": 0.9}


@pytest.mark.parametrize("value", [frozenset(), frozenset({"milk", "soy"})])
def test_words_written_are_read_back(value):
    assert words(written(value)) == value


@pytest.mark.parametrize("cell", ["?", "Unknown", "n/a", "-", " – ", "?;unknown"])
def test_words_that_say_nothing_are_unknown(cell):
    assert words(cell) is None
    assert words("milk;?") == {"milk", "?"}


def test_a_brief_cannot_avoid_what_is_not_named():
    with pytest.raises(BriefError, match="no allergen"):
        Brief(avoid_allergens=("?",))


def test_no_strength_of_an_attribute_is_above_the_scale():
    column = TABLES["readings"].by_name["attributes"]
    assert check("overall:5", column) == {"overall": 5.0}
    with pytest.raises(TableError, match="overall is 7, allowed is 0 to 5"):
        check("overall:7", column)
