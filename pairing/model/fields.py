"""Checking and reading the fields of value objects against their column definitions."""

from __future__ import annotations

import dataclasses
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any

from pairing.errors import QuantityError, TableError
from pairing.model.columns import LIKING_WORDS, STRENGTH_WORDS, Column, TableSchema
from pairing.quantities.rates import number_of, read_in

__all__ = [
    "JOINERS",
    "NOT_STATED",
    "amounts",
    "check",
    "check_fields",
    "clean_id",
    "is_loosely_said",
    "is_missing",
    "is_not_stated",
    "listed",
    "on_scale",
    "read_cell",
    "reduced",
    "several",
    "unseen",
    "words",
    "written",
]

MAX_ID = 200
NOT_STATED = frozenset({"", "-", "–", "—", "?", "n/a", "na", "nan", "null", "unknown", "<na>"})
"""What people write for 'I do not know', casefolded."""
_SCALES = {
    "strength": {word: float(i) for i, word in enumerate(STRENGTH_WORDS)},
    "liking": {word: float(i) for i, word in enumerate(LIKING_WORDS, 1)},
}
_SAID = {
    "nothing": 0,
    "not there": 0,
    "ok": 3,
    "okay": 3,
    "right": 3,
    "about right": 3,
    "good": 3,
    "fine": 3,
    "perfect": 3,
}
for _word, _little, _much in (("weak", 2, 1), ("strong", 4, 5)):
    _SAID |= {
        f"{_before}{_word}": _little for _before in ("", "a bit ", "bit ", "slightly ", "a little ", "a bit too ")
    }
    _SAID |= {f"{_before} {_word}": _much for _before in ("very", "far too", "way too")}
_SEVERAL = re.compile(r"[:;]|(?<!\d),|,(?!\d)")
"""What shows that a name is several entries; the comma of ``1,2-propanediol`` does not."""
_NUMBER = re.compile(r"(?<![\w.-])(?<!\d,)\d+(?:[.,]\d+)?(?![\w-]|[.,]\d)")
"""A number that stands by itself; none of ``1,2-propanediol`` does."""


def is_missing(value: object) -> bool:
    """Tell whether a cell is empty: None, NaN, NaT, ``pandas.NA`` or blank text.

    Examples
    --------
    >>> is_missing("  "), is_missing(float("nan")), is_missing(0)
    (True, True, False)
    """
    if value is None:
        return True
    if isinstance(value, str):
        return not value.strip()
    if isinstance(value, float):
        return math.isnan(value)
    return type(value).__name__ in {"NAType", "NaTType"}


def unseen(text: str) -> str:
    r"""Return the characters of a text that nobody sees: marks of direction or of no width, idle joiners.

    A joiner that a script needs is none of them: after an Arabic letter or a virama (Unicode Standard Annex 31,
    UAX31-R1a; Unicode Technical Standard 39 on what else makes identifiers look alike).

    Examples
    --------
    >>> unseen("o\u200bat"), unseen("می\u200cخواهم"), unseen("a\u200cb")
    ('\u200b', '', '\u200c')
    """
    if text.isascii():
        return ""
    pairs = zip(f" {text}", text, strict=False)
    return "".join(c for before, c in pairs if unicodedata.category(c) == "Cf" and not _joins(before, c))


def _joins(before: str, c: str) -> bool:
    after_virama = unicodedata.combining(before) == _VIRAMA
    return (c in JOINERS and after_virama) or (c == "\u200c" and unicodedata.bidirectional(before) == "AL")


JOINERS = "\u200c\u200d"
"""Zero width non-joiner and joiner."""
_VIRAMA = 9
"""Canonical combining class of viramas (Unicode Standard, table 4-3)."""


def clean_id(value: object, column: str) -> str:
    """Return an id as NFC text without outer blanks, or refuse it.

    Examples
    --------
    >>> clean_id(" oat ", "base_id")
    'oat'
    """
    text = unicodedata.normalize("NFC", str(value)).strip()
    if not text:
        raise TableError(f"{column} is empty", "give a short name such as oat or sour-cherry")
    if len(text) > MAX_ID:
        raise TableError(f"{column} has {len(text)} characters, at most {MAX_ID} are kept", "shorten it")
    if any(unicodedata.category(c) in ("Cc", "Cs") for c in text):
        raise TableError(
            f"{column} {text!r} contains control characters, or bytes that are no text",
            "remove line breaks, tabs and the like",
        )
    return text


def listed(ids: object, name: str) -> list[str]:
    """Return ids as a list: one id is not a list of its letters.

    Examples
    --------
    >>> listed("oat", "bases"), listed(("oat", "pea"), "bases")
    (['oat'], ['oat', 'pea'])
    """
    if isinstance(ids, str):
        return [ids]
    if not isinstance(ids, Iterable):
        raise TableError(f"{name} is {ids!r}, no list of ids", "write ids, such as ['oat', 'pea']")
    return [str(item) for item in ids]


