"""Numbers and words that several parts of the package must agree on, each written once."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = [
    "DEFAULT_TASTER",
    "IN_RANGE_LOG",
    "LABEL_MULTIPLE",
    "LIKING_ENDS",
    "MAX_SERVING_G",
    "SERVED_AT_C",
    "SERVING_SHARE",
    "Z80",
]

MAX_SERVING_G = 20_000.0
"""Most base in one serving (our choice, no source)."""
LABEL_MULTIPLE = 3.0
"""Without a maximum dose, this many times the label direction is as far as one goes (our choice, no source)."""
IN_RANGE_LOG = 0.2
"""A dose is *in range*, and two doses are the same, within this distance on natural log (our choice, no source)."""
LIKING_ENDS = (1.0, 9.0)
"""Ends of the nine-point hedonic scale."""
Z80 = 1.2815515655446004
"""Half-width of an 80 % interval in standard deviations of a normal distribution."""
DEFAULT_TASTER = "me"
"""Who tasted, where nobody is named."""
SERVING_SHARE = 0.85
"""A full glass starts at this share of the dose that a sip likes best: sips overrate sweetness and strength (Lucas &
Bellisle 1987, Physiol. Behav. 39:739, from memory; the share is our choice)."""
SERVED_AT_C: Mapping[str, float] = MappingProxyType({"fridge": 6.0, "room": 20.0, "hot": 60.0})
"""How warm a drink is that comes from there, °C, where nobody measured (our choice)."""
