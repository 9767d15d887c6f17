"""The one table of units: what each measures, how large one is, and how people spell it."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from pairing.errors import QuantityError
from pairing.quantities.numbers import shown

__all__ = ["OUNCE", "UNIT", "Unit", "bare_ounce", "fluid", "unit_of"]


class Unit(NamedTuple):
    """What one unit word stands for.

    Attributes
    ----------
    kind : str
        What it measures, named by the unit that sizes are in: ``g, ml, drop, kcal, share, c, min, mpa_s, money``; and
        ``oz``, the bare ounce, which is a mass or a fluid ounce: the context decides.
    size : Fraction
        How large one is, exactly.
    note : str
        What was assumed about its size; empty when nothing was.
    """

    kind: str
    size: Fraction = Fraction(1)
    note: str = ""


_OUNCE_G = Fraction("453.59237") / 16
_GALLON_ML, _IMPERIAL_GALLON_ML = Fraction("3785.411784"), Fraction("4546.09")
"""Measures of the trade as their laws define them (NIST Handbook 44, Appendix C; UK Units of Measurement Regulations
1995). A calorie is the thermochemical one, 4.184 J (ISO 80000-5:2019, Annex)."""

_UNITS: tuple[tuple[str, str, Fraction | int, str], ...] = (
    ("drop", "drop", 1, r"drops? gtts? gtt\."),
    ("g", "g", 1, "g gr gms? grams? grammes?"),
    ("kg", "g", 1000, "kg kgs kilos? kilograms? kilogrammes?"),
    ("mg", "g", Fraction(1, 1000), "mg milligrams? milligrammes?"),
    ("ug", "g", Fraction(1, 10**6), "[uµ]g mcg micrograms? microgrammes?"),
    ("lb", "g", 16 * _OUNCE_G, r"lbs?\.? pounds?"),
    ("oz", "oz", 1, r"ozs?\.? ounces?"),
    ("ml", "ml", 1, "ml mls cc millilit(?:er|re)s?"),
    ("cl", "ml", 10, "cl centilit(?:er|re)s?"),
    ("dl", "ml", 100, "dl decilit(?:er|re)s?"),
    ("l", "ml", 1000, "l lit(?:er|re)s? ltrs?"),
    ("fl oz", "ml", _GALLON_ML / 128, r"fl\.?\s?ozs?\.? fluid\sounces? fluid\soz floz"),
    ("tsp", "ml", _GALLON_ML / 768, r"tsps?\.? teaspoons? teaspoonfuls? teaspoonsful"),
    ("tbsp", "ml", _GALLON_ML / 256, r"tbsps?\.? tablespoons? tablespoonfuls? tbs"),
    ("cup", "ml", _GALLON_ML / 16, "cups? cupfuls?"),
    ("pint", "ml", _GALLON_ML / 8, r"pints? pts?\.?"),
    ("quart", "ml", _GALLON_ML / 4, r"quarts? qts?\.?"),
    ("gallon", "ml", _GALLON_ML, r"gallons? gals?\.?"),
    ("dash", "ml", _GALLON_ML / 768 / 8, "dash(?:es)?"),
    ("pinch", "ml", _GALLON_ML / 768 / 16, "pinch(?:es)?"),
    ("kcal", "kcal", 1, "kcal cal"),
    ("kj", "kcal", 1 / Fraction("4.184"), "kj"),
    ("%", "share", Fraction(1, 100), "% pct percent"),
    ("ppm", "share", Fraction(1, 10**6), "ppm"),
    ("c", "c", 1, "°?c"),
    ("min", "min", 1, "m min mins minutes?"),
    ("h", "min", 60, "h hrs? hours?"),
    ("mpa·s", "mpa_s", 1, "mpa·?s mpa_s"),
    ("money", "money", 1, "[€$£] eur usd gbp cost"),
)
"""Name, what it measures, how large one is (of what differs, the US one), and its spellings as regular expressions."""
_NO_STANDARD = ("dash", "pinch")
_OTHERWISE: dict[str, dict[str | None, Fraction | int]] = {
    "fl oz": {"imperial": _IMPERIAL_GALLON_ML / 160},
    "tsp": {"imperial": 5, "metric": 5},
    "tbsp": {"imperial": 15, "metric": 15},
    "cup": {"imperial": _IMPERIAL_GALLON_ML / 16, "metric": 250},
    "pint": {"imperial": _IMPERIAL_GALLON_ML / 8},
    "quart": {"imperial": _IMPERIAL_GALLON_ML / 4},
    "gallon": {"imperial": _IMPERIAL_GALLON_ML},
}
"""Measures that are not the US one where another system is named, ml. A label's spoon is the metric one (21 CFR
101.9(b)(5)(viii))."""
_SPELLINGS = tuple(
    (re.compile(p), Unit(kind, Fraction(size)), name) for name, kind, size, ps in _UNITS for p in ps.split()
)
_POURED = [p for _, kind, _, patterns in _UNITS if kind in ("drop", "g", "ml", "oz") for p in patterns.split()]
UNIT = "(?:" + "|".join(sorted(_POURED, key=len, reverse=True)) + r")(?![a-z])"
"""Regular expression of every unit of mass, volume and drops, after `plain_numbers`."""


@lru_cache(maxsize=512)
def unit_of(word: str, system: str | None = None) -> Unit:
    """Return what a unit word stands for.

    Parameters
    ----------
    word : str
        One unit, in any of the spellings of the table.
    system : {"us", "imperial", "metric", None}
        What the text says; None takes US customary measures and notes it.

    Raises
    ------
    QuantityError
        When the table does not have it.

    Examples
    --------
    >>> float(unit_of("fl. oz").size), float(unit_of("gallon", "imperial").size), unit_of("oz").kind
    (29.5735295625, 4546.09, 'oz')
    """
    text = word.strip().casefold()
    found = next(((unit, name) for pattern, unit, name in _SPELLINGS if pattern.fullmatch(text)), None)
    if found is None:
        raise QuantityError(f"{shown(word)} is not a unit that is known", "use g, mg, ml, l, drops, tsp, fl oz or gal")
    unit, name = found
    if name in _NO_STANDARD:
        return unit._replace(note=f"a {name} is no standard measure: {float(unit.size):.2g} ml assumed")
    if name not in _OTHERWISE:
        return unit
    size = Fraction(_OTHERWISE[name].get(system, unit.size))
    said = "US measure assumed" if system is None else "US" if size == unit.size else system
    spoon = _OTHERWISE[name].get("metric") if name != "cup" and size == unit.size else None
    beside = f" (a metric or label one is {spoon} ml)" if spoon else ""
    return Unit(unit.kind, size, f"{name}: {said}, {float(size):.6g} ml{beside}")


OUNCE = Unit("g", _OUNCE_G)
"""The ounce by mass."""


def fluid(unit: Unit, system: str | None = None) -> Unit:
    """Return a bare ounce as the fluid one; any other unit as it is.

    Examples
    --------
    >>> float(fluid(unit_of("oz")).size), float(fluid(unit_of("cl")).size)
    (29.5735295625, 10.0)
    """
    return unit_of("fl oz", system) if unit.kind == "oz" else unit


def bare_ounce(text: str, value: float) -> QuantityError:
    """Refuse an ounce that nothing tells to be a mass or a volume, with what either would be."""
    mass, volume = value * OUNCE.size, value * unit_of("fl oz").size
    return QuantityError(
        f"{shown(text)} may be {mass:.4g} g by mass or {volume:.4g} ml, as a fluid ounce", "write g, or fl oz"
    )
