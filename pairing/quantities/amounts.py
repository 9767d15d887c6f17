"""Amounts of a flavouring as people write them: ``11 drops``, ``3 ml``, ``½ tsp``."""

from __future__ import annotations

import re
from typing import NamedTuple

from pairing.errors import QuantityError
from pairing.quantities.bottle import Bottle
from pairing.quantities.drops import drop_mass
from pairing.quantities.numbers import NUMBER, plain_numbers, shown
from pairing.quantities.units import UNIT, Unit, bare_ounce, unit_of

__all__ = ["Amount", "amount_to_g", "assumed", "parse_amount"]

_AMOUNT = re.compile(rf"(?P<number>-?{NUMBER}) ?(?P<unit>{UNIT})")


class Amount(NamedTuple):
    """An amount of a flavouring: ``unit`` is ``drop``, ``ml`` or ``g``."""

    value: float
    unit: str


def parse_amount(text: str, comma: bool | None = None) -> Amount:
    """Read an amount of a flavouring: ``11 drops``, ``3 ml``, ``1,2 g``, ``½ tsp`` (US spoons and ounces in ml).

    Parameters
    ----------
    text : str
    comma : bool or None
        Whether a comma is the decimal sign; None: nobody said.

    Raises
    ------
    QuantityError
        When number or unit is missing, negative or unknown; a bare ounce may be a mass or a volume.

    Examples
    --------
    >>> parse_amount("11 drops"), parse_amount("1,2 g")
    (Amount(value=11.0, unit='drop'), Amount(value=1.2, unit='g'))
    """
    value, unit = _counted(text, comma)
    return Amount(float(value * unit.size), unit.kind)


def assumed(text: str) -> str:
    """Return what is assumed about the unit of an amount; empty when nothing is.

    Examples
    --------
    >>> assumed("1 dash"), assumed("3 ml")
    ('a dash is no standard measure: 0.62 ml assumed', '')
    """
    return _counted(text, None)[1].note


def _counted(text: str, comma: bool | None) -> tuple[float, Unit]:
    """Read an amount as a number of units."""
    found = _AMOUNT.fullmatch(plain_numbers(str(text), comma).rstrip(" ."))
    if not found:
        raise QuantityError(f"{shown(text)} is not an amount", "write a number and a unit: 11 drops, 3 ml or 1.2 g")
    value, unit = float(found["number"]), unit_of(found["unit"])
    if value < 0:
        raise QuantityError(f"{shown(text)} is negative", "an amount that is in a cup is 0 or more: write what went in")
    if unit.kind == "oz":
        raise bare_ounce(text, value)
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
