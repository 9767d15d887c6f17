"""A p-value with all that it takes to read it: its number, how many sides it counts, and how the check ended."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["PValue", "p_number"]

_LEAST = 0.001


@dataclass(frozen=True)
class PValue:
    """An exact p-value.

    Attributes
    ----------
    value : float
        NaN where there is none.
    two_sided : bool
    sequential : bool or None
        Whether the check stopped as soon as it was clear, which the value takes in; None: how it was planned is not
        kept, and the value is that of a fixed number of servings.

    Examples
    --------
    >>> str(PValue(0.0107, False, True)), str(PValue(0.0215, True, False))
    ('p = 0.011, one-sided, after a sequential stop', 'p = 0.021, two-sided, a fixed number of servings')
    """

    value: float
    two_sided: bool
    sequential: bool | None

    @property
    def how(self) -> str:
        """Say what stands beside the number."""
        sides = "two-sided" if self.two_sided else "one-sided"
        if self.sequential is None:
            return f"{sides}, as for a fixed number of servings"
        return f"{sides}, {'after a sequential stop' if self.sequential else 'a fixed number of servings'}"

    def __str__(self) -> str:
        return "no p-value" if math.isnan(self.value) else f"p {p_number(self.value, sign=True)}, {self.how}"


def p_number(value: float, *, sign: bool = False) -> str:
    """Write the number of a p-value, never as 0; with its sign where it stands in a sentence.

    Examples
    --------
    >>> p_number(0.0312), p_number(0.00001), p_number(0.0312, sign=True)
    ('0.031', '< 0.001', '= 0.031')
    """
    if math.isnan(value):
        return "–"
    if value < _LEAST:
        return f"< {_LEAST:g}"
    return f"= {value:.3f}" if sign else f"{value:.3f}"
