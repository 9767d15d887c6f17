import re

import pytest

from pairing.blind.codes import codes, read_code
from pairing.errors import LogError, QuantityError


def test_codes_are_distinct_three_digit_numbers():
    drawn = codes(900, random_state=0)
    assert len(set(drawn)) == 900
    assert all(re.fullmatch(r"[1-9][0-9]{2}", code) for code in drawn)


def test_codes_keep_clear_of_those_in_use():
    first = codes(450, random_state=0)
    assert not set(first) & set(codes(450, random_state=0, used=first))


@pytest.mark.parametrize(("n", "used"), [(901, ()), (0, ()), (2, [str(c) for c in range(100, 999)])])
def test_codes_run_out_with_a_clear_error(n, used):
    with pytest.raises(QuantityError, match="three-digit codes are free"):
        codes(n, random_state=0, used=used)


@pytest.mark.parametrize("text", ["", "12", "1234", "012", "4o7", "٤٠٧", None, -12])
def test_what_is_no_code_is_refused(text):
    with pytest.raises(LogError, match="100 to 999"):
        read_code(text)


def test_a_code_is_read_as_written():
    assert read_code(" 407\n") == read_code(407) == "407"
