"""Reading label directions: one class that takes a text apart and keeps what it had to assume."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import NoReturn

from pairing.errors import QuantityError
from pairing.quantities.bottle import Bottle, Drink
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML, MAX_DOSE_G_PER_KG
from pairing.quantities.drops import drop_mass, is_liquid
from pairing.quantities.measures import NUMBER, UNIT, measure, plain_numbers

__all__ = ["Direction", "DirectionReader"]

_EXAMPLES = "write for example 3 drops per 100 ml, 5 ml per litre, 0.5 %, or 5 g/kg"

_RANGE = rf"({NUMBER})(?: ?(?:-|to|or|and) ?({NUMBER}))?"
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
    rf"^(?:{_PER} ?)?(?:each |every |one |1 )?({_RANGE} ?{UNIT}|{UNIT}) ?(?:{_NOUNS})? ?[:,;]? ?"
    r"(?:(?:use|add|take|mix) )?"
)
_TAIL = re.compile(
    r"(?:(?:of|to|in|into|on|for) )?(?:the |your |each |any |plain |unflavou?red )*"
    rf"(?:{_NOUNS})?(?: (?:to taste|as drunk))?$"
)
_SHARE = re.compile(
    rf"{_RANGE} ?((?:wt|vol|w/w|v/v|w/v)\.? ?%|%|percent|per cent|pct|‰|per mille?|ppm|parts per million)"
    r"(?![%\w])(.*)$"
)
_FINISHED = re.compile(
    r"\b(?:of |in |on )?(?:the |a )?(?:finished|final|ready[- ]to[- ]drink|as served|(?:total|end) "
    r"(?=drink|beverage|liquid|product|mix|batch|volume|weight|mass))\b ?"
)
_BRACKET = re.compile(rf"(.*\S) ?\(=?((?:{_RANGE}) ?(?:%|‰|ppm|(?:{UNIT}) ?(?:per|/))[^()]*)\)$")
_LIMIT = re.compile(r"\b(?:up to|max(?:imum)?|at most|no more than|not more than|less than|under|below)\b|[<≤]")
_FLOOR = re.compile(r"\b(?:at least|min(?:imum)?|more than|over|above)\b|[>≥]|\d ?\+(?! ?\d)")


@dataclass(frozen=True, kw_only=True)
class Direction:
    """A label direction as a range of doses.

    Attributes
    ----------
    low, high : float
        g of flavouring per kg of finished drink; equal when the label gives one number.
    as_written : str
    understood : str
        What was read, in plain words.
    assumptions : tuple of str
        Whatever the label did not say.
    finished : bool
        The label counts per finished drink, not per drink before addition.

    Examples
    --------
    >>> from pairing.quantities.amounts import parse_direction
    >>> d = parse_direction("0.5–1 %")
    >>> round(d.low, 3), round(d.high, 3), round(d.mid, 3)
    (4.975, 9.901, 7.018)
    """

    low: float
    high: float
    as_written: str
    understood: str
    assumptions: tuple[str, ...] = ()
    finished: bool = False

    @property
    def mid(self) -> float:
        """Geometric middle of the range, g/kg."""
        return math.sqrt(self.low * self.high)


class DirectionReader:
    """Reads one direction; keeps what it had to assume."""

    def __init__(self, text: str, flavouring: Bottle | None, base: Drink | None) -> None:
        self.text, self.flavouring, self.base = text.strip(), flavouring, base
        self.assumed: list[str] = []
        self.system: str | None = None
        self.finished = False

    def read(self) -> Direction:
        """Return the direction, or refuse it."""
        if not self.text:
            raise QuantityError("the label direction is empty", _EXAMPLES)
        plain = self._set_aside(plain_numbers(self.text))
        beside = _BRACKET.match(plain)
        if beside:
            plain = beside[1]
        for reading in (self._share, self._ratio, self._per):
            found = reading(plain)
            if found is not None:
                direction = self._direction(*found)
                return self._agreeing(direction, beside[2]) if beside else direction
        self._refuse(plain)

    def _agreeing(self, direction: Direction, beside: str) -> Direction:
        other = DirectionReader(beside, self.flavouring, self.base).read()
        if not 0.8 < other.mid / direction.mid < 1.25:
            raise QuantityError(
                f"{self.text!r} says two things: {direction.understood}, and {other.understood}",
                "keep the one that holds",
            )
        return replace(direction, assumptions=(*direction.assumptions, f"in brackets, about the same: {beside}"))

    def _set_aside(self, plain: str) -> str:
        if re.search(r"(?:^|[:(]|per|add|use) ?- ?\d", plain):
            raise QuantityError(f"{self.text!r}: a dose cannot be negative", _EXAMPLES)
        if (found := _LIMIT.search(plain)) or (found := _FLOOR.search(plain)):
            raise QuantityError(
                f"{self.text!r}: understood a limit ({found[0]}), not a direction",
                "write a range such as 2-5 g/kg; a maximum belongs in max_dose_g_per_kg",
            )
        for pattern, system in (
            (r"\b(?:imperial|imp\.?|uk|u\.k\.|british)(?![a-z])", "imperial"),
            (r"\b(?:us|u\.s\.|american)(?![a-z])", "us"),
            (r"\bmetric\b", "metric"),
        ):
            plain, n = re.subn(rf"\(?{pattern}\)? ?", "", plain)
            if n and self.system not in (None, system):
                raise QuantityError(f"{self.text!r} names two systems of measures", "name one: US, imperial or metric")
            self.system = system if n else self.system
        plain = re.sub(rf"({NUMBER}) ?({UNIT}|%) ?(-|to|or|and) ?({NUMBER}) ?\2", r"\1 \3 \4 \2", plain)
        plain, n = _FINISHED.subn("", plain)
        self.finished = n > 0
        return re.sub(rf"^an? (?={UNIT})", "1 ", _BEFORE.sub("", plain)).strip(" .;")

    def _share(self, plain: str) -> tuple[float, float, str] | None:
        found = _SHARE.match(plain)
        if not found:
            return None
        low, high = self._ends(found[1], found[2])
        unit, tail = found[3], found[4].strip()
        if unit.endswith("%") and len(unit) > 1:
            unit, tail = "%", f"{unit[:-1]} {tail}"
        grams = {"ppm": 0.001, "parts per million": 0.001}.get(unit, 1.0 if unit.startswith(("‰", "per mil")) else 10.0)
        basis, tail = self._basis(tail)
        self._check_tail(tail, plain)
        factor = self._basis_factor(basis)
        name = "ppm" if grams < 0.01 else "‰" if grams == 1.0 else "%"
        return low * grams * factor, high * grams * factor, f"{_span(low, high)} {name} {basis}"

    def _basis(self, tail: str) -> tuple[str, str]:
        for pattern, basis in (
            (r"\(?(?:v/v|vol/vol|by volume|vol\.?(?![a-z]))\)?", "by volume"),
            (r"\(?(?:w/v|m/v|wt/vol)\)?", "mass by volume"),
            (r"\(?(?:w/w|m/m|wt/wt|by (?:weight|mass)|wt\.?(?![a-z]))\)?", "by mass"),
        ):
            cut, n = re.subn(pattern, "", tail)
            if n:
                return basis, cut.strip()
        self.assumed.append("by mass: the label does not say")
        return "by mass", tail

    def _basis_factor(self, basis: str) -> float:
        if basis == "by mass":
            return 1.0
        if basis == "by volume":
            return self._flavouring_density() / self._drink_density(other_is_volume=True)
        return 1.0 / self._drink_density(other_is_volume=False)

    def _ratio(self, plain: str) -> tuple[float, float, str] | None:
        number = rf"({NUMBER})"
        parts = r"(?:parts?(?: (?:of )?(?!to\b|in\b|per\b)[a-z]+)? ?)?"
        found = re.match(rf"{number} ?{parts}(:|\+|to|in|per) ?{number}(?: parts?)?(?![\d.])(.*)$", plain)
        if not found or re.match(rf" ?(?:{UNIT}|%)", found[4]) or (found[2] in ("to", "per") and "part" not in plain):
            return None
        part, whole = float(found[1]), float(found[3])
        if part <= 0 or whole <= 0:
            raise QuantityError(f"{self.text!r}: a part of 0 gives no dose", "write for example 1:1000")
        self.finished = self.finished or found[2] == "in"
        basis, tail = self._basis(found[4].strip())
        self._check_tail(tail, plain)
        grams = 1000 * part / whole * self._basis_factor(basis)
        return grams, grams, f"{part:g} part to {whole:g} parts {basis}"

    def _per(self, plain: str) -> tuple[float, float, str] | None:
        plain = self._turned(plain)
        found = re.match(
            rf"{_RANGE} ?({UNIT}|[a-z]+(?= ?\())(?: ?\(=? ?{_RANGE} ?({UNIT})\))?(?: of [a-z ]+?)? ?(?:{_PER}|:) ?"
            rf"(?:each |every |a |an )?(?:{_RANGE})? ?({UNIT}|[a-z]+)(?: ?\(=? ?({NUMBER}) ?({UNIT})\))?(.*)$",
            plain,
        )
        if not found:
            return None
        low, high = self._ends(found[1], found[2])
        unit, drink_unit = found[3], found[9]
        if found[6]:
            self.assumed.append(f"the label's own measure in brackets is used instead of {_span(low, high)} {unit}")
            (low, high), unit = self._ends(found[4], found[5]), found[6]
        amount = self._ends(found[7] or "1", found[8])
        if found[11]:
            amount, drink_unit = self._size(amount, drink_unit, float(found[10]), found[11])
        self._check_tail(found[12].strip(), plain)
        return self._grams_per_kg(low, high, unit, amount, drink_unit)

    def _size(
        self, amount: tuple[float, float], unit: str, bracket: float, bracket_unit: str
    ) -> tuple[tuple[float, float], str]:
        """Choose between a size of drink and the one in brackets: the first, where it is a size and they agree."""
        if not re.fullmatch(UNIT, unit) or amount == (1.0, 1.0):
            return self._ends(str(bracket), None), bracket_unit
        one, other = (measure(u, self.system, fluid=True) for u in (unit, bracket_unit))
        stated = math.sqrt(amount[0] * amount[1]) * one.size
        if one.kind != other.kind or not 0.9 < bracket * other.size / stated < 1.1:
            raise QuantityError(f"{self.text!r} gives two sizes of drink", "give one, such as per 250 ml")
        self.assumed.append(f"in brackets, about the same: {bracket:g} {bracket_unit}")
        return amount, unit

    def _turned(self, plain: str) -> str:
        """Put ``per 100 ml: 3 drops`` the usual way round."""
        found = _AROUND.match(plain)
        if found and found.end() < len(plain) and re.match(rf"{_PER}\b|/", plain):
            rest = plain[found.end() :].strip()
            if re.match(rf"{_RANGE} ?{UNIT}$", rest):
                return f"{rest} per {found[1]}"
        return plain

    def _grams_per_kg(
        self, low: float, high: float, unit: str, amount: tuple[float, float], drink_unit: str
    ) -> tuple[float, float, str]:
        if not re.fullmatch(UNIT, drink_unit):
            raise QuantityError(
                f"{self.text!r}: understood {_span(low, high)} {unit} per {drink_unit}, but not how large that is",
                f"write its size: {_span(low, high)} {unit} per 250 ml",
            )
        drink = measure(drink_unit, self.system)
        if drink.kind == "drop":
            raise QuantityError(f"{self.text!r}: the drink is measured in drops", _EXAMPLES)
        added = measure(unit, self.system)
        if added.kind == "oz":
            added = measure(unit, self.system, fluid=self._ounce_is_fluid(drink.kind))
        if drink.kind == "oz":
            drink = measure(drink_unit, self.system, fluid=True)
            self.assumed.append("oz of drink: fluid ounces")
        self.assumed += dict.fromkeys(m.note for m in (added, drink) if m.note)
        grams = added.size * self._grams_per(added.kind)
        kilos = drink.size / 1000
        if drink.kind == "ml":
            kilos *= self._drink_density(other_is_volume=added.kind == "ml")
        size = "" if amount == (1.0, 1.0) else f"{_span(*amount)} "
        words = f"{_span(low, high)} {unit} per {size}{drink_unit}"
        return low * grams / (amount[1] * kilos), high * grams / (amount[0] * kilos), words

    def _grams_per(self, kind: str) -> float:
        if kind == "g":
            return 1.0
        if kind == "ml":
            return self._flavouring_density()
        drop = drop_mass(self.flavouring)
        self.assumed.append(f"a drop is {drop.mg:g} mg ({drop.low:.0f}–{drop.high:.0f}), {drop.source}")
        if is_liquid(self.flavouring) is False:
            self.assumed.append("a powder or paste does not come in drops: check the label")
        return drop.mg / 1000

    def _ounce_is_fluid(self, drink_kind: str) -> bool:
        liquid = is_liquid(self.flavouring)
        fluid = liquid if liquid is not None else drink_kind != "g"
        why = "it is liquid" if liquid else "it is not liquid" if liquid is False else "its form is not known"
        self.assumed.append(f"oz of the flavouring: {'fluid ounces' if fluid else 'ounces by mass'}, as {why}")
        return fluid

    def _flavouring_density(self) -> float:
        known = self.flavouring.density_g_per_ml if self.flavouring is not None else None
        if known is not None:
            return known
        self.assumed.append("the flavouring's density: 1.00 g/ml assumed")
        if is_liquid(self.flavouring) is False:
            self.assumed.append("a spoon of powder may weigh half of that: weigh one")
        return 1.0

    def _drink_density(self, other_is_volume: bool) -> float:
        if self.base is not None and self.base.density_g_per_ml is not None:
            return self.base.density_g_per_ml
        if other_is_volume and (self.flavouring is None or self.flavouring.density_g_per_ml is None):
            self.assumed.append("the drink's density: 1.00 g/ml assumed, as only volumes are known on both sides")
            return 1.0
        self.assumed.append(f"the drink's density: {DEFAULT_DENSITY_G_PER_ML:g} g/ml assumed")
        return DEFAULT_DENSITY_G_PER_ML

    def _ends(self, low: str, high: str | None) -> tuple[float, float]:
        first, last = float(low), float(high if high is not None else low)
        if not 0 < min(first, last) < math.inf:
            raise QuantityError(f"{self.text!r}: {min(first, last):g} is no dose", "write numbers above 0")
        if first > last:
            self.assumed.append(f"{first:g}-{last:g} is read as {last:g}-{first:g}")
        return min(first, last), max(first, last)

    def _check_tail(self, tail: str, plain: str) -> None:
        tail = tail.strip(" .;,()")
        if _TAIL.match(tail):
            return
        if noun := re.fullmatch(r"(?:of|in|to) ((?:[a-z]+ ?){1,3})", tail):
            self.assumed.append(f"{noun[1].strip()!r} is read as the drink")
            return
        self._refuse(plain, f"; {tail!r} was not understood")

    def _direction(self, low: float, high: float, words: str) -> Direction:
        if not self.finished:
            low, high = low / (1 + low / 1000), high / (1 + high / 1000)
        raw = high if self.finished else high / (1 - high / 1000)
        if raw > MAX_DOSE_G_PER_KG or not math.isfinite(raw):
            raise QuantityError(
                f"{self.text!r}: understood {raw:.6g} g per kg, at most {MAX_DOSE_G_PER_KG:g} is possible",
                "check the units; " + _EXAMPLES,
            )
        counted = "of finished drink" if self.finished else "of drink before addition"
        return Direction(
            low=low,
            high=high,
            as_written=self.text,
            understood=f"{words}, {counted}: {_span(low, high)} g/kg",
            assumptions=tuple(dict.fromkeys(self.assumed)),
            finished=self.finished,
        )

    def _refuse(self, plain: str, why: str = "") -> NoReturn:
        if found := re.fullmatch(rf"({_RANGE} ?({UNIT}))(?: only| each)?", plain):
            unit = found[1].strip()
            raise QuantityError(
                f"{self.text!r}: understood {unit}, but not per how much drink", f"write for example {unit} per 100 ml"
            )
        odd = re.match(rf"{_RANGE} ?(?!{UNIT})([a-z]+) ?{_PER} ?(.*)$", plain)
        if odd and odd[3] not in ("per", "in", "to", "of"):
            raise QuantityError(
                f"{self.text!r}: understood {odd[3]!r} per {odd[4]}, but not how much one is",
                f"weigh or measure one, and write for example 5 g per {odd[4]}",
            )
        if found := re.search(rf"{_RANGE} ?(?:%|{UNIT})", plain):
            raise QuantityError(f"{self.text!r}: understood {found[0].strip()!r} only{why}", _EXAMPLES)
        raise QuantityError(f"{self.text!r}: no dose was understood{why}", _EXAMPLES)


def _span(low: float, high: float) -> str:
    return f"{low:.4g}" if low == high else f"{low:.4g}–{high:.4g}"
