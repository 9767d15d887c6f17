"""Rounding as EU and US labels do it, and the claims that go with it."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

from pairing.errors import QuantityError
from pairing.nutrition.factors import check_jurisdiction

__all__ = ["round_label", "salt_g"]

_EU_GRAMS = ("fat", "carbohydrate", "sugars", "protein", "fibre", "polyols")
_US_GRAMS = ("carbohydrate", "sugars", "protein", "fibre", "polyols")


def salt_g(sodium_mg: float) -> float:
    """Return salt in g, sodium × 2.5 (Regulation (EU) 1169/2011, Annex I).

    Examples
    --------
    >>> salt_g(1000)
    2.5
    """
    return 2.5 * sodium_mg / 1000


def round_label(nutrient: str, amount: float, jurisdiction: str = "EU") -> str:
    """Return an amount as a label prints it.

    Parameters
    ----------
    nutrient : str
        ``kcal, kj, fat, saturates, carbohydrate, sugars, protein, fibre, polyols`` in kcal, kJ or g; ``salt`` in g
        (EU), ``sodium`` in mg (US).
    amount : float
        EU: per 100 g or 100 ml. US: per serving.
    jurisdiction : {"EU", "US"}

    Notes
    -----
    A tie goes up (neither text says). US energy below 5 kcal *may* be shown as 0: it is shown as 0 here.

    References
    ----------
    EU: Commission guidance on tolerances for nutrient values, December 2012. US: 21 CFR 101.9(c) and FDA Food
    Labeling Guide, Appendix H.

    Examples
    --------
    >>> round_label("kcal", 42.76), round_label("kcal", 47, "US"), round_label("fat", 0.4)
    ('43', '45', '<0.5')
    """
    check_jurisdiction(jurisdiction)
    if not (math.isfinite(amount) and amount >= 0):
        raise QuantityError(f"{nutrient} is {amount:g}, it must be 0 or more", "round a known amount")
    found = _eu(nutrient, amount) if jurisdiction == "EU" else _us(nutrient, amount)
    if found is None:
        raise QuantityError(f"{nutrient!r} is not rounded by {jurisdiction} rules", "use kcal, fat, sugars, protein, …")
    return found


def _to(amount: float, step: str) -> str:
    """Round half up on the decimal that a person would write, not on its binary neighbour."""
    exact, size = Decimal(repr(round(amount, 10))), Decimal(step)
    steps = (exact / size).to_integral_value(rounding=ROUND_HALF_UP)
    return format((steps * size).quantize(size) if "." in step else steps * size, "f")


def _eu(nutrient: str, amount: float) -> str | None:
    if nutrient in ("kcal", "kj"):
        return _to(amount, "1")
    if nutrient in _EU_GRAMS:
        return _graded(amount, 0.5, 10, "0.1", "1", "<0.5")
    if nutrient == "saturates":
        return _graded(amount, 0.1, 10, "0.1", "1", "<0.1")
    if nutrient == "salt":
        return _graded(amount, 0.0125, 1, "0.01", "0.1", "<0.01")
    return None


def _graded(amount: float, little: float, much: float, fine: str, coarse: str, below: str) -> str:
    if amount == 0:
        return "0"
    if amount <= little:
        return below
    return _to(amount, fine if amount < much else coarse)


def _us(nutrient: str, amount: float) -> str | None:
    if nutrient == "kj":
        return _to(amount, "1")
    if nutrient == "kcal":
        return "0" if amount < 5 else _to(amount, "5" if amount <= 50 else "10")
    if nutrient in ("fat", "saturates"):
        return "0" if amount < 0.5 else _plain(_to(amount, "0.5" if amount < 5 else "1"))
    if nutrient == "sodium":
        return "0" if amount < 5 else _to(amount, "5" if amount <= 140 else "10")
    if nutrient in _US_GRAMS:
        return "0" if amount < 0.5 else "less than 1" if amount < 1 else _to(amount, "1")
    return None


def _plain(text: str) -> str:
    return text.removesuffix(".0")
