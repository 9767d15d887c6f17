"""An evening as a value: its cups in order, what comes between them, what everybody takes, and what was left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pairing.model.caution import Caution
from pairing.model.reason import Reason
from pairing.model.recipe import Recipe

__all__ = ["CUPS_PER_EVENING", "AgendaCup", "Between", "Evening", "LeftOut", "Wanted"]

CUPS_PER_EVENING = 6
"""Flavoured cups that a palate takes in one evening: 4–6 strong or lingering ones (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """A cup that would be worth tasting.

    Attributes
    ----------
    recipe : Recipe
        Numeric doses, g/kg.
    needed_g_per_kg : mapping of flavouring_id to float
        The dose at which each reads 'just right'.
    purpose : {"new", "confirm", "adjust", "again", "own", "duplicate"}
        ``duplicate``: the same once more, unsaid.
    reasons : tuple of Reason
    """

    recipe: Recipe
    needed_g_per_kg: Mapping[str, float]
    purpose: str = "own"
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Between:
    """What comes before a cup: water, something plain to chew, a rest.

    Attributes
    ----------
    rinse : bool
    chew : {"cracker", "rice cake", ""}
        A plain water cracker is wheat: where gluten or wheat is avoided, or nobody said, it is a rice cake.
    rest_s : int
    """

    rinse: bool = True
    chew: str = ""
    rest_s: int = 0

    def __str__(self) -> str:
        chew = {"cracker": "a plain water cracker", "rice cake": "a plain rice cake (no wheat cracker here)"}
        rest = f"rest {self.rest_s // 60} min" if self.rest_s >= 120 else f"rest {self.rest_s} s" if self.rest_s else ""
        return ", ".join(filter(None, ("rinse with water" if self.rinse else "", chew.get(self.chew, ""), rest)))


@dataclass(frozen=True, kw_only=True)
class AgendaCup:
    """One cup of the evening, poured once for everybody.

    Attributes
    ----------
    number : int
        By which it is called, from 1 on; 0 is the warm-up, which nobody scores.
    recipe : Recipe
    base_g : float
        g of base to pour.
    grams, drops : mapping of flavouring_id to float or None
        What goes into it.
    strength : float
        Dose ÷ needed dose.
    lingers : tuple of str
    purpose : str
        ``warm-up``, or as of `Wanted`.
    before : Between
    reasons : tuple of Reason
    cautions : tuple of Caution
        For those who drink, with what they drank before; none of them is a stop.
    """

    number: int
    recipe: Recipe
    base_g: float
    grams: Mapping[str, float]
    drops: Mapping[str, float | None]
    strength: float
    lingers: tuple[str, ...]
    purpose: str
    before: Between
    reasons: tuple[Reason, ...] = ()
    cautions: tuple[Caution, ...] = ()

    @property
    def scored(self) -> bool:
        """Whether it is judged: the warm-up is not."""
        return self.number > 0


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A cup that was worth tasting and is not served.

    Attributes
    ----------
    recipe : Recipe
    taster : str or None
        For whom it would be too much; None where it is so for anybody.
    counted : str
        ``kcal``, ``sips``, ``sweeteners`` or a substance of which it would be too much; empty where a caution stops it.
    amount, most : float or None
        What it would come to, and the most; None where the caution says it.
    unknown : tuple of str
        Items of which it is not known: unknown is never zero.
    caution : Caution or None
    """

    recipe: Recipe
    taster: str | None = None
    counted: str = ""
    amount: float | None = None
    most: float | None = None
    unknown: tuple[str, ...] = ()
    caution: Caution | None = None


@dataclass(frozen=True, kw_only=True)
class Evening:
    """An evening: ask for it again after every cup, and it is planned anew from what was tasted.

    Attributes
    ----------
    tasters : tuple of str
    warm_up : AgendaCup or None
        A plain cup that nobody scores: None once something was tasted.
    cups : tuple of AgendaCup
        In the order of the first taster.
    orders : mapping of taster to tuple of int
        Numbers of the cups in the order of each taster.
    tasted : int
        Flavoured cups that were tasted already this evening.
    most_cups : int
        What a palate takes in one evening.
    taste_g : float
        g of drink that each taster takes of a cup.
    amounts, most : mapping of taster to mapping of str to float
        What everybody will have taken, of what a limit was given for, and the limit.
    left_out : tuple of LeftOut
    """

    tasters: tuple[str, ...]
    warm_up: AgendaCup | None
    cups: tuple[AgendaCup, ...]
    orders: Mapping[str, tuple[int, ...]]
    tasted: int
    most_cups: int
    taste_g: float
    amounts: Mapping[str, Mapping[str, float]]
    most: Mapping[str, Mapping[str, float]]
    left_out: tuple[LeftOut, ...] = ()

    @property
    def next(self) -> AgendaCup | None:
        """The cup to make now; None when the evening is over."""
        return self.warm_up or (self.cups[0] if self.cups else None)

    def of(self, taster: str) -> tuple[AgendaCup, ...]:
        """Return the cups in the order of one taster.

        Raises
        ------
        KeyError
            When that taster is not there tonight.
        """
        by_number = {cup.number: cup for cup in self.cups}
        return tuple(by_number[number] for number in self.orders[taster])
