"""Numbers with a unit, brought to the unit that a name carries: ``35 kcal per 8 g`` for ``energy_kcal_per_g``."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import NamedTuple

from pairing.errors import PairingError, QuantityError
from pairing.quantities.numbers import CHECK, DIGITS_ONLY, NUMBER, plain_numbers, shown
from pairing.quantities.units import bare_ounce, unit_of

__all__ = ["conversion", "number_of", "read_in", "read_whole"]

_CELL = re.compile(rf"(?:[€$£] ?)?(?P<number>-?{NUMBER})(?: ?(?P<unit>[^\W\d_].*|[%°€$£].*))?")
_RATE = re.compile(rf"(?P<over>.+?)(?:(?: ?/ ?| per | in )(?P<number>{NUMBER})? ?(?P<under>.+))?")
_NAMED = re.compile(
    r"(?:(?P<stem>.*?)_)??(?P<over>minutes|kcal|kj|grams|mg|g|kg|lb|ml|l|c|mpa_s|pct|percent|ppm|cost)"
    r"(?:_per_(?P<number>\d*)(?P<under>kg|g|ml)|_since_addition|_vv)?"
)
_OF = {"salt": ("sodium", Fraction(2, 5))}
"""What a stem says in terms of another: salt is sodium × 2.5 (Regulation (EU) 1169/2011, Annex I)."""


class _Rate(NamedTuple):
    """One unit, or so much of one per so much of another; sizes as in the table of units."""

    kind: str
    size: Fraction
    per_kind: str = ""
    per_size: Fraction = Fraction(1)

    @classmethod
    def of(cls, found: re.Match[str]) -> _Rate | None:
        """Return what was read; None where it is per nothing: '1 g per 0 g'."""
        over = unit_of(found["over"])
        if not found["under"]:
            return cls(over.kind, over.size)
        under, number = unit_of(found["under"]), Fraction(found["number"] or 1)
        return cls(over.kind, over.size, under.kind, under.size * number) if number else None

    @property
    def in_mass(self) -> _Rate:
        """A share as a mass per mass; any other rate as it is."""
        return _Rate("g", self.size, "g") if self.kind == "share" and not self.per_kind else self

    def by_mass(self, density_g_per_ml: float) -> _Rate:
        """Return the same rate with its volumes as masses."""
        density = Fraction(density_g_per_ml)
        over = ("g", self.size * density) if self.kind == "ml" else (self.kind, self.size)
        under = ("g", self.per_size * density) if self.per_kind == "ml" else (self.per_kind, self.per_size)
        return _Rate(*over, *under)

    def times(self, wanted: _Rate) -> Fraction | None:
        """Return what brings a number in this rate to the wanted one; None where it cannot."""
        one, other = self.in_mass, wanted.in_mass
        if (one.kind, one.per_kind) != (other.kind, other.per_kind):
            return None
        return one.size * other.per_size / (one.per_size * other.size)


def read_in(text: str, name: str = "", comma: bool | None = None, density_g_per_ml: float | None = None) -> float:
    """Read a number with or without a unit, in the unit that a name carries.

    Parameters
    ----------
    text : str
        ``1,5``, ``300 mg``, ``3 g/100 g``, ``€ 12.50``.
    name : str
        Of a column or an option, such as ``fat_g_per_100g``, or the unit itself; without a unit it takes bare numbers.
    comma : bool or None
        Whether a comma is the decimal sign; None: nobody said.
    density_g_per_ml : float, optional
        What a volume weighs where a mass is wanted, NaN where it is not known; without it such a unit does not fit.

    Raises
    ------
    QuantityError
        When it is no number, may be two numbers, or has a unit that does not fit.

    Examples
    --------
    >>> read_in("35 kcal per 8 g", "energy_kcal_per_g"), read_in("1,5 g", "fat_g_per_100g"), read_in("1 lb", "base_g")
    (4.375, 1.5, 453.59237)
    >>> read_in("12 EUR per 30 ml", "cost_per_g", density_g_per_ml=0.8)
    0.5
    """
    found = _CELL.fullmatch(plain_numbers(text, comma))
    if found is None:
        raise QuantityError(f"{shown(text)} is not a number", DIGITS_ONLY)
    value, unit = float(found["number"]), found["unit"]
    if unit is None:
        return value
    given, wanted = _written(unit), _named(name) or _written(name)
    if given is not None and given.kind == "oz":
        raise bare_ounce(text, value)
    remedy = f"write the number in the unit of {name}" if name else "write the number without a unit"
    times = _times(given, wanted)
    if times is None and given is not None and density_g_per_ml is not None:
        known = not math.isnan(density_g_per_ml)
        times = _times(given.by_mass(density_g_per_ml if known else 1.0), wanted)
        if times is not None and not known:
            why = f"the unit {unit!r} is of a volume, and the density is not known"
            raise QuantityError(why, f"{remedy}, or give density_g_per_ml")
    if times is None:
        raise QuantityError(f"the unit {unit!r} does not fit", remedy)
    return value * times.numerator / times.denominator


def read_whole(text: str) -> int:
    """Read a text that is one whole number.

    Examples
    --------
    >>> read_whole("5"), read_whole("5.0")
    (5, 5)
    """
    value = read_in(text)
    if value != int(value):
        raise QuantityError(f"{shown(text)} is {value:g}, a whole number is needed", "round it")
    return int(value)


def number_of(value: object, name: str, error: type[PairingError] = QuantityError) -> float:
    """Return what Python hands over as a number: a text as `read_in` reads it, and no True or False.

    Parameters
    ----------
    value : object
    name : str
        What it is called in a refusal.
    error : type of PairingError
        What is raised.

    Examples
    --------
    >>> number_of(3, "serving_g"), number_of("0,5", "serving_g")
    (3.0, 0.5)
    """
    try:
        if isinstance(value, str):
            return read_in(value)
        if type(value).__name__ not in {"bool", "bool_"}:
            return float(value)  # type: ignore[arg-type]
    except QuantityError as refusal:
        raise error(f"{name}: {refusal.message}", refusal.hint) from None
    except OverflowError:
        raise error(f"{name} is too large to count with", CHECK) from None
    except (TypeError, ValueError):
        pass
    raise error(f"{name} is {shown(value)}, which is no number", DIGITS_ONLY)


def _times(given: _Rate | None, wanted: _Rate | None) -> Fraction | None:
    """Return what brings a written unit to the wanted one: a mass alone where that is per something, too."""
    if given is None or wanted is None:
        return None
    whole = given.per_kind or given.kind != wanted.kind
    return given.times(wanted if whole else _Rate(wanted.kind, wanted.size))


def conversion(name: str, wanted: str) -> Fraction | None:
    """Return what brings numbers under one name to the unit of another; None where they do not say the same.

    Examples
    --------
    >>> conversion("salt_g_per_100g", "sodium_mg_per_100g"), conversion("fat_g_per_100g", "protein_g_per_100g")
    (Fraction(400, 1), None)
    """
    given, other = _named(name), _named(wanted)
    if given is None or other is None:
        return None
    stem, share = _OF.get(_stem(name), (_stem(name), Fraction(1)))
    times = given.times(other)
    return None if times is None or stem != _stem(wanted) else times * share


def _written(unit: str) -> _Rate | None:
    found = _RATE.fullmatch(unit.rstrip("."))
    try:
        return None if found is None else _Rate.of(found)
    except QuantityError:
        return None


def _named(name: str) -> _Rate | None:
    """Read the unit off a name."""
    found = _NAMED.fullmatch(name)
    return None if found is None else _Rate.of(found)


def _stem(name: str) -> str:
    found = _NAMED.fullmatch(name)
    return "" if found is None else found["stem"] or ""
