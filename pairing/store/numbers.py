"""Number cells as people type them: decimal commas, thousands, trailing units, words of a scale."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from pairing.errors import TableError
from pairing.model.columns import LIKING_WORDS, STRENGTH_WORDS, Column
from pairing.model.fields import NOT_STATED

__all__ = ["NOT_STATED", "decimal_comma", "read_number"]

_CELL = re.compile(
    r"(?:[€$£]\s*)?(?P<number>[+-]?(?:\d[\d.,'’\s]*)?[.,]?\d(?:[eE][+-]?\d+)?)\s*(?P<unit>[^\d\s.,].*)?", re.DOTALL
)
_SCALES = {
    "strength": {w: float(i) for i, w in enumerate(STRENGTH_WORDS)},
    "liking": {w: float(i + 1) for i, w in enumerate(LIKING_WORDS)},
}
_UNITS = {
    "kg": ("mass", 1000.0), "g": ("mass", 1.0), "gr": ("mass", 1.0), "gram": ("mass", 1.0), "grams": ("mass", 1.0),
    "mg": ("mass", 0.001), "l": ("volume", 1000.0), "dl": ("volume", 100.0), "cl": ("volume", 10.0),
    "ml": ("volume", 1.0), "kcal": ("energy", 1.0), "cal": ("energy", 1.0), "kj": ("energy", 1 / 4.184),
    "%": ("share", 0.01), "ppm": ("share", 1e-6), "c": ("temperature", 1.0), "°c": ("temperature", 1.0),
    "min": ("time", 1.0), "mins": ("time", 1.0), "minutes": ("time", 1.0), "h": ("time", 60.0),
    "mpa·s": ("viscosity", 1.0), "mpas": ("viscosity", 1.0), "€": ("money", 1.0), "$": ("money", 1.0),
    "£": ("money", 1.0), "eur": ("money", 1.0), "usd": ("money", 1.0), "gbp": ("money", 1.0),
}  # fmt: skip
"""Unit: what it measures, and its size in g, ml, kcal, 1, °C, min, mPa·s or the bench's currency."""

_AMBIGUOUS = "could be thousands or decimals"


def decimal_comma(texts: Iterable[str]) -> bool | None:
    """Tell whether number texts use a decimal comma; None when nothing shows it.

    Examples
    --------
    >>> decimal_comma(["1,5", "2"]), decimal_comma(["1,234.5"]), decimal_comma(["1,234"])
    (True, False, None)
    """
    for text in texts:
        found = re.search(r"\d*[.,][\d.,]*\d|^,\d+", text)
        if not found:
            continue
        digits = found.group()
        comma, point = digits.rfind(","), digits.rfind(".")
        if comma >= 0 and point >= 0:
            return comma > point
        if comma >= 0 and (digits.count(",") == 1) and (len(digits) - comma != 4 or digits[:comma] in ("0", "")):
            return True
    return None


_DATE = re.compile(r"(\d{1,2}([./-])\d{1,2}\2(\d{4}|\d{2})|\d{4}([./-])\d{1,2}\4\d{1,2})([T\s].*)?")
_GROUPED = re.compile(
    r"[+-]?[1-9]\d{0,2}(?P<mark>[.,'’\s])\d{3}(?P<more>(?:(?P=mark)\d{3})*)"
    r"(?P<decimals>(?!(?P=mark))[.,]\d+)?(?:[eE][+-]?\d+)?"
)
"""A number with its thousands in groups of three, all parted by one mark that is no decimal sign."""
_INDIAN = re.compile(r"[+-]?[1-9]\d?(?:,\d{2})+,\d{3}(?:\.\d+)?")
"""A number in lakh and crore: a group of three, and groups of two before it."""


