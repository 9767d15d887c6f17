"""Label directions as their words say them, before the bottle and the drink are known: ``3 drops per 100 ml``."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple, NoReturn

from pairing.errors import QuantityError
from pairing.quantities.numbers import NUMBER, plain_numbers, shown
from pairing.quantities.units import UNIT, Unit, fluid, unit_of

__all__ = ["EXAMPLES", "Measured", "Written", "read_label", "span"]

_Ends = tuple[float, float]
EXAMPLES = "write for example 3 drops per 100 ml, 5 ml per litre, 0.5 %, or 5 g/kg"


class Measured(NamedTuple):
    """A number of units, or a range of them."""

    low: float
    high: float
    unit: Unit


@dataclass(frozen=True, kw_only=True)
class Written:
    """So much of a flavouring per so much drink, in words of its own, too.

    Attributes
    ----------
    finished : bool
        The label counts per finished drink, not per drink before addition.
    system : str or None
        System of measures that it names.
    notes : tuple of str
        Whatever it did not say.
    beside : Written or None
        The same again in brackets.
    """

    text: str
    words: str
    added: Measured
    drink: Measured
    finished: bool = False
    system: str | None = None
    notes: tuple[str, ...] = ()
    beside: Written | None = None


def _range(name: str) -> str:
    """Return the pattern of one number or two, whose groups are ``name`` and ``name_to``."""
    return rf"(?P<{name}>{NUMBER})(?: ?(?:-|to|or|and) ?(?P<{name}_to>{NUMBER}))?"


_RANGE = rf"{NUMBER}(?: ?(?:-|to|or|and) ?{NUMBER})?"
_NOUNS = (
    "drinks?|beverages?|liquids?|fluids?|product|milk|water|base|shakes?|smoothies?|mix|batch|solution|"
    "portions?|servings?|glass(?:es)?|mugs?|tumblers?|cans?|bottles?|shakers?"
)
_PER = r"(?:per|/|to|for|in|into|with|each|every|on|of)"
_BEFORE = re.compile(
    r"^(?:(?:please|recommended|suggested|typical|usual|usage|use|dosage|dose|directions?|rate|level|add|mix|about|ca\.?|"
    r"approx(?:\.|imately)?|circa|around|roughly|start with|starting|at|of|is|from|between|:|~|≈) ?)+"
)
_AROUND = re.compile(
    rf"(?:{_PER}\b|/) ?(?:each |every |one |1 )?(?P<drink>{_RANGE} ?{UNIT}|{UNIT}) ?(?:{_NOUNS})? ?[:,;]? ?"
    rf"(?:(?:use|add|take|mix) )?(?P<added>{_RANGE} ?{UNIT})$"
)
"""``per 100 ml: 3 drops``."""
_TAIL = re.compile(
    r"(?:(?:of|to|in|into|on|for) )?(?:the |your |each |any |plain |unflavou?red )*"
    rf"(?:{_NOUNS})?(?: (?:to taste|as drunk))?$"
)
_SHARE = re.compile(
    rf"{_range('added')} ?(?P<basis>wt|vol|w/w|v/v|w/v)?\.? ?"
    r"(?P<unit>%|percent|per cent|pct|‰|per mille?|ppm|parts per million)(?![%\w])(?P<tail>.*)$"
)
_RATIO = re.compile(
    rf"(?P<part>{NUMBER}) ?(?:parts?(?: (?:of )?(?!to\b|in\b|per\b)[a-z]+)? ?)?"
    rf"(?P<sign>:|\+|to|in|per) ?(?P<whole>{NUMBER})(?: parts?)?(?![\d.])(?P<tail>(?! ?(?:{UNIT}|%)).*)$"
)
_DIRECTION = re.compile(
    rf"{_range('added')} ?(?P<unit>{UNIT}|[a-z]+(?= ?\())(?: ?\(=? ?{_range('own')} ?(?P<own_unit>{UNIT})\))?"
    rf"(?: of [a-z ]+?)? ?(?:{_PER}|:) ?(?:each |every |a |an )?"
    rf"(?:{_range('drink')})? ?(?P<drink_unit>{UNIT}|[a-z]+)(?: ?\(=? ?(?P<size>{NUMBER}) ?(?P<size_unit>{UNIT})\))?"
    r"(?P<tail>.*)$"
)
_TWICE = re.compile(rf"(?P<low>{NUMBER}) ?(?P<unit>{UNIT}|%) ?(?P<to>-|to|or|and) ?(?P<high>{NUMBER}) ?(?P=unit)")
_FINISHED = re.compile(
    r"\b(?:of |in |on )?(?:the |a )?(?:finished|final|ready[- ]to[- ]drink|as served|(?:total|end) "
    r"(?=drink|beverage|liquid|product|mix|batch|volume|weight|mass))\b ?"
)
_BRACKET = re.compile(rf"(?P<first>.*\S) ?\(=?(?P<again>{_RANGE} ?(?:%|‰|ppm|(?:{UNIT}) ?(?:per|/))[^()]*)\)$")
_NEGATIVE = re.compile(r"(?:^|[:(]|per|add|use) ?- ?\d")
_LIMIT = re.compile(
    r"\b(?:up to|max(?:imum)?|at most|no more than|not more than|less than|under|below|at least|min(?:imum)?|more than|"
    r"over|above)\b|[<≤>≥]|\d ?\+(?! ?\d)"
)
_SYSTEMS = {
    "imperial": r"\b(?:imperial|imp\.?|uk|u\.k\.|british)(?![a-z])",
    "us": r"\b(?:us|u\.s\.|american)(?![a-z])",
    "metric": r"\bmetric\b",
}
_BASES = {
    "by volume": r"\(?(?:v/v|vol/vol|by volume|vol\.?(?![a-z]))\)?",
    "mass by volume": r"\(?(?:w/v|m/v|wt/vol)\)?",
    "by mass": r"\(?(?:w/w|m/m|wt/wt|by (?:weight|mass)|wt\.?(?![a-z]))\)?",
}


@lru_cache(maxsize=4096)
def read_label(text: str, comma: bool | None = None) -> Written:
    """Read the words of a label direction.

    Parameters
    ----------
    text : str
    comma : bool or None
        Whether a comma is the decimal sign; None: nobody said.

    Raises
    ------
    QuantityError
        When the text is ambiguous or says no dose: what was understood, and what to write instead.

    Examples
    --------
    >>> read_label("Add 3 drops to 100 ml").words
    '3 drops per 100 ml'
    """
    return _Reader(text.strip(), comma).read()


def span(low: float, high: float) -> str:
    """Write a range, or one number where both ends are the same.

    Examples
    --------
    >>> span(1, 1.5), span(130.4348, 130.4348)
    ('1–1.5', '130.43')
    """
    ends = [f"{x:.5g}" if x >= 100 else f"{x:.4g}" for x in (low, high)]
    return ends[0] if low == high else "–".join(ends)


class _Reader:
    """Takes one text apart, and keeps what it had to assume."""

    def __init__(self, text: str, comma: bool | None) -> None:
        self.text, self.comma = text, comma
        self.notes: list[str] = []
        self.system: str | None = None
        self.finished = False

    def read(self) -> Written:
        if not self.text:
            raise QuantityError("the label direction is empty", EXAMPLES)
        plain = self._set_aside(plain_numbers(self.text, self.comma))
        bracket = _BRACKET.match(plain)
        plain = bracket["first"] if bracket else plain
        found = self._share(plain) or self._ratio(plain) or self._per(plain)
        if found is None:
            self._refuse(plain)
        said = replace(found, finished=self.finished, system=self.system, notes=tuple(self.notes))
        if bracket:
            beside = _Reader(bracket["again"], None).read()
            return replace(said, beside=replace(beside, finished=beside.finished or self.finished))
        return said

    def _set_aside(self, plain: str) -> str:
        """Take out what stands around the numbers; refuse what is no direction."""
        if _NEGATIVE.search(plain):
            raise QuantityError(f"{shown(self.text)}: a dose cannot be negative", EXAMPLES)
        if found := _LIMIT.search(plain):
            raise QuantityError(
                f"{shown(self.text)}: understood a limit ({found[0]}), not a direction",
                "write a range such as 2-5 g/kg; a maximum belongs in max_dose_g_per_kg",
            )
        for system, pattern in _SYSTEMS.items():
            plain, n = re.subn(rf"\(?{pattern}\)? ?", "", plain)
            if n and self.system is not None:
                raise QuantityError(
                    f"{shown(self.text)} names two systems of measures", "name one: US, imperial or metric"
                )
            self.system = system if n else self.system
        plain = _TWICE.sub(r"\g<low> \g<to> \g<high> \g<unit>", plain)
        plain, n = _FINISHED.subn("", plain)
        self.finished = n > 0
        plain = re.sub(rf"^an? (?={UNIT})", "1 ", _BEFORE.sub("", plain)).strip(" ;").rstrip(" .;")
        if turned := _AROUND.match(plain):
            return f"{turned['added']} per {turned['drink']}"
        return plain

    def _share(self, plain: str) -> Written | None:
        found = _SHARE.match(plain)
        if not found:
            return None
        ends = self._ends(found, "added")
        unit, size = "%", Fraction(10)
        if found["unit"] in ("ppm", "parts per million"):
            unit, size = "ppm", Fraction(1, 1000)
        elif found["unit"].startswith(("‰", "per mil")):
            unit, size = "‰", Fraction(1)
        tail = f"{found['basis'] or ''} {found['tail'].strip()}"
        return self._parts(ends, size, (1.0, 1.0), Fraction(1000), f"{span(*ends)} {unit}", tail, plain)

    def _ratio(self, plain: str) -> Written | None:
        found = _RATIO.match(plain)
        if not found or (found["sign"] in ("to", "per") and "part" not in plain):
            return None
        part, whole = float(found["part"]), float(found["whole"])
        if part <= 0 or whole <= 0:
            raise QuantityError(f"{shown(self.text)}: a part of 0 gives no dose", "write for example 1:1000")
        self.finished = self.finished or found["sign"] == "in"
        words, one = f"{part:g} part to {whole:g} parts", Fraction(1)
        return self._parts((part, part), one, (whole, whole), one, words, found["tail"].strip(), plain)

    def _parts(
        self, ends: _Ends, size: Fraction, drink: _Ends, drink_size: Fraction, words: str, tail: str, plain: str
    ) -> Written:
        """Count by mass, by volume, or a mass in a volume, as the tail says."""
        basis = next((name for name, pattern in _BASES.items() if re.search(pattern, tail)), None)
        if basis is None:
            self.notes.append("by mass: the label does not say")
            basis = "by mass"
        self._check_tail(re.sub(_BASES[basis], "", tail), plain)
        kinds = {"by mass": ("g", "g"), "by volume": ("ml", "ml"), "mass by volume": ("g", "ml")}[basis]
        added, per = Measured(*ends, Unit(kinds[0], size)), Measured(*drink, Unit(kinds[1], drink_size))
        return Written(text=self.text, words=f"{words} {basis}", added=added, drink=per)

    def _per(self, plain: str) -> Written | None:
        found = _DIRECTION.match(plain)
        if not found:
            return None
        ends, unit = self._ends(found, "added"), found["unit"]
        if found["own"]:
            self.notes.append(f"the label's own measure in brackets is used instead of {span(*ends)} {unit}")
            ends, unit = self._ends(found, "own"), found["own_unit"]
        drink, drink_unit = self._ends(found, "drink") if found["drink"] else (1.0, 1.0), found["drink_unit"]
        if found["size"]:
            drink, drink_unit = self._size(drink, drink_unit, self._ends(found, "size"), found["size_unit"])
        self._check_tail(found["tail"], plain)
        said = f"{span(*ends)} {unit}"
        if not re.fullmatch(UNIT, drink_unit):
            raise QuantityError(
                f"{shown(self.text)}: understood {said} per {drink_unit}, but not how large that is",
                f"write its size: {said} per 250 ml",
            )
        per = Measured(*drink, unit_of(drink_unit, self.system))
        if per.unit.kind == "drop":
            raise QuantityError(f"{shown(self.text)}: the drink is measured in drops", EXAMPLES)
        words = f"{said} per {'' if drink == (1.0, 1.0) else f'{span(*drink)} '}{drink_unit}"
        return Written(text=self.text, words=words, added=Measured(*ends, unit_of(unit, self.system)), drink=per)

    def _size(self, drink: _Ends, unit: str, bracket: _Ends, bracket_unit: str) -> tuple[_Ends, str]:
        """Choose between a size of drink and the one in brackets: the first, where it is a size and they agree."""
        if not re.fullmatch(UNIT, unit) or drink == (1.0, 1.0):
            return bracket, bracket_unit
        one, other = (fluid(unit_of(word, self.system), self.system) for word in (unit, bracket_unit))
        stated = math.sqrt(drink[0] * drink[1]) * one.size
        if one.kind != other.kind or not 0.9 < bracket[0] * other.size / stated < 1.1:
            raise QuantityError(f"{shown(self.text)} gives two sizes of drink", "give one, such as per 250 ml")
        self.notes.append(f"in brackets, about the same: {bracket[0]:g} {bracket_unit}")
        return drink, unit

    def _ends(self, found: re.Match[str], name: str) -> _Ends:
        both = found.groupdict()
        first, last = float(both[name]), float(both.get(f"{name}_to") or both[name])
        if not min(first, last) > 0:
            raise QuantityError(f"{shown(self.text)}: {min(first, last):g} is no dose", "write numbers above 0")
        if first > last:
            self.notes.append(f"{first:g}-{last:g} is read as {last:g}-{first:g}")
        return min(first, last), max(first, last)

    def _check_tail(self, tail: str, plain: str) -> None:
        tail = tail.strip(" .;,()")
        if _TAIL.match(tail):
            return
        if noun := re.fullmatch(r"(?:of|in|to) ((?:[a-z]+ ?){1,3})", tail):
            self.notes.append(f"{noun[1].strip()!r} is read as the drink")
            return
        self._refuse(plain, f"; {tail!r} was not understood")

    def _refuse(self, plain: str, why: str = "") -> NoReturn:
        text = shown(self.text)
        if found := re.fullmatch(rf"({_RANGE} ?{UNIT})(?: only| each)?", plain):
            raise QuantityError(
                f"{text}: understood {found[1]}, but not per how much drink", f"write for example {found[1]} per 100 ml"
            )
        odd = re.match(rf"{_RANGE} ?(?!{UNIT})(?P<what>[a-z]+) ?{_PER} ?(?P<drink>.*)$", plain)
        if odd and odd["what"] not in ("per", "in", "to", "of"):
            raise QuantityError(
                f"{text}: understood {odd['what']!r} per {odd['drink']}, but not how much one is",
                f"weigh or measure one, and write for example 5 g per {odd['drink']}",
            )
        if found := re.search(rf"{_RANGE} ?(?:%|{UNIT})", plain):
            raise QuantityError(f"{text}: understood {found[0].strip()!r} only{why}", EXAMPLES)
        raise QuantityError(f"{text}: no dose was understood{why}", EXAMPLES)
