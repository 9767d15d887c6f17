"""Numbers as people read them: to so many digits, never with an exponent."""

from __future__ import annotations

__all__ = ["between", "in_100", "readable"]

_LEAST = 1e-4


def readable(value: float, digits: int = 3) -> str:
    """Write a number to so many digits, whole ones in full, never with an exponent.

    Examples
    --------
    >>> readable(20_000), readable(303.2), readable(0.0939), readable(3e-7), readable(120, 2)
    ('20000', '303', '0.0939', 'under 0.0001', '120')
    """
    if 0 < abs(value) < _LEAST:
        return f"under {_LEAST:f}".rstrip("0") if value > 0 else f"above −{_LEAST:f}".rstrip("0")
    return f"{value:.0f}" if abs(value) >= 10 ** (digits - 1) else f"{value:.{digits}g}"


def between(low: float, high: float, digits: str = ".3g", level: int = 80) -> str:
    """Write the ends of an interval, and how sure they are in per cent unless that is the usual 80.

    Examples
    --------
    >>> between(1.234, 5.678), between(-0.5, 0.25, "+.1f", 95)
    ('1.23–5.68', '−0.5 to +0.2, 95 %')
    """
    ends = f"{low:{digits}}{' to ' if low < 0 else '–'}{high:{digits}}".replace("-", "−")
    return ends if level == 80 else f"{ends}, {level} %"


def in_100(chance: float) -> str:
    """Write a chance as people count it; it is never said to be none or certain.

    Examples
    --------
    >>> in_100(0.916), in_100(0.999), in_100(0.001)
    ('92 in 100', 'over 99 in 100', 'under 1 in 100')
    """
    n = round(100 * chance)
    return "over 99 in 100" if n > 99 else "under 1 in 100" if n < 1 else f"{n} in 100"
