"""What people read has no exponents."""

from hypothesis import given
from hypothesis import strategies as st

from pairing.quantities.readable import readable


@given(st.floats(-1e9, 1e9), st.integers(1, 5))
def test_never_an_exponent_and_never_far_off(value, digits):
    text = readable(value, digits)
    assert "e" not in text.replace("under", "").replace("above", "")
    if abs(value) >= 1e-4:
        assert abs(float(text) - value) <= max(0.5, 0.6 * 10 ** (1 - digits) * abs(value))
