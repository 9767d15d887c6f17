"""One reader of numbers as people write them: ``0,5``, ``1 1/2``, ``1'000``, ``half``.

What a comma means is for the file or the person to say: ``comma`` is True where it is the decimal sign, False where it
parts thousands, and None where nobody said. Then ``1,234`` is refused.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable

from pairing.errors import QuantityError

__all__ = ["CHECK", "DIGITS_ONLY", "NUMBER", "decimal_comma", "plain_numbers", "restated", "shown"]

NUMBER = r"\d+(?:\.\d+)?(?:e[+-]?\d+)?"
"""Regular expression of a number without sign, after `plain_numbers`."""
MAX_TEXT = 500
"""Longer texts are no quantity (our choice): what is read takes bounded work."""
DIGITS_ONLY, CHECK = "write digits only, such as 1.5", "check the number and its unit"

_TO_TWELVE = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_WORD = re.compile(rf"\b(?:{'|'.join(_TO_TWELVE)})\b")
_PARTS = {"3 quarters": 3 / 4, "2 thirds": 2 / 3, "quarter": 1 / 4, "third": 1 / 3, "half": 1 / 2}
_PART = re.compile(
    rf"(?:(?<![\d.,/])(?P<whole>\d+)[ -]and[ -]|\b)(?:an?[ -]|1[ -])?"
    rf"(?P<part>{'|'.join(_PARTS).replace(' ', '[ -]')})(?: of)?(?: an?)?\b"
)
_FRACTION = re.compile(
    r"(?:(?<![\w./-])(?P<dashed>[1-9]\d*)(?P<dash> ?- ?)|(?<![\w./])(?P<whole>\d+) (?:and )?)?"
    r"(?<![\w.])(?<!\d/)(?P<top>\d+)/(?P<bottom>\d+)(?![\d/.])"
)
_SIZE = re.compile(r"(?:(?<=per )(?=\d+,\d+ ?(?:ml|g)\b)|(?<=[:/]))([1-9]\d?),(\d{3})\b")
"""A size of drink, which no comma makes smaller than ten: ``per 1,000 ml``, ``1:1,000``."""
_NUMERAL = re.compile(
    r"""(?<![\w.,'])(?P<mantissa>
      (?: [1-9]\d{0,2} (?P<mark>[ ']) \d{3} (?:(?P=mark)\d{3})* (?!\d|\ ?/) | \d+ ) (?:[.,]\d+)*
      | [.,]\d+
    ) (?P<power>\.?e[+-]?\d+)? (?:\.(?=$|\ ?[a-z%]))?""",
    re.VERBOSE,
)
_BARE = re.compile(r"[0-9]{1,20}(?:[.,][0-9]{1,20})?")
"""A number that no other rule than that of its comma can be about: most of a large table."""
_GROUPED = re.compile(
    r"[1-9]\d{0,2}(?P<mark>[.,' ])\d{3}(?P<more>(?:(?P=mark)\d{3})*)(?P<decimals>(?!(?P=mark))[.,]\d+)?"
)
"""A number with its thousands in groups of three, all parted by one mark that is no decimal sign."""
_INDIAN = re.compile(r"[1-9]\d?(?:,\d{2})+,\d{3}(?:\.\d+)?")
"""A number in lakh and crore: a group of three, and groups of two before it."""
_EITHER = re.compile(r"(?<![\w.,．，])\d{1,3}[.,．，]\d{3}(?!\d|[.,．，]\d|-[^\W\d])")
"""A number that is one thing where commas are decimal signs and another where they part thousands."""
_SIGNS = str.maketrans(
    {**dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212", "-"), "\u2044": "/", "\u03bc": "u", "’": "'"}
)
_DATE = re.compile(r"(\d{1,2}([./-])\d{1,2}\2(\d{4}|\d{2})|\d{4}([./-])\d{1,2}\4\d{1,2})(?:[t ].*)?")


def shown(value: object) -> str:
    """Return a value as a refusal quotes it, cut where it is long.

    Examples
    --------
    >>> shown("2 sips"), len(shown("9" * 400))
    ("'2 sips'", 61)
    """
    text = repr(value)
    return text if len(text) <= 61 else f"{text[:58]}…{text[-2:]}"


def restated(text: str, comma: bool | None) -> str:
    """Write those numbers of a text plainly that can be read only beside what its file says of commas.

    Examples
    --------
    >>> restated("1,250 mg/kg in 1,2-propanediol", True), restated("1,250 mg/kg", None)
    ('1.250 mg/kg in 1,2-propanediol', '1,250 mg/kg')
    """
    return text if comma is None else _EITHER.sub(lambda found: _decimal(_ascii(found[0]), comma), text)


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


def plain_numbers(text: str, comma: bool | None = None) -> str:
    """Rewrite every number of a text with digits and a decimal point; case, dashes and blanks made uniform.

    Raises
    ------
    QuantityError
        When a comma may be a decimal sign or part thousands, a dash may join a fraction or part a range, a digit is
        raised, or a number is too large to count with.

    Examples
    --------
    >>> plain_numbers("Half a teaspoon / 0,5 – 1½ L"), plain_numbers("1-1/2 tsp")
    ('0.5 teaspoon / 0.5 - 1.5 l', '1.5 tsp')
    """
    if _BARE.fullmatch(text):
        return _decimal(text, comma)
    if len(text) > MAX_TEXT:
        raise QuantityError(f"{shown(text)} has {len(text)} characters, at most {MAX_TEXT} are read", "shorten it")
    plain = re.sub(r"\s+", " ", text.casefold() if text.isascii() else _ascii(text)).strip()
    plain = re.sub(r"^\+(?=[\d.,])", "", plain)
    if _DATE.fullmatch(plain):
        raise QuantityError(f"{shown(text)} is a date, not a number", DIGITS_ONLY)
    if comma and (size := _SIZE.search(plain)):
        raise _either(size[0], comma)
    plain = _SIZE.sub(r"\1\2", plain)
    plain = _NUMERAL.sub(lambda found: _decimal(found["mantissa"], comma, found["power"] or ""), plain)
    plain = _WORD.sub(lambda found: str(_TO_TWELVE.index(found[0])), plain)
    plain = _PART.sub(lambda found: _sum(found["whole"], _PARTS[found["part"].replace("-", " ")]), plain)
    return _FRACTION.sub(_fraction, plain)


def _ascii(text: str) -> str:
    """Write digits, fractions, dashes and small letters of any script in one way."""
    if raised := next((sign for sign in text if sign.isdigit() and not sign.isdecimal()), None):
        raise QuantityError(f"{shown(text)} holds the raised or ringed digit {raised!r}", "write plain digits")
    plain = re.sub(r"(?<=\d)(?=[¼½¾⅐-⅞])", " ", text)
    plain = unicodedata.normalize("NFKC", plain).casefold()
    plain = re.sub(r"\d", lambda digit: str(unicodedata.decimal(digit[0])), plain)
    return plain.translate(_SIGNS)


def _sum(whole: str | None, part: float) -> str:
    return f"{float(whole or 0) + part:.9g}"


def _fraction(found: re.Match[str]) -> str:
    """Read ``1-1/2`` as one and a half: as a range it would run backwards. ``1-3/2`` stays a range."""
    top, bottom, dash, dashed = float(found["top"]), float(found["bottom"]), found["dash"], found["dashed"]
    if bottom == 0:
        raise QuantityError(f"{found[0]!r} divides by zero", "write the number with digits, such as 0.5")
    if not math.isfinite(top) or not math.isfinite(bottom):
        raise _too_large(found[0])
    if dash and top >= bottom:
        return f"{dashed}{dash}{_sum(None, top / bottom)}"
    if dash and dash != "-":
        raise QuantityError(
            f"{found[0]!r} may be {dashed} {found['top']}/{found['bottom']} or a range",
            "write it without the dash, or the lesser end first",
        )
    return _sum(dashed or found["whole"], top / bottom)


def _decimal(mantissa: str, comma: bool | None, power: str = "") -> str:
    """Write one numeral with digits and a decimal point."""
    text = mantissa
    grouped = _GROUPED.fullmatch(text)
    if grouped and (grouped["mark"] not in ".," or grouped["more"] or grouped["decimals"]):
        text = text.replace(grouped["mark"], "").replace(",", ".")
    elif _INDIAN.fullmatch(text):
        text = text.replace(",", "")
    elif text.count(",") + text.count(".") > 1:
        raise QuantityError(f"{shown(text)} has several commas or points", "write it with one decimal sign, as 1234.5")
    elif grouped and comma is (None if "," in text else True):
        raise _either(text, comma)
    elif grouped and comma is False:
        text = text.replace(",", "")
    plain = text.replace(",", ".") + power.lstrip(".")
    if not math.isfinite(float(plain)):
        raise _too_large(mantissa + power)
    return f"0{plain}" if plain.startswith(".") else plain


def _either(text: str, comma: bool | None) -> QuantityError:
    whole, decimal = re.sub("[.,]", "", text), text.replace(".", ",") if comma else text.replace(",", ".")
    where = " where commas are decimal signs" if comma else ""
    return QuantityError(f"{text!r} may be {whole} or {decimal}{where}", f"write {whole} or {decimal}")


def _too_large(text: str) -> QuantityError:
    return QuantityError(f"{shown(text)} is too large to count with", CHECK)
