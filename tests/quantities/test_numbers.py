"""Numbers as people write them."""

import numpy as np
import pytest

from pairing.errors import BriefError, QuantityError
from pairing.quantities.numbers import plain_numbers
from pairing.quantities.rates import number_of


@pytest.mark.parametrize(
    ("written", "plain"),
    [
        ("0,5 ml", "0.5 ml"),
        ("½ tsp", "0.5 tsp"),
        ("1½ tsp", "1.5 tsp"),
        ("1 1/2 tsp", "1.5 tsp"),
        ("one and a half drops", "1.5 drops"),
        ("half a teaspoon", "0.5 teaspoon"),
        ("three quarters of a cup", "0.75 cup"),
        ("1–2 Drops / 100 ML", "1-2 drops / 100 ml"),
        ("1,000,000 g", "1000000 g"),
        (".5 g", "0.5 g"),
        ("5 ml per 1,000 ml", "5 ml per 1000 ml"),
        ("three drops", "3 drops"),
        ("1-1/2 tsp", "1.5 tsp"),
        ("2-1/2 ml per litre", "2.5 ml per litre"),
        ("1-½ tsp", "1.5 tsp"),
        ("1-1/2-2 tsp", "1.5-2 tsp"),
        ("2 tsp per 8-1/2 oz", "2 tsp per 8.5 oz"),
        ("0-1/2 tsp", "0-0.5 tsp"),
        ("1/2-3/4 tsp", "0.5-0.75 tsp"),
        ("½-1 tsp", "0.5-1 tsp"),
        ("1/2-1 1/2 tsp", "0.5-1.5 tsp"),
        ("1-3/2 tsp", "1-1.5 tsp"),
        ("one-half teaspoon", "0.5 teaspoon"),
        ("one and one-half tsp", "1.5 tsp"),
        ("one-and-a-half tsp", "1.5 tsp"),
        ("two and a half drops per 100 ml", "2.5 drops per 100 ml"),
        ("2 and a half drops", "2.5 drops"),
        ("Three-and-a-half tsp", "3.5 tsp"),
        ("12 and one third tsp", "12.3333333 tsp"),
        ("one and three quarters tsp", "1.75 tsp"),
        ("3 and two-thirds tsp", "3.66666667 tsp"),
        ("one third of a cup", "0.333333333 cup"),
        ("two-thirds of a cup", "0.666666667 cup"),
        ("three-quarters of a cup", "0.75 cup"),
        ("5\u00a0g", "5 g"),
    ],
)
def test_numbers_are_made_plain(written, plain):
    assert plain_numbers(written) == plain


@pytest.mark.parametrize("written", ["1,500 g", "12,345 drops"])
def test_a_comma_that_may_be_either_is_refused(written):
    with pytest.raises(QuantityError, match="may be") as caught:
        plain_numbers(written)
    whole = written.split()[0].replace(",", "")
    assert caught.value.hint == f"write {whole} or {written.split()[0].replace(',', '.')}"


def test_a_dash_that_may_be_either_is_refused():
    with pytest.raises(QuantityError, match="'1 - 1/2' may be 1 1/2 or a range") as caught:
        plain_numbers("1 – 1/2 tsp")
    assert "without the dash" in caught.value.hint
    assert plain_numbers("1/2 - 1 tsp") == "0.5 - 1 tsp"


@pytest.mark.parametrize(
    ("value", "says"),
    [
        pytest.param(10**400, "serving is too large to count with", id="large"),
        pytest.param(10**5000, "serving is too large to count with", id="huge"),
        (True, "serving is True, which is no number"),
        ([1], "serving is [1], which is no number"),
        (None, "serving is None, which is no number"),
        ("1,234", "serving: '1,234' may be 1234 or 1.234"),
        ("x" * 600, "has 600 characters, at most 500 are read"),
    ],
)
def test_what_python_hands_over_is_a_number_or_refused(value, says):
    assert number_of(np.float32(1.5), "serving") == number_of("1½", "serving") == 1.5
    with pytest.raises(BriefError) as caught:
        number_of(value, "serving", BriefError)
    assert says in caught.value.message
    assert caught.value.hint


def test_division_by_zero_is_refused():
    with pytest.raises(QuantityError, match="zero"):
        plain_numbers("1/0 tsp")
