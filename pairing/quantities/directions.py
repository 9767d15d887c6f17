"""Label directions as doses: what a label says, with this bottle in this drink, in g/kg of finished drink."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from pairing.errors import QuantityError
from pairing.quantities.bottle import Bottle, Drink
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML, MAX_DOSE_G_PER_KG
from pairing.quantities.drops import drop_mass, is_liquid
from pairing.quantities.labels import EXAMPLES, Written, read_label, span
from pairing.quantities.numbers import shown
from pairing.quantities.units import OUNCE, Unit, fluid

__all__ = ["Direction", "label_dose", "label_doses", "parse_direction"]


@dataclass(frozen=True, kw_only=True)
class Direction:
    """A label direction as a range of doses.

    Attributes
    ----------
    low, high : float
        g of flavouring per kg of finished drink; equal when the label gives one number.
    as_written : str
    understood : str
        What was read, per what it counts, and the dose that this is, in plain words.
    assumptions : tuple of str
        Whatever the label did not say; first which ounce was taken.
    finished : bool
        The label counts per finished drink, not per drink before addition.
    doubtful : bool
        Nobody said which ounce of the flavouring is meant: the first of the assumptions says what the other would be.

    by_drops : bool
        The flavouring is counted in drops.

    Examples
    --------
    >>> from pairing.units import parse_direction
    >>> d = parse_direction("0.5–1 %")
    >>> round(d.low, 3), round(d.high, 3), round(d.mid, 3)
    (4.975, 9.901, 7.018)
    >>> parse_direction("150 g/kg").understood
    '150 g per kg of base = 130.43 g/kg finished'
    """

    low: float
    high: float
    as_written: str
    understood: str
    assumptions: tuple[str, ...] = ()
    finished: bool = False
    doubtful: bool = False
    by_drops: bool = False

    @property
    def mid(self) -> float:
        """Geometric middle of the range, g/kg."""
        return math.sqrt(self.low * self.high)

    @property
    def in_short(self) -> str:
        """What was understood, and which ounce it may be instead."""
        return "; ".join((self.understood, *self.assumptions[: int(self.doubtful)]))

    def __str__(self) -> str:
        """Say what was understood, and all that was assumed."""
        return "; ".join((self.understood, *self.assumptions))


def label_dose(flavouring: Bottle, base: Drink | None = None) -> Direction | None:
    """Return a flavouring's label direction, from ``label_dose_g_per_kg`` or else its text; None when it has neither.

    ``label_dose_g_per_kg`` is already per kg of finished drink.
    """
    grams = flavouring.label_dose_g_per_kg
    if grams is not None and grams > 0:
        written = flavouring.label_dose or f"{grams:g} g/kg"
        understood = f"{grams:g} g/kg finished"
        return Direction(low=grams, high=grams, as_written=written, understood=understood, finished=True)
    return None if not flavouring.label_dose else parse_direction(flavouring.label_dose, flavouring, base)


def label_doses(flavouring: Bottle, bases: Iterable[Drink]) -> list[Direction | None]:
    """Return a flavouring's label direction in each base: a label per volume is a dose by the base's density."""
    known: dict[float | None, Direction | None] = {}
    out = []
    for base in bases:
        if base.density_g_per_ml not in known:
            known[base.density_g_per_ml] = label_dose(flavouring, base)
        out.append(known[base.density_g_per_ml])
    return out


def parse_direction(
    text: str, flavouring: Bottle | None = None, base: Drink | None = None, comma: bool | None = None
) -> Direction:
    """Read a label direction.

    A direction counts per drink before addition unless it says *finished*: r g per kg of base is r ÷ (1 + r/1000)
    g/kg of finished drink. Volumes of drink use the base's density, else 1.03 g/ml; where neither side has a
    density, volumes are compared as they are (1.00 g/ml on both). A bare ounce of drink, or of what is liquid, is a
    fluid ounce, else a mass: the first of the assumptions says so, and what the other ounce would change.

    Parameters
    ----------
    text : str
        As written: ``3 drops per 100 ml``, ``2 fl oz per 5 gal``, ``0,5–1 %``, ``1:1000``, ``500 ppm``.
    flavouring : Bottle, optional
        Its form, density and drop mass.
    base : Drink, optional
        Its density.
    comma : bool or None
        Whether a comma is the decimal sign; None: nobody said.

    Returns
    -------
    Direction

    Raises
    ------
    QuantityError
        When the text is ambiguous or impossible: what was understood, and what to write instead.

    Examples
    --------
    >>> d = parse_direction("1 oz per gallon")
    >>> round(d.mid, 2), d.assumptions[0]
    (7.75, 'oz of the flavouring: fluid ounces, as its form is not known; by mass the dose is −7 %: write fl oz or g')
    >>> parse_direction("3 drops per 100 ml").assumptions[0]
    'a drop is 35 mg (12–66), uncalibrated, carrier unknown'
    """
    written = read_label(str(text), comma)
    direction = _dose(written, flavouring, base)
    if written.beside is None:
        return direction
    other = _dose(written.beside, flavouring, base)
    if not 0.8 < other.mid / direction.mid < 1.25:
        raise QuantityError(
            f"{shown(written.text)} says two things: {direction.understood}, and {other.understood}",
            "keep the one that holds",
        )
    again = f"in brackets, about the same: {written.beside.text}"
    return replace(direction, assumptions=(*direction.assumptions, again))


def _dose(written: Written, bottle: Bottle | None, base: Drink | None) -> Direction:
    """Return what the words come to with this bottle in this drink."""
    added, drink, notes = written.added.unit, written.drink.unit, list(written.notes)
    by_volume = fluid(drink, written.system)
    either = added.kind == "oz"
    if either:
        liquid = is_liquid(bottle)
        units = OUNCE, fluid(added, written.system)
        as_fluid = liquid if liquid is not None else drink.kind != "g"
        added, other = units[as_fluid], units[not as_fluid]
        why = "it is liquid" if liquid else "its form is not known" if liquid is None else "it is not liquid"
        said, else_ = ("fluid ounces", "by mass") if as_fluid else ("ounces by mass", "as fluid ounces")
        change = _change(_g_per_kg(other, by_volume, bottle, base)[0] / _g_per_kg(added, by_volume, bottle, base)[0])
        notes.insert(0, f"oz of the flavouring: {said}, as {why}; {else_} the dose is {change}: write fl oz or g")
    per_kg, assumed = _g_per_kg(added, by_volume, bottle, base)
    if drink.kind == "oz":
        change = _change(_g_per_kg(added, OUNCE, bottle, base)[0] / per_kg)
        notes.insert(int(either), f"oz of drink: fluid ounces; by mass the dose is {change}: write fl oz or g")
    low, high = written.added.low * per_kg / written.drink.high, written.added.high * per_kg / written.drink.low
    if not high <= MAX_DOSE_G_PER_KG:
        raise QuantityError(
            f"{shown(written.text)}: understood {high:.6g} g per kg, at most {MAX_DOSE_G_PER_KG:g} is possible",
            f"check the units; {EXAMPLES}",
        )
    if not written.finished:
        low, high = low / (1 + low / 1000), high / (1 + high / 1000)
    counted = "finished drink" if written.finished else "base"
    return Direction(
        low=low,
        high=high,
        as_written=written.text,
        understood=f"{written.words} of {counted} = {span(low, high)} g/kg finished",
        assumptions=tuple(dict.fromkeys((*notes, *assumed))),
        finished=written.finished,
        doubtful=either,
        by_drops=added.kind == "drop",
    )


def _change(times: float) -> str:
    return f"{100 * (times - 1):+.0f} %".replace("-", "−")


def _g_per_kg(added: Unit, drink: Unit, bottle: Bottle | None, base: Drink | None) -> tuple[float, list[str]]:
    """Return g per kg of one unit of flavouring per unit of drink, and what was assumed for it."""
    notes = [unit.note for unit in (added, drink) if unit.note]
    ratio = 1000 * float(added.size) / float(drink.size)
    known = None if bottle is None else bottle.density_g_per_ml
    if added.kind == "drop":
        drop = drop_mass(bottle)
        ratio *= drop.mg / 1000
        notes.append(f"a drop is {drop.mg:g} mg ({drop.low:.0f}–{drop.high:.0f}), {drop.source}")
        if is_liquid(bottle) is False:
            notes.append("a powder or paste does not come in drops: check the label")
    elif added.kind == "ml" and known is not None:
        ratio *= known
    elif added.kind == "ml":
        notes.append("the flavouring's density: 1.00 g/ml assumed")
        if is_liquid(bottle) is False:
            notes.append("a spoon of powder may weigh half of that: weigh one")
    if drink.kind != "ml":
        return ratio, notes
    if base is not None and base.density_g_per_ml is not None:
        return ratio / base.density_g_per_ml, notes
    if added.kind == "ml" and known is None:
        return ratio, [*notes, "the drink's density: 1.00 g/ml assumed, as only volumes are known on both sides"]
    return ratio / DEFAULT_DENSITY_G_PER_ML, [*notes, f"the drink's density: {DEFAULT_DENSITY_G_PER_ML:g} g/ml assumed"]
