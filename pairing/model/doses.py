"""Dose arithmetic: g/kg of finished drink, grams and millilitres for a cup of any size."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from pairing.errors import QuantityError
from pairing.model.flavouring import Flavouring

__all__ = ["finished_g", "grams", "ml"]


def finished_g(base_g: float, doses: Mapping[str, float] | Iterable[float]) -> float:
    """Return the finished mass, base_g ÷ (1 − Σd/1000).

    Parameters
    ----------
    base_g : float
        Base poured, g.
    doses : mapping or iterable of float
        g/kg of finished drink.

    Raises
    ------
    QuantityError
        When a mass or dose is negative or not finite, or the doses leave no room for the base.

    Examples
    --------
    >>> finished_g(240, [200.0])
    300.0
    """
    values = doses.values() if isinstance(doses, Mapping) else list(doses)
    total = math.fsum(values)
    if not (math.isfinite(base_g) and base_g > 0):
        raise QuantityError(f"base_g is {base_g:g}, it must be above 0 g", "give the mass of base poured")
    if any(not d >= 0 for d in values) or not total < 1000:
        raise QuantityError(f"the doses add up to {total:g} g/kg, allowed is 0 to below 1000", "lower the doses")
    return base_g / (1 - total / 1000)


def grams(base_g: float, doses: Mapping[str, float]) -> dict[str, float]:
    """Return g of each flavouring to add to base_g of base.

    Examples
    --------
    >>> grams(240, {"syrup": 200.0})
    {'syrup': 60.0}
    """
    finished = finished_g(base_g, doses)
    return {name: finished * dose / 1000 for name, dose in doses.items()}


def ml(flavouring_g: float, flavouring: Flavouring | None = None) -> float:
    """Return the volume in ml, by the flavouring's density or 1.00 g/ml assumed.

    Examples
    --------
    >>> ml(2.0)
    2.0
    """
    density = flavouring.density_g_per_ml if flavouring is not None else None
    return flavouring_g / (1.0 if density is None else density)
