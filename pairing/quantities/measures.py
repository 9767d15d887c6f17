"""Numbers and measures as people write them: ``0,5``, ``1 1/2``, ``fl oz``, ``half a teaspoon``."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache, partial
from typing import Any

from pairing.errors import QuantityError

__all__ = ["NUMBER", "UNIT", "Measure", "measure", "plain_numbers", "typed_number"]


@dataclass(frozen=True, slots=True)
class Measure:
    """What one unit word stands for.

    Attributes
    ----------
    kind : {"drop", "g", "ml", "oz"}
        ``oz`` is the bare ounce: mass or fluid, the context decides.
    size : float
        g or ml in one unit (drops: 1).
    note : str
        What was assumed about its size; empty when nothing was.
    """

    kind: str
    size: float
    note: str = ""


_WORDS = {
    "drop": "drops? gtts? gtt\\.",
    "g": "g gr gms? grams? grammes?",
    "kg": "kg kgs kilos? kilograms? kilogrammes?",
    "mg": "mg milligrams? milligrammes?",
    "ug": "ug mcg micrograms? microgrammes?",
    "ml": "ml mls cc millilit(?:er|re)s?",
    "cl": "cl centilit(?:er|re)s?",
    "dl": "dl decilit(?:er|re)s?",
    "l": "l lit(?:er|re)s? ltrs?",
    "fl oz": "fl\\.?\\s*ozs?\\.? fluid\\s+ounces? fluid\\s+oz floz",
    "oz": "ozs?\\.? ounces?",
    "lb": "lbs?\\.? pounds?",
    "tsp": "tsps?\\.? teaspoons? teaspoonfuls? teaspoonsful",
    "tbsp": "tbsps?\\.? tablespoons? tablespoonfuls? tbs",
    "cup": "cups? cupfuls?",
    "pint": "pints? pts?\\.?",
    "quart": "quarts? qts?\\.?",
    "gallon": "gallons? gals?\\.?",
    "dash": "dash(?:es)?",
    "pinch": "pinch(?:es)?",
}
_SPELLINGS = [
    (pattern, unit) for unit, patterns in _WORDS.items() for pattern in re.split(r"(?<!\\s\*)(?<!\\s\+)\s", patterns)
]
NUMBER = r"\d+(?:\.\d+)?"
"""Regular expression of a number, after `plain_numbers`."""
UNIT = "(?:" + "|".join(p for p, _ in sorted(_SPELLINGS, key=lambda x: -len(x[0]))) + r")(?![a-z])"
"""Regular expression of every unit word."""

_METRIC = {"g": ("g", 1.0), "kg": ("g", 1000.0), "mg": ("g", 0.001), "ug": ("g", 1e-6), "ml": ("ml", 1.0)}
_METRIC |= {"cl": ("ml", 10.0), "dl": ("ml", 100.0), "l": ("ml", 1000.0), "drop": ("drop", 1.0), "oz": ("oz", 1.0)}
_METRIC_SPOONS = {"tsp": 5.0, "tbsp": 15.0, "cup": 250.0}
_US = {
    "fl oz": "fluid_ounce",
    "tsp": "teaspoon",
    "tbsp": "tablespoon",
    "cup": "cup",
    "pint": "pint",
    "quart": "quart",
    "gallon": "gallon",
}
_IMPERIAL = {
    "fl oz": "imperial_fluid_ounce",
    "cup": "imperial_cup",
    "pint": "imperial_pint",
    "quart": "imperial_quart",
    "gallon": "imperial_gallon",
}


DEFINITIONS = (
    "gram = [mass] = g",
    "milliliter = [volume] = ml",
    "pound = 453.59237 gram",
    "ounce = pound / 16",
    "gallon = 3785.411784 milliliter",
    "quart = gallon / 4",
    "pint = gallon / 8",
    "cup = gallon / 16",
    "fluid_ounce = gallon / 128",
    "tablespoon = gallon / 256",
    "teaspoon = gallon / 768",
    "imperial_gallon = 4546.09 milliliter",
    "imperial_quart = imperial_gallon / 4",
    "imperial_pint = imperial_gallon / 8",
    "imperial_cup = imperial_gallon / 16",
    "imperial_fluid_ounce = imperial_gallon / 160",
)
"""The measures of the trade as their laws define them (NIST Handbook 44, Appendix C; UK Units of Measurement
Regulations 1995). Reading pint's own list of a thousand units takes 0.4 s; a test holds these to it."""


