"""How far a dose may go in a cup before a caution stops it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.caution import Caution
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.safety.cautions import cautions
from pairing.safety.people import people_of
from pairing.safety.stops import stops
from pairing.safety.swallowed import swallowed_mg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pairing.api import RuleLike
    from pairing.model.shelf import Shelf
    from pairing.model.taster import Taster

__all__ = ["headroom"]

_LEAST_G_PER_KG, _MOST_G_PER_KG = 1e-4, 990.0
_MAXIMUM = "dose"
"""The supplier's maximum is not asked here: a ladder has its own words for that."""
_COARSE, _FINE = 160, 120
"""Doses tried at first, and between the last that is not stopped and the first that is."""


def headroom(
    recipe: Recipe,
    flavouring_id: str,
    shelf: Shelf,
    tasters: Sequence[str | Taster] = (),
    *,
    base_g: float,
    rules: Sequence[RuleLike] = (),
    already: Mapping[str, Any] | None = None,
) -> tuple[float, Caution | None]:
    """Return the highest dose of one flavouring in a cup that no caution stops, and the caution that stops more.

    The supplier's maximum is left aside, see `pairing.nutrition.maximum`.

    Parameters
    ----------
    recipe : Recipe
        What else is in the cup, numeric doses; a dose of the flavouring itself is passed over.
    flavouring_id : str
    shelf : Shelf
    tasters : sequence of str or Taster
    base_g : float
        g of base in the cup.
    rules, already
        As of `pairing.cautions`.

    Returns
    -------
    g_per_kg : float
        Infinite when nothing stops it; 0 when the cup is stopped as it is.
    caution : Caution or None

    Examples
    --------
    >>> from pairing.model.base import Base
    >>> from pairing.model.flavouring import Flavouring
    >>> from pairing.model.shelf import Shelf
    >>> tea = Flavouring(flavouring_id="tea", name="Tea", caffeine_mg_per_g=20, food_use="yes")
    >>> most, why = headroom(Recipe("oat"), "tea", Shelf.of([Base(base_id="oat", name="Oat")], [tea]), base_g=250)
    >>> round(most), why.kind
    (38, 'intake')
    """
    now = float(recipe.doses.get(flavouring_id) or 0.0)
    others = {f: d / (1.0 - now / 1000.0) for f, d in recipe.doses.items() if f != flavouring_id and d}

    def at(dose: float) -> Recipe:
        """Return the cup with a dose of it: what else is in there gets weaker by what goes in."""
        left = {f: d * (1.0 - dose / 1000.0) for f, d in others.items()}
        return Recipe(recipe.base_id, {**left, flavouring_id: dose})

    def stopped(doses: NDArray[np.float64]) -> NDArray[np.bool_]:
        cups = Recipes.of(shelf, [at(float(dose)) for dose in doses])
        people, base = people_of(tasters, shelf), np.full(len(doses), base_g)
        before = swallowed_mg(already, people)
        found = stops(shelf, cups, base, people, rules=rules, already=before)
        return np.asarray(np.logical_or.reduce([mask for why, mask in found.items() if why != _MAXIMUM]), dtype=bool)

    doses = np.geomspace(_LEAST_G_PER_KG, _MOST_G_PER_KG, _COARSE)
    bad = stopped(doses)
    if not bad.any():
        return math.inf, None
    first = int(bad.argmax())
    if first == 0:
        return 0.0, _why(at(_LEAST_G_PER_KG), shelf, tasters, base_g, rules, already)
    finer = np.linspace(doses[first - 1], doses[first], _FINE)
    most = float(finer[int(stopped(finer).argmax()) - 1])
    return most, _why(at(float(doses[first])), shelf, tasters, base_g, rules, already)


def _why(
    recipe: Recipe,
    shelf: Shelf,
    tasters: Sequence[str | Taster],
    base_g: float,
    rules: Sequence[RuleLike],
    already: Mapping[str, Any] | None,
) -> Caution | None:
    found = cautions(recipe, shelf, tasters, serving_g=base_g, rules=rules, already=already)
    return next((caution for caution in found if caution.severity == "stop" and caution.kind != _MAXIMUM), None)
