"""Quantities: amounts and label directions as people write them, in g/kg of finished drink."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from pairing.errors import QuantityError
from pairing.quantities.bottle import Bottle, Drink
from pairing.quantities.directions import Direction, DirectionReader
from pairing.quantities.drops import Calibration, DropMass, calibrate, drop_mass
from pairing.quantities.measures import NUMBER, UNIT, Measure, measure, plain_numbers

__all__ = [
    "Amount",
    "Calibration",
    "Direction",
    "DropMass",
    "amount_to_g",
    "assumed",
    "calibrate",
    "drop_mass",
    "label_dose",
    "parse_amount",
    "parse_direction",
]


class Amount(NamedTuple):
    """An amount of a flavouring: ``unit`` is ``drop``, ``ml`` or ``g``."""

    value: float
    unit: str


def label_dose(flavouring: Bottle, base: Drink | None = None) -> Direction | None:
    """Return a flavouring's label direction, from ``label_dose_g_per_kg`` or else its text; None when it has neither.

    ``label_dose_g_per_kg`` is already per kg of finished drink.
    """
    grams = flavouring.label_dose_g_per_kg
    if grams is not None and grams > 0:
        written = flavouring.label_dose or f"{grams:g} g/kg"
        return Direction(
            low=grams, high=grams, as_written=written, understood=f"{grams:g} g per kg of finished drink", finished=True
        )
    return None if not flavouring.label_dose else parse_direction(flavouring.label_dose, flavouring, base)


def parse_direction(text: str, flavouring: Bottle | None = None, base: Drink | None = None) -> Direction:
    """Read a label direction.

    A direction counts per drink before addition unless it says *finished*: r g per kg of base is r ÷ (1 + r/1000)
    g/kg of finished drink. Volumes of drink use the base's density, else 1.03 g/ml; where neither side has a
    density, volumes are compared as they are (1.00 g/ml on both).

    Parameters
    ----------
    text : str
        As written: ``3 drops per 100 ml``, ``2 fl oz per 5 gal``, ``0,5–1 %``, ``1:1000``, ``500 ppm``.
    flavouring : Flavouring, optional
        Its form, density and drop mass.
    base : Base, optional
        Its density.

    Returns
    -------
    Direction

    Raises
    ------
    QuantityError
        When the text is ambiguous or impossible: what was understood, and what to write instead.

    Examples
    --------
    >>> round(parse_direction("1 oz per gallon").mid, 2)
    7.75
    >>> parse_direction("3 drops per 100 ml").assumptions[0]
    'a drop is 35 mg (12–66), uncalibrated, carrier unknown'
    """
    return DirectionReader(str(text), flavouring, base).read()


def parse_amount(text: str) -> Amount:
    """Read an amount of a flavouring: ``11 drops``, ``3 ml``, ``1,2 g``, ``½ tsp`` (US spoons and ounces in ml).

    Raises
    ------
    QuantityError
        When number or unit is missing, negative or unknown.

    Examples
    --------
    >>> parse_amount("11 drops"), parse_amount("1,2 g")
    (Amount(value=11.0, unit='drop'), Amount(value=1.2, unit='g'))
    """
    value, unit = _counted(text)
    return Amount(value * unit.size, unit.kind)


def assumed(text: str) -> str:
    """Return what is assumed about the unit of an amount; empty when nothing is.

    Examples
    --------
    >>> assumed("1 dash"), assumed("3 ml")
    ('a dash is no standard measure: 0.62 ml assumed', '')
    """
    return _counted(text)[1].note


def _counted(text: str) -> tuple[float, Measure]:
    """Read an amount as a number of measures."""
    plain = plain_numbers(str(text)).strip(" .")
    found = re.fullmatch(rf"(-?{NUMBER}) ?({UNIT})", plain)
    if not found:
        raise QuantityError(f"{text!r} is not an amount", "write a number and a unit: 11 drops, 3 ml or 1.2 g")
    value = float(found[1])
    if value < 0 or not math.isfinite(value):
        raise QuantityError(f"{text!r} is negative", "an amount that is in a cup is 0 or more: write what went in")
    unit = measure(found[2])
    if unit.kind == "oz":
        raise QuantityError(f"{text!r} may be a mass or a volume", "write fl oz, or g")
    return value, unit


def amount_to_g(amount: Amount, flavouring: Bottle | None = None) -> float:
    """Return an amount in g, by the bottle's drop mass (default by carrier) and density (else 1.00 g/ml).

    Examples
    --------
    >>> amount_to_g(Amount(3.0, "ml"))
    3.0
    """
    if amount.unit == "g":
        return amount.value
    if amount.unit == "drop":
        return amount.value * drop_mass(flavouring).mg / 1000
    if amount.unit == "ml":
        density = flavouring.density_g_per_ml if flavouring is not None else None
        return amount.value * (1.0 if density is None else density)
    raise QuantityError(f"unit {amount.unit!r} is not known", "use drop, ml or g")
