"""What the trade says covers an off-note: a prior on the flavouring, which the log then corrects.

References
----------
Whey's bitterness is rounded by vanilla, cocoa, coffee and caramel; beany notes by roasted, nutty and cereal ones, and
never by delicate florals; chalky and drying ones hardly by any aroma, rather by fat, thickness and less acid: all
common practice (no source). Salt lowers bitterness: Breslin & Beauchamp 1997, Nature 387:563; sweetness and bitterness
lower each other in mixtures: Keast & Breslin 2003, Food Qual. Prefer. 14:111 (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from pairing.model.flavouring import Flavouring

__all__ = ["COVERS", "UNCOVERS", "masked_by"]

COVERS: Mapping[str, str] = MappingProxyType(
    {
        "bitter": r"vanilla|cocoa|coffee|caramel|salt|sweet|honey|date",
        "beany": r"roast|nut|cereal|biscuit|malt|cocoa|coffee|sesame|caramel|tea|smok",
        "grassy": r"roast|nut|cereal|biscuit|malt|cocoa|coffee|sesame|caramel",
        "cooked": r"vanilla|caramel|cocoa|coffee|biscuit",
        "whey": r"vanilla|cocoa|coffee|caramel|fruit|berr",
    }
)
"""Words of a flavouring's name, family, tags and wheel that speak for its covering a note."""
UNCOVERS: Mapping[str, str] = MappingProxyType({"beany": r"floral|flower|violet|rose|elderflower|cucumber"})
"""Words that speak against it."""
_LOG_ODDS = 0.5
"""How much a word counts, log odds: about a third fewer cups with the note (our choice)."""


def masked_by(off_note: str, flavouring: Flavouring) -> float:
    """Return the log odds that a flavouring is expected to add to a note; below 0 it covers it.

    Examples
    --------
    >>> masked_by("beany", Flavouring(flavouring_id="c", name="Dark cocoa powder"))
    -0.5
    >>> masked_by("beany", Flavouring(flavouring_id="v", name="Violet drops", family="floral"))
    0.5
    """
    name = off_note.partition("@")[0]
    words = (flavouring.name, flavouring.family or "", *(flavouring.tags or ()), *(flavouring.wheel or ()))
    text = " ".join(words).casefold()
    covers = name in COVERS and re.search(COVERS[name], text) is not None
    uncovers = name in UNCOVERS and re.search(UNCOVERS[name], text) is not None
    return _LOG_ODDS * (uncovers - covers)
