"""How each form of flavouring goes into a drink: all of it common practice (no source)."""

from __future__ import annotations

import re

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring

__all__ = ["how_to_add"]

_BY_FORM = (
    (r"powder|cocoa", "paste it with two to three parts of warm base first, then thin that with the rest"),
    (r"paste|butter", "stir it smooth with a little base before the rest goes in"),
    (r"gum|thicken|starch|xanthan", "strew it into the moving base, and taste at 2 and at 15 minutes: it thickens on"),
    (r"acid|citric|malic|tartaric", "add it last, cold and diluted, in a thin stream while stirring"),
    (
        r"drop|extract|tincture|essence",
        "let foam settle, and drop below it: drops that hang in foam are not tasted",
    ),
    (r"syrup", "weigh it: foam and what clings to a spoon falsify millilitres"),
)
_OILY = re.compile(r"oil", re.IGNORECASE)


def how_to_add(flavouring: Flavouring, base: Base | None = None) -> str:
    """Say how it goes in; empty where its form says nothing.

    Parameters
    ----------
    flavouring : Flavouring
    base : Base, optional
        Where it goes in: an oil needs help where there is little fat.

    Examples
    --------
    >>> how_to_add(Flavouring(flavouring_id="c", name="Dark", form="powder"))
    'paste it with two to three parts of warm base first, then thin that with the rest'
    """
    fat = None if base is None else base.fat_g_per_100g
    oily = bool(_OILY.search(flavouring.solubility or "")) or flavouring.solubility == "fat"
    if oily and (fat is None or fat < 1.0):
        return "oil parts from a lean drink: mix it with its emulsifier, or with fat, before it goes in"
    words = " ".join((flavouring.form or "", *(flavouring.tags or ()))).casefold()
    return next((how for pattern, how in _BY_FORM if re.search(pattern, words)), "")
