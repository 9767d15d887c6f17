"""Cells that hold lists and amounts: written and read back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.model.fields import amounts, words, written


@given(st.dictionaries(st.sampled_from(["sucralose", "stevia", "a b"]), st.none() | st.floats(0, 1e9), max_size=3))
def test_amounts_written_are_read_back_exactly(value):
    assert dict(amounts(written(value))) == value


@pytest.mark.parametrize("value", [frozenset(), frozenset({"milk", "soy"})])
def test_words_written_are_read_back(value):
    assert words(written(value)) == value
