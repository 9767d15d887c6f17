"""In which order cups come: weak before strong, by dose ÷ needed dose, and what lingers last."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pairing.evening.williams import williams
from pairing.model.base import Base
from pairing.model.constants import IN_RANGE_LOG
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.composition import compose
from pairing.nutrition.content import substances_of
from pairing.nutrition.substances import INTENSE_SWEETENERS

__all__ = ["Impact", "impact", "orders"]

_LINGERS = {
    "cooling": "mint menthol peppermint spearmint eucalyptus camphor cooling",
    "pungent": "ginger chili chilli pepper horseradish mustard wasabi clove cinnamon cassia pungent hot",
    "bitter": "bitter coffee espresso cocoa hop hops tea gentian quinine wormwood",
}
"""Words in names, families, tags and on the wheel that put a cup late, by why it lingers (our choice)."""
_WORD = re.compile(r"[^\W\d_]+")


@dataclass(frozen=True, kw_only=True)
class Impact:
    """What a cup does to a palate.

    Attributes
    ----------
    strength : float
        Dose ÷ needed dose; of several flavourings the root of the sum of squares, the vector model with odours at right
        angles (Berglund, Berglund, Lindvall & Svensson 1973, J. Exp. Psychol. 100, 29–38; from memory).
    lingers : tuple of str
        Why it stays in the mouth: ``cooling, pungent, bitter, alcohol, sweetener``.
    """

    strength: float
    lingers: tuple[str, ...] = ()

    @property
    def rank(self) -> tuple[int, float]:
        """What orders cups: those that linger for more reasons later, then stronger ones later."""
        return len(self.lingers), self.strength


def impact(recipe: Recipe, needed_g_per_kg: Mapping[str, float], shelf: Shelf) -> Impact:
    """Return what a cup does to a palate.

    Parameters
    ----------
    recipe : Recipe
        Numeric doses, g/kg.
    needed_g_per_kg : mapping of flavouring_id to float
        The dose at which each reads 'just right' in this recipe.
    shelf : Shelf

    Examples
    --------
    >>> drops = [Flavouring(flavouring_id="plum", name="Plum"), Flavouring(flavouring_id="m", name="Wild mint")]
    >>> shelf = Shelf.of([Base(base_id="oat", name="Oat")], drops)
    >>> impact(Recipe("oat", {"plum": 30.0}), {"plum": 30.0}, shelf)
    Impact(strength=1.0, lingers=())
    >>> impact(Recipe("oat", {"plum": 15.0, "m": 0.5}), {"plum": 30.0, "m": 0.5}, shelf).lingers
    ('cooling',)
    """
    doses = {name: float(dose or 0.0) for name, dose in recipe.doses.items()}
    strength = math.hypot(*(dose / needed_g_per_kg[name] for name, dose in doses.items() if needed_g_per_kg.get(name)))
    base = compose(shelf.base(recipe.base_id), shelf)
    found = dict.fromkeys(why for name in doses for why in _of_item(shelf.flavouring(name), shelf))
    found |= dict.fromkeys(_held(base, shelf))
    return Impact(strength=strength, lingers=tuple(found))


def _of_item(item: Flavouring, shelf: Shelf) -> list[str]:
    texts = (item.name, item.family or "", *(item.tags or ()), *(item.wheel or ()))
    said = {word for text in texts for word in _WORD.findall(text.casefold())}
    return [why for why, words in _LINGERS.items() if said & set(words.split())] + _held(item, shelf)


def _held(item: Base | Flavouring, shelf: Shelf) -> list[str]:
    """Return why what is in an item lingers: alcohol, and sweeteners many times as sweet as sugar."""
    ethanol = item.ethanol_g_per_100g if isinstance(item, Base) else item.ethanol_g_per_g
    carrier = (getattr(item, "carrier", None) or {}).keys()
    found = ["alcohol"] if (ethanol or 0.0) > 0 or "ethanol" in carrier else []
    sweet = {name: mg for name, mg in substances_of(item, shelf).items() if name in INTENSE_SWEETENERS}
    return found + (["sweetener"] if any(mg is None or mg > 0 for mg in sweet.values()) else [])


def orders(impacts: Sequence[Impact], n_tasters: int, turn: int = 0) -> tuple[tuple[int, ...], ...]:
    """Return for every taster in which order the cups come, by their number.

    Weak cups come before strong ones, and what lingers last, for everybody. Cups that are about as strong and linger
    alike are put in a balanced order of their own for each taster, so that none gains by its place.

    Parameters
    ----------
    impacts : sequence of Impact, length n
    n_tasters : int
    turn : int
        Number of the evening: the balance goes on from one to the next.

    Returns
    -------
    tuple of tuple of int
        One per taster, each with the numbers 0 … n − 1.

    Examples
    --------
    >>> felt = [Impact(strength=s, lingers=why) for s, why in ((1.0, ()), (0.6, ()), (1.1, ()), (1.0, ("cooling",)))]
    >>> orders(felt, 2)
    ((1, 0, 2, 3), (1, 2, 0, 3))
    """
    tiers: list[list[int]] = []
    for number in sorted(range(len(impacts)), key=lambda i: impacts[i].rank):
        if tiers and _alike(impacts[tiers[-1][0]], impacts[number]):
            tiers[-1].append(number)
        else:
            tiers.append([number])
    return tuple(
        tuple(tier[i] for tier in tiers for i in _row(len(tier), taster + turn)) for taster in range(n_tasters)
    )


def _alike(one: Impact, other: Impact) -> bool:
    near = other.strength <= one.strength * math.exp(IN_RANGE_LOG) or other.strength == one.strength
    return near and len(one.lingers) == len(other.lingers)


def _row(n: int, number: int) -> tuple[int, ...]:
    rows = williams(n) if n > 1 else ((0,),)
    return rows[number % len(rows)]
