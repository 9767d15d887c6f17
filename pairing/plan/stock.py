"""What the bottles still hold: cups left per flavouring."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pairing.model.shelf import Shelf

__all__ = ["cups_left", "cups_per_bottle"]


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
    stock = {f: shelf.flavouring(f).stock_g for f in grams}
    return {f: int(held / grams[f] + 1e-9) for f, held in stock.items() if held is not None and grams[f] > 0}


def cups_left(shelf: Shelf, grams: Mapping[str, float]) -> tuple[int, str] | None:
    """Return the number of servings that can be made and the flavouring that runs out first; None without a stock."""
    found = cups_per_bottle(shelf, grams)
    if not found:
        return None
    first = min(found, key=lambda f: (found[f], f))
    return found[first], first