def _digits(text: str, comma: bool | None) -> float:
    grouped = _GROUPED.fullmatch(text)
    if grouped and (grouped["mark"] not in ".," or grouped["more"] or grouped["decimals"]):
        text = text.replace(grouped["mark"], "").replace(",", ".")
    elif _INDIAN.fullmatch(text):
        text = text.replace(",", "")
    commas, points = text.count(","), text.count(".")
    if commas + points > 1:
        raise TableError(f"{text!r} has several commas or points", "write it with one decimal sign, such as 1234.5")
    if commas and (comma or not re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", text)):
        text = text.replace(",", ".")
    elif commas:
        if comma is None:
            raise TableError(f"{text!r} {_AMBIGUOUS}", "write 1.234 or 1234")
        text = text.replace(",", "")
    elif comma and re.fullmatch(r"[+-]?[1-9]\d{0,2}\.\d{3}", text):
        raise TableError(f"{text!r} {_AMBIGUOUS} in a column with decimal commas", "write 1,234 or 1234")
    try:
        return float(text)
    except ValueError:
        raise TableError(f"{text!r} is not a number", "write digits only, such as 1.5") from None


def _measure(unit: str) -> tuple[str, float] | None:
    return _UNITS.get(unit.strip().casefold().rstrip(".").replace("μ", "µ"))


def _rate(unit: str, comma: bool | None) -> tuple[str, float, str, float] | None:
    """Read ``kcal per 8 g`` as what, how much, per what, how much of it."""
    over, _, under = re.sub(r"\s*(?:/|\bper\b|\bin\b)\s*", "\0", unit.strip(), count=1).partition("\0")
    top = _measure(over)
    if top is None:
        return None
    if not under:
        return (*top, "", 1.0)
    amount = re.fullmatch(r"([\d.,]+)?\s*(\D+)", under.strip())
    bottom = _measure(amount.group(2)) if amount else None
    if amount is None or bottom is None:
        return None
    return (*top, bottom[0], bottom[1] * (_digits(amount.group(1), comma) if amount.group(1) else 1.0))


_NAMED = re.compile(
    r"(?:.*?_)??(minutes_since_addition|kcal|kj|grams|mg|g|kg|ml|l|c|mpa_s|pct|percent|ppm|cost)"
    r"(?:_per_(\d*)(kg|g|ml))?"
)
_OTHERWISE = {"minutes_since_addition": "min", "mpa_s": "mpas", "pct": "%", "percent": "%", "cost": "€"}


def _column_rate(name: str) -> tuple[str, float, str, float] | None:
    """Read the unit that the name of a column or heading carries, such as ``energy_kcal_per_100g``."""
    parts = _NAMED.fullmatch(name)
    if not parts:
        return None
    top = _UNITS[_OTHERWISE.get(parts.group(1), parts.group(1))]
    if not parts.group(3):
        return (*top, "", 1.0)
    what, size = _UNITS[parts.group(3)]
    return (*top, what, size * float(parts.group(2) or 1))


def _in_mass(rate: tuple[str, float, str, float]) -> tuple[str, float, str, float]:
    """Return a share as a mass per mass; other rates as they are."""
    return ("mass", rate[1], "mass", 1.0) if rate[0] == "share" and not rate[2] else rate


def _with_unit(value: float, unit: str, column: Column, comma: bool | None, stated: str) -> float:
    given, wanted = _rate(unit, comma), _column_rate(stated)
    if given is not None and wanted is not None:
        if given[0] == wanted[0] and not given[2]:  # the name says per what
            return _times(value, given[1], wanted[1])
        given, wanted = _in_mass(given), _in_mass(wanted)
        if given[0] == wanted[0] and given[2] == wanted[2]:
            return _times(value, given[1] * wanted[3], given[3] * wanted[1])
    raise TableError(
        f"{column.name}: the unit {unit.strip()!r} does not fit", f"write the number in the unit of {stated}"
    )


def _times(value: float, size: float, of: float) -> float:
    """Return value × size ÷ of; the very same number where the unit is the wanted one."""
    return value if size == of else value * size / of


def read_number(text: str, column: Column, comma: bool | None = None, stated: str = "") -> float:
    """Read one number cell; nan when it says that nothing is known.

    Parameters
    ----------
    text : str
    column : Column
        Its name carries the unit wanted.
    comma : bool or None
        Whether the file writes decimal commas; None: not known.
    stated : str
        Name that carries the unit wanted where that is another one: a heading such as ``energy_kj_per_100g``.

    Raises
    ------
    TableError
        When it is no number, could be two numbers, or has a unit that does not fit.

    Examples
    --------
    >>> from pairing.model.columns import BASES, FLAVOURINGS
    >>> read_number("35 kcal per 8 g", FLAVOURINGS.by_name["energy_kcal_per_g"])
    4.375
    >>> read_number("1,5 g", BASES.by_name["fat_g_per_100g"], comma=True)
    1.5
    >>> read_number("60 %", FLAVOURINGS.by_name["sugars_g_per_g"], stated="sugars_g_per_100g")
    60.0
    """
    plain = text.strip()
    word = plain.casefold()
    if word in NOT_STATED:
        return math.nan
    if word in (scale := _SCALES.get(column.name, {})):
        return scale[word]
    if _DATE.fullmatch(plain):
        raise TableError(f"{column.name} {plain!r} is a date, not a number", "write digits only, such as 1.5")
    found = _CELL.fullmatch(plain)
    if found is None:
        raise TableError(f"{column.name} {plain!r} is not a number", "write digits only, such as 1.5")
    value = _digits(found.group("number"), comma)
    unit = found.group("unit")
    return _with_unit(value, unit, column, comma, stated or column.name) if unit else value
