"""Whether a base takes up a flavouring that is an oil: in a base without fat it floats as undiluted droplets."""

from __future__ import annotations

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.composition import compose
from pairing.nutrition.factors import carrier_named

__all__ = ["FAT_FREE_G_PER_100G", "is_oil", "takes_up"]

FAT_FREE_G_PER_100G = 0.5
"""At most so much fat may be called fat-free: Regulation (EC) 1924/2006, annex (from memory)."""


def is_oil(flavouring: Flavouring) -> bool:
    """Tell whether a flavouring is of the oil type: soluble in oil, or carried by one.

    Examples
    --------
    >>> is_oil(Flavouring(flavouring_id="clove", name="Clove", solubility="oil"))
    True
    """
    if "oil" in (flavouring.solubility or "").casefold():
        return True
    carrier = flavouring.carrier
    return any((one := carrier_named(name)) is not None and one.name == "oil" for name in carrier or ())


def takes_up(base: Base, flavouring: Flavouring, shelf: Shelf) -> bool:
    """Tell whether a base can hold a flavouring evenly; an oil needs fat, and unknown fat counts as none."""
    if not is_oil(flavouring):
        return True
    fat = compose(base, shelf).fat_g_per_100g
    return fat is not None and fat > FAT_FREE_G_PER_100G
