"""Whether what is there is enough for a batch: what it makes at most, and what to buy."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from pairing.errors import QuantityError
from pairing.model.base import Base
from pairing.model.doses import grams
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML
from pairing.stock.held import in_stock_g
from pairing.stock.reckon import Held

__all__ = ["Need", "needs_of", "shopping_list"]

_DUST_G = 0.0005


@dataclass(frozen=True, kw_only=True)
class Need:
    """What a batch takes of one item.

    Attributes
    ----------
    item_id, name : str
    need_g : float
    held_g : float or None
        What is there; None is unknown, which is never called too little.
    cost : float or None
        Of what is to be bought: whole bottles where a lot says what they hold and cost, else by the gram.
    bottles : int or None
        How many bottles or bags to buy; None where no lot says what one holds.
    size : str or None
        What one of them holds.
    """

    item_id: str
    name: str
    need_g: float
    held_g: float | None
    cost: float | None = None
    bottles: int | None = None
    size: str | None = None

    @property
    def buy_g(self) -> float | None:
        """G that are lacking; None where it is unknown what is there."""
        return None if self.held_g is None else self.need_g - self.held_g if self.short else 0.0

    @property
    def short(self) -> bool:
        """Whether it is known that there is too little."""
        return self.held_g is not None and self.held_g < self.need_g - _DUST_G

    @property
    def share(self) -> float:
        """Share of the batch that what is there makes, at most 1."""
        return 1.0 if not self.short or self.held_g is None else self.held_g / self.need_g


def needs_of(base_g: float, recipe: Recipe, shelf: Shelf) -> tuple[Need, ...]:
    """Return what a batch of so much base takes: base first, then flavourings.

    Examples
    --------
    >>> shelf = Shelf.of([Base(base_id="oat", name="Oat")],
    ...                  [Flavouring(flavouring_id="plum", name="Plum", stock_g=3)])
    >>> need = needs_of(1000, Recipe("oat", {"plum": 5.0}), shelf)[1]
    >>> round(need.need_g, 3), need.short, round(need.share, 3)
    (5.025, True, 0.597)
    """
    doses = {name: dose for name, dose in recipe.doses.items() if dose is not None}
    if lacking := [name for name, dose in recipe.doses.items() if dose is None]:
        raise QuantityError(f"the dose of {', '.join(lacking)} is open", "give g/kg, or ask for the best dose first")
    taken = {recipe.base_id: base_g, **grams(base_g, doses)}
    return tuple(_need(name, g, shelf) for name, g in taken.items())


def shopping_list(
    recipes: Iterable[Recipe], litres: float, shelf: Shelf, lots: Sequence[Held] = ()
) -> tuple[Need, ...]:
    """Return what so many litres of base of each recipe take together, what is lacking of it, and what that costs.

    Raises
    ------
    QuantityError
        When a dose is open, or the litres are not above 0.
    UnknownIdError
        When a recipe names what the shelf does not know.
    """
    if not (math.isfinite(litres) and litres > 0):
        raise QuantityError(f"{litres:g} litres cannot be made", "give a number above 0")
    total: dict[str, float] = {}
    for recipe in recipes:
        density = shelf.base(recipe.base_id).density_g_per_ml or DEFAULT_DENSITY_G_PER_ML
        for need in needs_of(1000 * litres * density, recipe, shelf):
            total[need.item_id] = total.get(need.item_id, 0.0) + need.need_g
    sold = {one.lot.item_id: one for one in lots if one.size_g}  # as it was bought last
    return tuple(_priced(_need(name, g, shelf), sold, shelf) for name, g in total.items())


def _item(item_id: str, shelf: Shelf) -> Base | Flavouring:
    return shelf.bases[item_id] if item_id in shelf.bases else shelf.flavouring(item_id)


def _need(item_id: str, need_g: float, shelf: Shelf) -> Need:
    item = _item(item_id, shelf)
    return Need(item_id=item_id, name=item.name, need_g=need_g, held_g=in_stock_g(item, shelf))


def _priced(need: Need, sold: Mapping[str, Held], shelf: Shelf) -> Need:
    lot, item = sold.get(need.item_id), _item(need.item_id, shelf)
    buy_g = need.need_g if need.buy_g is None else need.buy_g
    if lot is not None and lot.size_g:
        bottles = math.ceil(buy_g / lot.size_g - 1e-9)
        cost = None if lot.lot.price is None else bottles * lot.lot.price
        return Need(**{**vars(need), "bottles": bottles, "size": lot.lot.size, "cost": cost})
    per_g = item.cost_per_g if isinstance(item, Flavouring) else item.cost_per_kg
    cost = None if per_g is None else buy_g * (per_g if isinstance(item, Flavouring) else per_g / 1000)
    return Need(**{**vars(need), "cost": cost})
