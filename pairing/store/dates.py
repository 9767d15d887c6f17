"""Dates and times in several written forms, as ISO 8601 text."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable

from pairing.errors import TableError

__all__ = ["day_first", "is_two_days", "read_time"]

_PARTS = re.compile(
    r"(?P<a>\d{1,4})(?P<sep>[./-])(?P<b>\d{1,2})(?P=sep)(?P<c>\d{4}|\d{1,2})"
    r"(?:[T,\s]+(?P<h>\d{1,2})[:.](?P<m>\d{2})(?::(?P<s>\d{2}))?\s*(?P<half>[ap]m)?)?",
    re.IGNORECASE,
)
_NAMED = re.compile(
    r"(?:(?P<d1>\d{1,2})(?:st|nd|rd|th)?\.?[\s-]+(?P<m1>[a-z]{3,9})|(?P<m2>[a-z]{3,9})\.?\s+(?P<d2>\d{1,2})(?:st|nd|rd|th)?)"
    r"\.?,?[\s-]+(?P<y>\d{4}|\d{2})(?:[T,\s]+(?P<h>\d{1,2})[:.](?P<m>\d{2})(?::(?P<s>\d{2}))?\s*(?P<half>[ap]m)?)?",
    re.IGNORECASE,
)
_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
           "november", "december")  # fmt: skip
_REMEDY = "write it as 2026-05-03 or 2026-05-03 14:30"


def day_first(texts: Iterable[str]) -> bool | None:
    """Tell from unambiguous dates such as 25/12/2026 whether the day stands first; None when nothing decides.

    Examples
    --------
    >>> day_first(["03/04/2026", "25/12/2026"]), day_first(["03/04/2026"])
    (True, None)
    """
    seen = set()
    for text in texts:
        found = _PARTS.fullmatch(text.strip())
        if found and found["sep"] != "." and len(found["a"]) < 3:
            first, second = int(found["a"]), int(found["b"])
            if (first > 12) != (second > 12):
                seen.add(first > 12)
    return seen.pop() if len(seen) == 1 else None


def is_two_days(text: str) -> bool:
    """Tell whether a date is another day when day and month are exchanged.

    Examples
    --------
    >>> is_two_days("03/04/2026"), is_two_days("25/12/2026"), is_two_days("3.4.2026")
    (True, False, False)
    """
    found = _PARTS.fullmatch(text.strip())
    if not found or found["sep"] == "." or len(found["a"]) > 2:
        return False
    first, second = int(found["a"]), int(found["b"])
    return first != second and max(first, second) <= 12


def _iso(year: int, month: int, day: int, found: re.Match[str]) -> str:
    if found["h"] is None:
        return dt.date(year, month, day).isoformat()
    hour = int(found["h"])
    if half := (found["half"] or "").casefold():
        hour = hour % 12 + (12 if half == "pm" else 0)
    return dt.datetime(year, month, day, hour, int(found["m"]), int(found["s"] or 0)).isoformat()


def _from_parts(text: str, found: re.Match[str], first: bool | None) -> str:
    a, b, c = int(found["a"]), int(found["b"]), int(found["c"])
    if len(found["a"]) == 4:
        return _iso(a, b, c, found)
    if len(found["c"]) not in (2, 4):
        raise ValueError(text)
    year = c if len(found["c"]) == 4 else 2000 + c
    if found["sep"] == "." or a > 12 or a == b:
        return _iso(year, b, a, found)
    if b > 12:
        return _iso(year, a, b, found)
    if first is None:
        either = f"{_iso(year, b, a, found)} or {_iso(year, a, b, found)}"
        raise TableError(f"{text!r} could be two dates: {either}", f"write it as {either.replace('T', ' ')}")
    return _iso(year, b, a, found) if first else _iso(year, a, b, found)


def _from_named(found: re.Match[str]) -> str | None:
    name = (found["m1"] or found["m2"]).casefold()
    month = [i for i, word in enumerate(_MONTHS, start=1) if word.startswith(name)]
    if len(month) != 1:
        return None
    year = int(found["y"])
    return _iso(year if len(found["y"]) == 4 else 2000 + year, month[0], int(found["d1"] or found["d2"]), found)


def read_time(value: object, column: str, first: bool | None = None) -> str:
    """Read a date, or a date with a time, as ISO 8601 text.

    Parameters
    ----------
    value : str, datetime or date
    column : str
        For the message.
    first : bool or None
        Whether the day stands first in 03/04/2026; None refuses it as ambiguous.

    Raises
    ------
    TableError
        When it is no date, or could be two.

    Examples
    --------
    >>> read_time("3.5.2026 14:30", "tasted_at"), read_time("May 3, 2026", "tasted_at")
    ('2026-05-03T14:30:00', '2026-05-03')
    """
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() and value.tzinfo is None else value.isoformat()
    if isinstance(value, dt.date):
        return value.isoformat()
    text = str(value).strip()
    try:
        if re.match(r"\d{4}-\d\d-\d\d", text):
            short = len(text) == 10
            return dt.date.fromisoformat(text).isoformat() if short else dt.datetime.fromisoformat(text).isoformat()
        if found := _PARTS.fullmatch(text):
            return _from_parts(text, found, first)
        if (named := _NAMED.fullmatch(text)) and (iso := _from_named(named)):
            return iso
    except TableError as error:
        raise TableError(f"{column}: {error.message}", error.hint) from None
    except ValueError:
        raise TableError(f"{column} {text!r} is not a day of the calendar or time of the day", _REMEDY) from None
    raise TableError(f"{column} {text!r} is not a date", _REMEDY)