def measure(word: str, system: str | None = None, fluid: bool | None = None) -> Measure:
    """Return what a unit word stands for.

    Parameters
    ----------
    word : str
        One unit, in any of the spellings that `UNIT` matches.
    system : {"us", "imperial", "metric", None}
        What the text says; None takes US customary measures and notes it.
    fluid : bool or None
        Whether a bare ounce is a volume; None leaves it open (kind ``oz``).

    References
    ----------
    US and imperial sizes: NIST Handbook 44, Appendix C; UK Units of Measurement Regulations 1995.

    Examples
    --------
    >>> measure("fl. oz").size, measure("gallon", "imperial").size, measure("oz", fluid=False).kind
    (29.5735295625, 4546.09, 'g')
    """
    unit = _unit(word)
    if unit == "oz" and fluid is not None:
        unit = "fl oz" if fluid else "ounce"
    if unit in _METRIC:
        kind, size = _METRIC[unit]
        return Measure(kind, size)
    if unit in ("ounce", "lb"):
        return Measure("g", _size("ounce" if unit == "ounce" else "pound", "g"))
    if unit in ("dash", "pinch"):
        size = _size("teaspoon", "ml") / (8 if unit == "dash" else 16)
        return Measure("ml", size, f"a {unit} is no standard measure: {size:.2g} ml assumed")
    if unit in _METRIC_SPOONS and (system == "metric" or (system == "imperial" and unit != "cup")):
        return Measure("ml", _METRIC_SPOONS[unit], f"{unit}: metric, {_METRIC_SPOONS[unit]:g} ml")
    if system == "imperial" and unit in _IMPERIAL:
        size = _size(_IMPERIAL[unit], "ml")
        return Measure("ml", size, f"{unit}: imperial, {size:.6g} ml")
    size = _size(_US[unit], "ml")
    said = "US" if system == "us" else "US measure assumed"
    beside = f" (a metric or label one is {_METRIC_SPOONS[unit]:g} ml)" if unit in ("tsp", "tbsp") else ""
    return Measure("ml", size, f"{unit}: {said}, {size:.6g} ml{beside}")


def _unit(word: str) -> str:
    text = word.strip().casefold()
    for pattern, unit in _SPELLINGS:
        if re.fullmatch(pattern, text):
            return unit
    raise QuantityError(f"{word!r} is not a unit that is known", "use g, mg, ml, l, drops, tsp, tbsp, fl oz or gal")


@lru_cache(maxsize=64)
def _size(name: str, to: str) -> float:
    return float((1 * _registry()(name)).to(to).magnitude)


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint  # only for US and imperial measures

    return pint.UnitRegistry(DEFINITIONS, non_int_type=Decimal)  # exact, as the measures are defined


_TO_TWELVE = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_NUMBER_WORDS = {word: number for number, word in enumerate(_TO_TWELVE)}
_HALVES = {"3 quarters": "0.75", "2 thirds": "0.666666667"}
_HALVES |= {"quarter": "0.25", "third": "0.333333333", "half": "0.5"}


