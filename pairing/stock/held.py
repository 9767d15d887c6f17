"""What can be had of an item, and how many cups of it: the one place that everything asks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from pairing.model.base import Base
from pairing.nutrition.dilutions import dilution_of

if TYPE_CHECKING:
    from pairing.model.flavouring import Flavouring
    from pairing.model.shelf import Shelf

__all__ = ["cups_left", "cups_per_bottle", "in_stock_g"]


def in_stock_g(item: Base | Flavouring, shelf: Shelf) -> float | None:
    """Return g of an item that can be had: what its lots hold, else a flavouring's stated stock.

    Of a pre-dilution that has neither it is what the stock of its flavouring makes: what of it stands ready is not kept
    count of. None is unknown.

    Examples
    --------
    >>> from pairing.model.flavouring import Flavouring
    >>> from pairing.model.shelf import Shelf
    >>> clove = Flavouring(flavouring_id="clove", name="Clove", stock_g=0.1)
    >>> thin = Flavouring(flavouring_id="clove-1in10", name="Thin clove", version_of="clove")
    >>> in_stock_g(thin, Shelf.of([], [clove, thin]))
    1.0
    """
    item_id = item.base_id if isinstance(item, Base) else item.flavouring_id
    if item_id in shelf.held_g or isinstance(item, Base):
        return shelf.held_g.get(item_id)
    thin = dilution_of(item)
    if item.stock_g is not None or thin is None or thin.flavouring_id not in shelf.flavourings:
        return item.stock_g
    held = in_stock_g(shelf.flavourings[thin.flavouring_id], shelf)
    return None if held is None else held * thin.parts


def cups_per_bottle(shelf: Shelf, grams: Mapping[str, float]) -> dict[str, int]:
    """Return how many servings each bottle holds; flavourings without a stated stock are left aside.

    Parameters
    ----------
    grams : mapping of flavouring_id to float
        g per serving.

    Examples
    --------
    >>> from pairing.model.flavouring import Flavouring
    >>> from pairing.model.shelf import Shelf
    >>> cups_per_bottle(Shelf.of([], [Flavouring(flavouring_id="plum", name="Plum", stock_g=10)]), {"plum": 0.4})
    {'plum': 25}
    """
    stock = {f: in_stock_g(shelf.flavouring(f), shelf) for f in grams}
    return {f: int(held / grams[f] + 1e-9) for f, held in stock.items() if held is not None and grams[f] > 0}


def cups_left(shelf: Shelf, grams: Mapping[str, float]) -> tuple[int, str] | None:
    """Return the number of servings that can be made and the flavouring that runs out first; None without a stock."""
    found = cups_per_bottle(shelf, grams)
    if not found:
        return None
    first = min(found, key=lambda f: (found[f], f))
    return found[first], first
