"""What the entries of blocks are made from: rows, what is in them, who judged them, and on what occasion."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np

from pairing.learning.design import Additions, Traits, Who, additions_of, pairs_of
from pairing.learning.log import Log
from pairing.model.arrays import Floats, Ints
from pairing.model.recipes import Recipes

__all__ = ["LATER_MIN", "Occasion", "Scene", "Typical"]

LATER_MIN = 60.0
"""Minutes from which a cup is tasted later, not just after mixing: what fades shows then (our choice)."""
MINUTES_PER_DAY = 1440.0


@dataclass(frozen=True)
class Typical:
    """The middle of what a log knows of its occasions, from which they are told: predictions are for it."""

    log_minutes: float = 0.0
    temperature_c: float = 0.0

    @classmethod
    def of(cls, sums: dict[str, float]) -> Typical:
        """Make it from the sums that `Typical.told` gives, of one log or of several."""
        return cls(*(sums[f.name] / max(sums[f"n_{f.name}"], 1.0) for f in fields(cls)))

    @staticmethod
    def told(log: Log) -> dict[str, float]:
        """Sum and count what is known."""
        known = {"log_minutes": np.log1p(log.minutes), "temperature_c": log.temperature_c}
        sums = {name: float(np.nansum(values)) for name, values in known.items()}
        return sums | {f"n_{name}": float((~np.isnan(values)).sum()) for name, values in known.items()}


@dataclass(frozen=True, eq=False)
class Occasion:
    """When and how the first rows of a scene were judged: -1, or NaN, where it is not known.

    Attributes
    ----------
    cup, session, position : int array, shape (n,)
    stepped : bool array, shape (n,)
    log_minutes, temperature_c : array, shape (n,)
        Natural log of a minute and more since the last addition, and °C, less what is typical.
    days : array, shape (n,)
        Since the last addition, from the first hour on: before that, and where nobody noted it, 0.
    full_glass : bool array, shape (n,)
    """

    cup: Ints
    session: Ints
    position: Ints
    stepped: Any
    log_minutes: Floats
    temperature_c: Floats
    days: Floats
    full_glass: Any

    @classmethod
    def of(cls, log: Log, reading: Ints, typical: Typical) -> Occasion:
        """Take it from the readings of a log."""
        return cls(
            cup=log.cup[reading],
            session=log.session[reading],
            position=log.position[reading],
            stepped=log.stepped[reading],
            log_minutes=np.log1p(log.minutes[reading]) - typical.log_minutes,
            temperature_c=log.temperature_c[reading] - typical.temperature_c,
            days=_days(log.minutes[reading]),
            full_glass=log.full_glass[reading],
        )


def _days(minutes: Floats) -> Floats:
    return np.where(minutes >= LATER_MIN, minutes / MINUTES_PER_DAY, 0.0)


NONE = np.empty(0, np.int64)
NO_ONE = Who(NONE, 0)
NO_OCCASION = Occasion(NONE, NONE, NONE, NONE, np.empty(0), np.empty(0), np.empty(0), NONE)


@dataclass(frozen=True, eq=False)
class Scene:
    """Rows of which something is asked: recipes, of which liking is, or additions, of which the needed dose is.

    Attributes
    ----------
    traits : Traits
    base : int array, shape (n,)
        The base of each row.
    row, item : int array, shape (m,)
        Row and flavouring of every addition.
    recipes : Recipes
        Those of the rows, or those that the additions are in.
    adds : Additions
    who : Who
        Whose, of the first rows.
    occasion : Occasion
        Of the first rows; a prediction is for none.
    """

    traits: Traits
    base: Ints
    row: Ints
    item: Ints
    recipes: Recipes
    adds: Additions
    who: Who
    occasion: Occasion

    @classmethod
    def of_recipes(
        cls, recipes: Recipes, traits: Traits, who: Who | None = None, occasion: Occasion | None = None
    ) -> Scene:
        """Ask of recipes."""
        adds = additions_of(recipes)
        about = who or NO_ONE, occasion or NO_OCCASION
        return cls(traits, recipes.base, adds.row, adds.flavouring, recipes, adds, *about)

    @classmethod
    def of_additions(
        cls,
        adds: Additions,
        recipes: Recipes,
        traits: Traits,
        who: Who | None = None,
        occasion: Occasion | None = None,
    ) -> Scene:
        """Ask of additions to recipes."""
        about = who or NO_ONE, occasion or NO_OCCASION
        return cls(traits, adds.base, np.arange(len(adds)), adds.flavouring, recipes, adds, *about)

    def __len__(self) -> int:
        return len(self.base)

    @cached_property
    def pairs(self) -> tuple[Ints, Ints, Ints]:
        """Row and the two flavourings of every pair in the recipes."""
        return pairs_of(self.recipes)

    @cached_property
    def shares(self) -> tuple[Ints, Ints, Floats]:
        """Rows, tasters and weights of those whose own part counts."""
        return self.who.shares()