def plain_numbers(text: str) -> str:
    """Rewrite every number of a text with digits and a decimal point; case, dashes and blanks made uniform.

    Raises
    ------
    QuantityError
        When a comma may be a decimal sign or part thousands, or a dash may join a fraction or part a range.

    Examples
    --------
    >>> plain_numbers("Half a teaspoon / 0,5 – 1½ L"), plain_numbers("1-1/2 tsp")
    ('0.5 teaspoon / 0.5 - 1.5 l', '1.5 tsp')
    """
    out = re.sub(r"(?<=\d)(?=[¼½¾⅓⅔⅛⅕⅙])", " ", text)
    out = unicodedata.normalize("NFKC", out).casefold()
    out = re.sub(r"[\u2010-\u2015\u2212]", "-", out).replace("\u2044", "/").replace("\u03bc", "u")
    out = re.sub(r"\s+", " ", out).strip()
    for word, digit in _NUMBER_WORDS.items():
        out = re.sub(rf"\b{word}\b", str(digit), out)
    for word, number in sorted(_HALVES.items(), key=lambda x: -len(x[0])):
        name = word.replace(" ", "[ -]")
        mixed = rf"(?<![\d.,/])(\d+)[ -]and[ -](?:an?[ -]|1[ -])?{name}\b"
        out = re.sub(mixed, partial(_with_part, float(number)), out)
        out = re.sub(rf"\b(?:a |1[ -])?{name}(?: of)?(?: an?)?\b", number, out)
    out = re.sub(r"(?<![\w./-])([1-9]\d*)( ?- ?)(\d+)/(\d+)\b", _mixed, out)
    out = re.sub(r"\b(\d+) (?:and )?(\d+)/(\d+)\b", lambda m: _fraction(m[2], m[3], int(m[1])), out)
    out = re.sub(r"(?<![\d.])(?<!\d/)(\d+)/(\d+)(?![\d/.])(?=\s*(?:[a-z%]|-))", lambda m: _fraction(m[1], m[2]), out)
    return re.sub(r"(?<![\w.])\.(?=\d)", "0.", _commas(out))


def _with_part(part: float, found: re.Match[str]) -> str:
    return f"{int(found[1]) + part:.9g}"


def _mixed(found: re.Match[str]) -> str:
    """Read ``1-1/2`` as one and a half: as a range it would run backwards. ``1-3/2`` stays a range."""
    whole, dash, top, bottom = found.groups()
    if int(top) >= int(bottom):
        return found[0]
    if dash != "-":
        raise QuantityError(
            f"{found[0]!r} may be {whole} {top}/{bottom} or a range",
            "write it without the dash, or the lesser end first",
        )
    return _fraction(top, bottom, int(whole))


def _fraction(top: str, bottom: str, whole: int = 0) -> str:
    if int(bottom) == 0:
        raise QuantityError(f"{top}/{bottom} divides by zero", "write the number with digits, such as 0.5")
    return f"{whole + int(top) / int(bottom):.9g}"


def _commas(text: str) -> str:
    blanks = r"(?<![\d.,] )(?<![\d.,/-])[1-9]\d{0,2}(?: \d{3})+(?![\d.,/]| ?/)"
    text = re.sub(blanks, lambda m: m[0].replace(" ", ""), text)
    text = re.sub(r"\b\d{1,3}(?:,\d{3}){2,}\b", lambda m: m[0].replace(",", ""), text)
    text = re.sub(r"(?<=per )([1-9]\d?),(\d{3})(?= ?m?[gl])|(?<=[:/])([1-9]\d?),(\d{3})\b", _joined, text)
    if odd := re.search(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d,])", text):
        raise QuantityError(
            f"{odd[0]!r} may be {odd[0].replace(',', '')} or {odd[0].replace(',', '.')}",
            "write it without the comma, or with a decimal point",
        )
    return re.sub(r"(?<=\d),(?=\d)", ".", text)


def _joined(found: re.Match[str]) -> str:
    return "".join(g for g in found.groups() if g)


def typed_number(text: str) -> float:
    """Read one number as a person types it, with a decimal point or a decimal comma.

    Examples
    --------
    >>> typed_number("20.5"), typed_number("20,5")
    (20.5, 20.5)
    """
    plain = text.strip()
    if re.fullmatch(r"[-+]?[1-9]\d{0,2}(,\d{3})+", plain):
        raise QuantityError(f"{text!r} may be a thousand or a fraction", "write it without the comma")
    try:
        value = float(plain.replace(",", ".") if plain.count(",") == 1 and "." not in plain else plain)
    except ValueError:
        raise QuantityError(f"{text!r} is no number", "write digits only, such as 20.5") from None
    if not math.isfinite(value):
        raise QuantityError(f"{text!r} is no number to count with", "leave it out for no limit")
    return value
