"""How texts and numbers are written on the screens: user text escaped, every number with its unit."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

__all__ = ["UNKNOWN", "amount", "count", "interval", "joined", "md", "number"]

UNKNOWN = "unknown"
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


def number(value: float | None, digits: int = 3) -> str:
    """Write a number with so many significant digits, without an exponent; None and NaN are unknown.

    Examples
    --------
    >>> number(0.12345), number(1234.5), number(None)
    ('0.123', '1234', 'unknown')
    """
    if value is None or math.isnan(value):
        return UNKNOWN
    if math.isinf(value) or value == 0:
        return f"{value:g}"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount(value: float | None, unit: str, digits: int = 3) -> str:
    """Write a number and its unit; an unknown one says so.

    Examples
    --------
    >>> amount(1.5, "g"), amount(None, "kcal")
    ('1.5 g', 'unknown kcal')
    """
    return f"{number(value, digits)} {unit}"


def interval(value: float, low: float, high: float, unit: str = "", digits: int = 2) -> str:
    """Write an estimate with its 80 % interval.

    Examples
    --------
    >>> interval(1.5, 1.2, 1.9, "g/kg")
    '1.5 g/kg (1.2–1.9)'
    """
    head = amount(value, unit, digits) if unit else number(value, digits)
    return f"{head} ({number(low, digits)}–{number(high, digits)})"


def count(n: int, one: str, many: str | None = None) -> str:
    """Write a count with its noun.

    Examples
    --------
    >>> count(1, "cup"), count(3, "cup")
    ('1 cup', '3 cups')
    """
    return f"{n:,} {one if n == 1 else many or one + 's'}"


def joined(words: Iterable[object], last: str = "and") -> str:
    """Join words as a sentence does.

    Examples
    --------
    >>> joined(["oat", "soy", "whey"])
    'oat, soy and whey'
    """
    items = [str(w) for w in words]
    return f" {last} ".join([", ".join(items[:-1]), items[-1]]) if len(items) > 1 else "".join(items)
