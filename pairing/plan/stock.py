"""What the bottles still hold: cups left per flavouring."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from pairing.nutrition.dilutions import dilution_of

if TYPE_CHECKING:
    from pairing.model.flavouring import Flavouring
    from pairing.model.shelf import Shelf

__all__ = ["cups_left", "cups_per_bottle", "in_stock_g"]


def in_stock_g(flavouring: Flavouring, shelf: Shelf) -> float | None:
    """Return g of a flavouring that can be had: its own stock, or for a pre-dilution what its flavouring's makes.

    None is unknown. What of a pre-dilution stands ready is not kept count of unless its own stock is stated.

    Examples
    --------
    >>> from pairing.model.flavouring import Flavouring
    >>> from pairing.model.shelf import Shelf
    >>> clove = Flavouring(flavouring_id="clove", name="Clove", stock_g=0.1)
    >>> thin = Flavouring(flavouring_id="clove-1in10", name="Thin clove", version_of="clove")
    >>> in_stock_g(thin, Shelf.of([], [clove, thin]))
    1.0
    """
    thin = dilution_of(flavouring)
    if flavouring.stock_g is not None or thin is None or thin.flavouring_id not in shelf.flavourings:
        return flavouring.stock_g
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
