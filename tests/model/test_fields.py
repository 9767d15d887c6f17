"""Cells that hold lists and amounts: written and read back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import BriefError
from pairing.model.brief import Brief
from pairing.model.fields import amounts, words, written


@given(st.dictionaries(st.sampled_from(["sucralose", "stevia", "a b"]), st.none() | st.floats(0, 1e9), max_size=3))
def test_amounts_written_are_read_back_exactly(value):
    assert dict(amounts(written(value))) == value


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
