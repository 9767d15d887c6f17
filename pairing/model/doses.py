"""Dose arithmetic: g/kg of finished drink, grams, drops, millilitres and percent for a cup of any size."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from pairing.errors import QuantityError
from pairing.model.flavouring import Flavouring
from pairing.quantities.drops import drop_mass

__all__ = ["dose_from_grams", "drops", "finished_g", "from_percent", "grams", "ml", "percent"]


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


def dose_from_grams(flavouring_g: float, finished_g: float) -> float:
    """Return g/kg from g of flavouring in finished_g of drink.

    Examples
    --------
    >>> dose_from_grams(60, 300)
    200.0
    """
    if not (math.isfinite(finished_g) and finished_g > 0):
        raise QuantityError(f"finished_g is {finished_g:g}, it must be above 0 g", "give the mass of the whole drink")
    if not 0 <= flavouring_g <= finished_g:
        raise QuantityError(
            f"{flavouring_g:g} g of flavouring in {finished_g:g} g of drink is impossible", "check both masses"
        )
    return 1000 * flavouring_g / finished_g


def drops(flavouring_g: float, flavouring: Flavouring | None = None) -> float:
    """Return how many drops weigh flavouring_g, by the bottle's drop mass or the default of its carrier.

    Examples
    --------
    >>> round(drops(0.5, Flavouring(flavouring_id="plum", name="Plum", drop_mg=36)), 1)
    13.9
    """
    return 1000 * flavouring_g / drop_mass(flavouring).mg


def ml(flavouring_g: float, flavouring: Flavouring | None = None) -> float:
    """Return the volume in ml, by the flavouring's density or 1.00 g/ml assumed.

    Examples
    --------
    >>> ml(2.0)
    2.0
    """
    density = flavouring.density_g_per_ml if flavouring is not None else None
    return flavouring_g / (1.0 if density is None else density)


def percent(dose_g_per_kg: float) -> float:
    """Return a dose as % by mass of the finished drink.

    Examples
    --------
    >>> percent(5.0)
    0.5
    """
    return dose_g_per_kg / 10


def from_percent(percent: float) -> float:
    """Return g/kg from % by mass of the finished drink.

    Examples
    --------
    >>> from_percent(0.5)
    5.0
    """
    return percent * 10
