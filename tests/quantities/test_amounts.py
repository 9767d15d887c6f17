"""Amounts in drops, ml and g."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pairing.errors import QuantityError
from pairing.model.flavouring import Flavouring
from pairing.quantities.amounts import Amount, amount_to_g, parse_amount

PLUM = Flavouring(flavouring_id="plum", name="Plum", drop_mg=25, density_g_per_ml=1.04)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("11 drops", 11, "drop"),
        ("1 drop", 1, "drop"),
        ("3 ml", 3, "ml"),
        ("3ml", 3, "ml"),
        ("1,2 g", 1.2, "g"),
        (".5 g", 0.5, "g"),
        ("5 mg", 0.005, "g"),
        ("0 drops", 0, "drop"),
        ("1 tsp", 4.92892159375, "ml"),
        ("2 fl oz", 59.147059125, "ml"),
    ],
)
def test_amounts(text, value, unit):
    found = parse_amount(text)
    assert found.value == pytest.approx(value, rel=1e-12)
    assert found.unit == unit


@pytest.mark.parametrize("text", ["3", "-1 g", "1 oz", "g", "", "some", "3 squirts", "1,234 g", "1 g 2 g"])
def test_refused_amounts_say_what_to_write(text):
    with pytest.raises(QuantityError) as caught:
        parse_amount(text)
    assert caught.value.hint


def test_grams_by_bottle_else_by_assumption():
    assert amount_to_g(Amount(4, "drop"), PLUM) == pytest.approx(0.1)
    assert amount_to_g(Amount(2, "ml"), PLUM) == pytest.approx(2.08)
    assert amount_to_g(Amount(2, "ml")) == 2
    assert amount_to_g(Amount(2, "g"), PLUM) == 2
    with pytest.raises(QuantityError, match="spoon"):
        amount_to_g(Amount(1, "spoon"))


@given(st.floats(0, 1e6), st.sampled_from(["g", "ml", "drops"]))
def test_a_written_amount_comes_back(value, unit):
    found = parse_amount(f"{value:.6f} {unit}")
    assert found.value == float(f"{value:.6f}")