def is_not_stated(cell: object) -> bool:
    """Tell a text that only says that something is not known.

    Examples
    --------
    >>> is_not_stated(" ? "), is_not_stated("n/a"), is_not_stated("3 drops"), is_not_stated(None)
    (True, True, False, False)
    """
    return isinstance(cell, str) and cell.strip().casefold() in NOT_STATED


def words(value: object) -> frozenset[str] | None:
    """Read ``a;b`` as a set of words; empty, ``?`` and ``unknown`` are unknown (None), ``none`` is the empty set.

    Examples
    --------
    >>> sorted(words("milk; soy")), words("none"), words(""), words("Unknown")
    (['milk', 'soy'], frozenset(), None, None)
    """
    if is_missing(value):
        return None
    if isinstance(value, str):
        found = [w.strip().casefold() for w in value.replace(",", ";").split(";")]
    elif isinstance(value, Iterable):
        found = [str(w).strip().casefold() for w in value]
    else:
        raise TableError(f"{value!r} is not a list of words", "write a;b;c, or none")
    stated = frozenset(w for w in found if w and w != "none")
    return None if stated and stated <= NOT_STATED else stated


def amounts(value: object, column: str = "value", kept: bool = False) -> Mapping[str, float | None] | None:
    """Read ``a:1.5;b`` as amounts by name; a name without a number is an unknown amount; ``none`` is no entry.

    Only ``;`` parts entries. A comma may be a decimal sign (``a:1,5``) or part of a name (``1,2-propanediol``), so
    none is taken to part them. A text whose name looks like several entries is refused where an amount would be lost
    (``a:1, b:2``), and is one name where none would (``water, ethanol``).

    Parameters
    ----------
    value : str, mapping or None
    column : str
        What it is called in a refusal.
    kept : bool
        Whether the text is kept already: then it is refused no more, and each entry is one name.

    Raises
    ------
    TableError
        When a text with amounts looks like several entries in one, or an amount is no number of 0 or more.

    Examples
    --------
    >>> dict(amounts("sucralose:1.5;stevia"))
    {'sucralose': 1.5, 'stevia': None}
    """
    if is_missing(value):
        return None
    out: dict[str, float | None] = {}
    told_apart = kept or isinstance(value, Mapping)
    for key, number in _entries(value):
        if ";" in key or (not told_apart and _SEVERAL.search(key) and _loses(key, number)):
            raise TableError(
                f"{column}: {key!r} holds a colon, comma or semicolon and may be several names",
                "put ; between entries, such as name:1.5;other:2, and no such sign within a name",
            )
        if is_missing(number):
            out[key] = None
            continue
        amount = number_of(number, f"{column}: {key}", TableError)
        if not math.isfinite(amount) or amount < 0:
            raise TableError(f"{column}: {key} is {amount:g}, an amount is 0 or more", "correct the number")
        out[key] = amount
    return MappingProxyType(out)


def _entries(value: object) -> list[tuple[str, Any]]:
    """Return the entries of a cell or mapping: a name, and its number as given or None."""
    if isinstance(value, Mapping):
        items = [(str(k), v) for k, v in value.items()]
    else:
        parts = [p for p in str(value).split(";") if p.strip()]
        items = [(p.rpartition(":")[0], p.rpartition(":")[2]) if ":" in p else (p, None) for p in parts]
    named = [(name.strip(), number) for name, number in items]
    return [(name, n) for name, n in named if name and not (name.casefold() == "none" and n is None)]


def _loses(name: str, number: object) -> bool:
    """Tell whether an amount would be lost, or be another's, if several names are taken for one."""
    return not is_missing(number) or ":" in name or _NUMBER.search(name) is not None


def several(value: object) -> list[str]:
    """Return the names in a cell that look like several: with a colon, or a comma that is not between digits.

    Examples
    --------
    >>> several("water, ethanol;1,2-propanediol"), several("water;ethanol:0.4"), several(None)
    (['water, ethanol'], [], [])
    """
    return [] if is_missing(value) else [name for name, _ in _entries(value) if _SEVERAL.search(name)]


def written(value: object) -> Any:
    """Write words or amounts as the cell that `words` and `amounts` read back; anything else stays as it is.

    Examples
    --------
    >>> written({"sucralose": 1.5, "stevia": None}), written(frozenset({"soy", "milk"})), written({}), written(2.5)
    ('sucralose:1.5;stevia', 'milk;soy', 'none', 2.5)
    """
    if isinstance(value, Mapping):
        return ";".join(str(k) if v is None else f"{k}:{str(v).removesuffix('.0')}" for k, v in value.items()) or "none"
    if isinstance(value, (set, frozenset)):
        value = sorted(map(str, value))
    return ";".join(map(str, value)) or "none" if isinstance(value, (list, tuple)) else value


