"""How texts and numbers are written on the screens: user text escaped, every number with its unit."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from pairing.errors import QuantityError
from pairing.model.fields import is_missing
from pairing.quantities.rates import read_in
from pairing.quantities.readable import between

__all__ = [
    "UNKNOWN",
    "amount",
    "cell",
    "count",
    "entered",
    "heading",
    "interval",
    "joined",
    "md",
    "number",
    "sentence",
    "short",
]

UNKNOWN = "unknown"
LONGEST = 600
"""Letters that are shown of a text that came with an address, or of a refusal (our choice)."""
_PUNCTUATION = re.compile(r"([\\`*_{}\[\]()<>#+\-.!|~$&^=\"'/])")
_JOINER = "\u2060"  # zero width: keeps a colon or an address from being read as markup after unescaping


def md(text: object) -> str:
    r"""Escape text that a person or a file supplied, so that Markdown shows it as it is.

    Examples
    --------
    >>> md("![x](y)")
    '\\!\\[x\\]\\(y\\)'
    """
    line = " ".join(str(text).split())
    line = _PUNCTUATION.sub(r"\\\1", line)
    line = re.sub(r":(?=\S)", ":" + _JOINER, line)
    return re.sub(r"(?i)(www|@)(?=\S)", rf"\1{_JOINER}", line)


def short(text: str) -> str:
    """Cut off what is longer than anybody reads, such as the value that an address was given.

    Examples
    --------
    >>> short("Oat drink"), len(short("x" * 10_000))
    ('Oat drink', 601)
    """
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}…"


def cell(value: object) -> str:
    """Write a cell of a table as it is typed in again: all digits, nothing where it is missing.

    Examples
    --------
    >>> cell(0.125), cell(3.0), cell("oat"), cell(None)
    ('0.125', '3', 'oat', '')
    """
    if is_missing(value):
        return ""
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def number(value: float | None, digits: int = 3) -> str:
    """Write a number with so many significant digits, without an exponent; None and NaN are unknown.

    Examples
    --------
    >>> number(0.12345), number(1234.5), number(None)
    ('0.123', '1234', 'unknown')
    """
    if value is None or math.isnan(value):
        return UNKNOWN
    if math.isinf(value):
        return f"{value:g}"
    text = f"{value:.{_places(value, digits)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def entered(text: str, low: float, high: float, unit: str = "g", name: str = "") -> float:
    """Read a number that was typed, in the unit or in that of a named field; refuse it outside ``low`` to ``high``.

    Examples
    --------
    >>> entered("0,7", 0, 2000), entered("0.7", 0, 2000), entered("700 mg", 0, 2000)
    (0.7, 0.7, 0.7)
    """
    value = read_in(text, name or unit)
    if not low <= value <= high:
        said = f"{text.strip()} {unit}".rstrip()
        raise QuantityError(
            f"{said} is out of range", f"write a number from {number(low)} to {number(high)} {unit}".rstrip()
        )
    return value


def _places(value: float, digits: int) -> int:
    return max(0, digits - 1 - math.floor(math.log10(abs(value)))) if value else 0


def amount(value: float | None, unit: str, digits: int = 3) -> str:
    """Write a number and its unit; an unknown one says so.

    Examples
    --------
    >>> amount(1.5, "g"), amount(None, "kcal")
    ('1.5 g', 'unknown kcal')
    """
    return f"{number(value, digits)} {unit}"


def interval(value: float, low: float, high: float, unit: str = "", digits: int = 2) -> str:
    """Write an estimate with its 80 % interval, all to the same decimal place.

    Examples
    --------
    >>> interval(1.5, 1.2, 2, "g/kg")
    '1.5 g/kg (1.2–2.0)'
    >>> interval(-0.5, -1, 0.25)
    '−0.50 (−1.00 to 0.25)'
    """
    if not all(map(math.isfinite, (value, low, high))):
        return f"{number(value, digits)} {unit}".strip()
    places = max(_places(value, digits), _places(high - low, 1))
    written = f"{value:.{places}f} {unit}".strip().replace("-", "−")
    return f"{written} ({between(low, high, f'.{places}f')})"


def count(n: int, one: str, many: str | None = None) -> str:
    """Write a count with its noun.

    Examples
    --------
    >>> count(1, "cup"), count(3, "cup")
    ('1 cup', '3 cups')
    """
    return f"{n:,} {one if n == 1 else many or one + 's'}"


_UNIT = re.compile(r"_((?:m?g|kcal)_per_(?:100g|k?g|ml)|per_k?g|mpa_s|m?k?g|c)$")


def heading(column: str) -> str:
    """Write the name of a table's column for people, its unit apart.

    Examples
    --------
    >>> heading("energy_kcal_per_100g"), heading("base_id"), heading("cost_per_g"), heading("stock_g")
    ('Energy (kcal per 100 g)', 'Base id', 'Cost (per g)', 'Stock (g)')
    """
    found = _UNIT.search(column)
    words = column[: found.start()] if found else column
    unit = f" ({found[1].replace('_', ' ').replace('100g', '100 g').replace('mpa s', 'mPa·s')})" if found else ""
    words = words.replace("_", " ")
    return words[:1].upper() + words[1:] + unit


def joined(words: Iterable[object], last: str = "and") -> str:
    """Join words as a sentence does.

    Examples
    --------
    >>> joined(["oat", "soy", "whey"])
    'oat, soy and whey'
    """
    items = [str(w) for w in words]
    return f" {last} ".join([", ".join(items[:-1]), items[-1]]) if len(items) > 1 else "".join(items)


def sentence(text: str) -> str:
    """Begin with a capital and end with a full stop.

    Examples
    --------
    >>> sentence("too strong: add base")
    'Too strong: add base.'
    """
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")
