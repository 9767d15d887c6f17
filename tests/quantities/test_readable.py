"""What people read has no exponents."""

from hypothesis import given
from hypothesis import strategies as st

from pairing.quantities.readable import between, readable


@given(st.floats(-1e9, 1e9), st.integers(1, 5))
def test_never_an_exponent_and_never_far_off(value, digits):
    text = readable(value, digits)
    assert "e" not in text.replace("under", "").replace("above", "")
    if abs(value) >= 1e-4:
        assert abs(float(text) - value) <= max(0.5, 0.6 * 10 ** (1 - digits) * abs(value))


def test_an_interval_says_how_sure_it_is_unless_that_is_usual():
    assert [between(1.0, 2.0, level=level) for level in (80, 50, 95)] == ["1–2", "1–2, 50 %", "1–2, 95 %"]