def read_cell(
    text: str, column: Column, comma: bool | None = None, stated: str = "", density_g_per_ml: float | None = None
) -> float:
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
    density_g_per_ml : float, optional
        What a volume weighs where a mass is wanted.

    Raises
    ------
    TableError
        When it is no number, could be two numbers, or has a unit that does not fit.

    Examples
    --------
    >>> from pairing.model.columns import FLAVOURINGS, READINGS
    >>> read_cell("60 %", FLAVOURINGS.by_name["sugars_g_per_g"], stated="sugars_g_per_100g")
    60.0
    >>> read_cell("too weak", READINGS.by_name["strength"]), read_cell("unknown", FLAVOURINGS.by_name["drop_mg"])
    (2.0, nan)
    """
    word = text.strip().casefold()
    if word in NOT_STATED:
        return math.nan
    if (value := on_scale(word, column.name)) is not None:
        return value
    scale = _SCALES.get(column.name, {})
    try:
        return read_in(text, stated or column.name, comma, density_g_per_ml)
    except QuantityError as error:
        remedy = f"write a number, or one of: {', '.join(scale)}" if scale else error.hint
        raise TableError(f"{column.name}: {error.message}", remedy) from None


def on_scale(text: str, name: str) -> float | None:
    """Return the number that a word has on the scale of a column; None where it is no word of it.

    Of a strength, what people say at the table counts too.

    Examples
    --------
    >>> on_scale("Too weak", "strength"), on_scale("a bit strong", "strength"), on_scale("like very much", "liking")
    (2.0, 4.0, 8.0)
    """
    word = text.strip().casefold()
    found = _SCALES.get(name, {}).get(word)
    return float(_SAID[word]) if found is None and name == "strength" and word in _SAID else found


def is_loosely_said(text: str, name: str) -> bool:
    """Tell a word of a strength that is none of the scale's own."""
    return name == "strength" and text.strip().casefold() in _SAID


def check(value: object, column: Column) -> Any:
    """Return a cell's value in its column's type, None when empty, or refuse it.

    Raises
    ------
    TableError
        Naming column, value, limit and remedy.
    """
    if is_missing(value):
        if column.required:
            raise TableError(f"{column.name} is empty", "it is required")
        return None
    match column.kind:
        case "id":
            return clean_id(value, column.name)
        case "number" | "integer":
            return _number(value, column)
        case "choice":
            word = str(value).strip().casefold()
            if word not in column.choices:
                raise TableError(f"{column.name} {value!r} is not known", f"use one of: {', '.join(column.choices)}")
            return word
        case "words":
            return words(value)
        case "amounts":
            return _each_within(amounts(value, column.name), column)
        case _:
            return value.isoformat() if hasattr(value, "isoformat") else str(value).strip()


def _each_within(found: Mapping[str, float | None] | None, column: Column) -> Mapping[str, float | None] | None:
    for name, amount in (found or {}).items():
        if amount is not None and column.high is not None and amount > column.high:
            raise TableError(
                f"{column.name}: {name} is {amount:g}, allowed is 0 to {column.high:g}", "correct the number"
            )
    return found


def _number(value: object, column: Column) -> float | int:
    number = read_cell(value, column) if isinstance(value, str) else number_of(value, column.name, TableError)
    low = -math.inf if column.low is None else column.low
    high = math.inf if column.high is None else column.high
    if not math.isfinite(number) or not low <= number <= high:
        raise TableError(
            f"{column.name} is {number:g}, allowed is {low:g} to {high:g}", "correct it, or leave it empty"
        )
    if column.kind == "integer":
        if number != int(number):
            raise TableError(f"{column.name} is {number:g}, a whole number is needed", "round it")
        return int(number)
    return number


def check_fields(obj: object, table: TableSchema) -> None:
    """Check a frozen dataclass instance in place (from its ``__post_init__``)."""
    for column in table.columns:
        value = getattr(obj, column.name, None)
        if value is not None or (column.required and hasattr(obj, column.name)):
            object.__setattr__(obj, column.name, check(value, column))


def reduced(obj: Any) -> tuple[Callable[..., Any], tuple[type, dict[str, Any]]]:
    """Return what a frozen dataclass with read-only mappings is pickled and copied as."""
    state = {f.name: getattr(obj, f.name) for f in dataclasses.fields(obj)}
    return _made, (type(obj), {k: dict(v) if isinstance(v, Mapping) else v for k, v in state.items()})


def _made(kind: type, state: dict[str, Any]) -> Any:
    return kind(**state)
