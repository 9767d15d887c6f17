"""How a bottle tastes, in a few words of the trade: written by hand, or proposed from its name and family."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from pairing.model.flavouring import Flavouring

__all__ = ["WORDS", "alike", "wheel_of"]

WORDS: Mapping[str, str] = MappingProxyType(
    {
        "citrus": r"lemon|lime|orange|citrus|grapefruit|yuzu|bergamot|mandarin",
        "berry": r"berry|buckthorn|currant|cherry",
        "orchard": r"apple|pear|quince|plum|apricot|peach",
        "tropical": r"mango|pineapple|coconut|banana|passion",
        "dried fruit": r"date|raisin|fig|prune",
        "floral": r"violet|rose|elderflower|jasmine|lavender|flower|floral",
        "green": r"cucumber|leaf|grass|basil|celery|green|herb",
        "cooling": r"mint|menthol|eucalypt",
        "warm spice": r"cardamom|cinnamon|clove|ginger|nutmeg|anise|fennel|spice",
        "roast": r"cocoa|coffee|roast|malt|chocolate",
        "caramel": r"caramel|toffee|date|honey|maple|biscuit",
        "nut": r"nut(?!meg)|almond|sesame|hazel|pistachio",
        "cereal": r"biscuit|cereal|oat|bread|malt|cookie",
        "vanilla": r"vanilla|custard|cream",
        "smoke": r"smok|\bash\b|\btar\b",
        "tea": r"tea\b|tannin",
        "sour": r"sour|acid|buckthorn",
        "bitter": r"bitter|hop\b|gentian",
        "sweet": r"sweet|syrup|honey|date",
        "salty": r"salt|brine|umami",
    }
)
"""Our own short list of words that the trade uses, and what in a name or family speaks for each (from memory)."""
_MOST = 5


def wheel_of(flavouring: Flavouring) -> frozenset[str]:
    """Return how a flavouring tastes: its wheel words, else up to five proposed from its name, family and tags.

    Examples
    --------
    >>> sorted(wheel_of(Flavouring(flavouring_id="s", name="Black sesame paste", family="nut")))
    ['nut']
    >>> sorted(wheel_of(Flavouring(flavouring_id="s", name="Seed", wheel="roast;nut")))
    ['nut', 'roast']
    """
    if flavouring.wheel:
        return frozenset(flavouring.wheel)
    text = " ".join((flavouring.name, flavouring.family or "", *sorted(flavouring.tags or ())))
    return frozenset(_of_the_trade(text)[:_MOST])


def _of_the_trade(text: str) -> list[str]:
    return [word for word, pattern in WORDS.items() if re.search(pattern, text.casefold())]


def alike(one: Flavouring, other: Flavouring) -> float:
    """Return how much two flavourings taste alike, 0 to 1: the Jaccard index of their words.

    One's own word counts as the words of the trade that it speaks for: *nutty* as *nut*.

    Examples
    --------
    >>> alike(Flavouring(flavouring_id="a", name="Lime"), Flavouring(flavouring_id="b", name="Lemon"))
    1.0
    """
    ours, theirs = ({w for said in wheel_of(item) for w in _of_the_trade(said) or [said]} for item in (one, other))
    return len(ours & theirs) / len(ours | theirs) if ours | theirs else 0.0
