"""All that one decision on a ladder needs: the cup, what was said of it, what is believed, how far it may go."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np

from pairing.api import RuleLike
from pairing.learning.answers import DoseAnswers
from pairing.model.base import Base
from pairing.model.caution import Caution, together
from pairing.model.columns import JUST_RIGHT
from pairing.model.constants import IN_RANGE_LOG
from pairing.model.cup import Cup
from pairing.model.fields import listed
from pairing.model.flavouring import Flavouring
from pairing.model.portions import dose_after
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.dilutions import held_by
from pairing.nutrition.dose_limit import DoseLimit, dose_limit
from pairing.plan.belief import Belief, Heard
from pairing.plan.heard import heard
from pairing.safety.cautions import cautions
from pairing.safety.headroom import headroom

__all__ = ["Safety", "Scene", "scene_of"]

_SAME_LOG = 0.02
"""Doses this close are one dose, natural log: what else went in thins a cup a little (our choice)."""


@dataclass(frozen=True)
class Safety:
    """Who drinks a cup, of how much base, and what else cautions need.

    Attributes
    ----------
    drinkers : tuple of str
        Who was named, or has judged it.
    base_g : float
        g of base in the cup.
    rules : tuple of RuleLike
    already : mapping
        What they swallowed today.
    """

    drinkers: tuple[str, ...]
    base_g: float
    rules: tuple[RuleLike, ...]
    already: Mapping[str, Any]

    def headroom(self, recipe: Recipe, flavouring_id: str, shelf: Shelf) -> tuple[float, Caution | None]:
        """Return the highest dose that no caution stops, and the caution that stops more."""
        how: dict[str, Any] = {"base_g": self.base_g, "rules": self.rules, "already": self.already}
        return headroom(recipe, flavouring_id, shelf, self.drinkers, **how)

    def cautions(self, recipe: Recipe, shelf: Shelf) -> tuple[Caution, ...]:
        """Return the cautions of the cup."""
        how: dict[str, Any] = {"serving_g": self.base_g, "rules": self.rules, "already": self.already}
        return cautions(recipe, shelf, self.drinkers, **how)


@dataclass(frozen=True)
class Scene:
    """What one decision about one flavouring of one cup rests on.

    Attributes
    ----------
    content_g, dose_g_per_kg : float
        What is in the cup now.
    heard : tuple of Heard
        Every strength word for this flavouring in this cup, in order.
    belief : Belief
        Of the needed dose, those words taken in.
    inside : mapping of flavouring_id to float
        All that is in the cup now, g/kg.
    safety : Safety
        Who drinks it, and what warns of it.
    """

    shelf: Shelf
    base: Base
    flavouring: Flavouring
    content_g: float
    dose_g_per_kg: float
    heard: tuple[Heard, ...]
    belief: Belief
    limit: DoseLimit
    inside: Mapping[str, float]
    safety: Safety

    @cached_property
    def at_this_dose(self) -> tuple[Heard, ...]:
        """The words that were said since the dose last changed."""
        if self.dose_g_per_kg <= 0:
            return ()
        now, count = math.log(self.dose_g_per_kg), 0
        for one in reversed(self.heard):
            if abs(one.log_dose - now) > _SAME_LOG:
                break
            count += 1
        return self.heard[len(self.heard) - count :]

    @property
    def sipped_again(self) -> bool:
        """Whether any dose of this cup was judged twice already: nobody is asked for that over and over."""
        doses = [one.log_dose for one in self.heard]
        return any(abs(b - a) <= _SAME_LOG for a, b in pairwise(doses))

    @property
    def weak(self) -> bool:
        """Whether the last word at this dose was a weak one."""
        return bool(self.at_this_dose) and self.at_this_dose[-1].strength < JUST_RIGHT

    @property
    def right(self) -> bool:
        """Whether the last word at this dose was 'just right'."""
        return bool(self.at_this_dose) and self.at_this_dose[-1].strength == JUST_RIGHT

    @property
    def strong(self) -> bool:
        """Whether the last word at this dose was a strong one."""
        return bool(self.at_this_dose) and self.at_this_dose[-1].strength > JUST_RIGHT

    @property
    def at_limit(self) -> bool:
        """Whether nothing more of it may go in."""
        return self.dose_g_per_kg >= self.limit.g_per_kg * (1 - 1e-9)

    @property
    def needed_g_per_kg(self) -> float:
        """Middle of what is believed of the needed dose."""
        return self.needed_80_g_per_kg[0]

    @property
    def needed_80_g_per_kg(self) -> tuple[float, float, float]:
        """Middle of what is believed of the needed dose, and the ends of its 80 % interval."""
        middle, low, high = (math.exp(self.belief.quantile(p)) for p in (0.5, 0.1, 0.9))
        return middle, low, high

    def gap_log(self, dose_g_per_kg: float | np.ndarray) -> np.ndarray:
        """How far doses above 0 are below the needed one, natural log."""
        return np.log(self.needed_g_per_kg / np.asarray(dose_g_per_kg))

    def in_range(self, dose_g_per_kg: float | np.ndarray) -> np.ndarray:
        """Whether doses above 0 are in range of the middle of what is believed."""
        return np.asarray(np.abs(self.gap_log(dose_g_per_kg)) <= IN_RANGE_LOG)

    def cautions(self, dose_g_per_kg: float) -> tuple[Caution, ...]:
        """Return the cautions of the cup with so much of the flavouring in it."""
        name, now = self.flavouring.flavouring_id, self.dose_g_per_kg
        thinner = (1.0 - dose_g_per_kg / 1000.0) / (1.0 - now / 1000.0)
        doses = dict(self.inside) if dose_g_per_kg <= now else {f: d * thinner for f, d in self.inside.items()}
        if dose_g_per_kg > now:
            doses[name] = dose_g_per_kg
        return self.safety.cautions(Recipe(self.base.base_id, dict(doses)), self.shelf)

    def dose_with(self, add_g: float) -> float:
        """Dose after an addition, g/kg."""
        return float(dose_after(self.content_g, self.dose_g_per_kg, add_g))


def scene_of(
    model: DoseAnswers,
    cup: Cup,
    flavouring_id: str,
    tasters: Iterable[str] | str | None,
    override: bool,
    already: Mapping[str, Any] | None = None,
) -> Scene:
    """Put together what is known; the cup has the shelf's weights already."""
    shelf = model.shelf
    flavouring, base = shelf.flavouring(flavouring_id), shelf.base(cup.base_id)
    doses = dict(cup.dose_g_per_kg)
    shares = {flavouring_id: 1.0} | held_by(doses, flavouring_id, shelf)
    dose = sum(share * doses.pop(f, 0.0) for f, share in shares.items())
    ids = tuple(sorted({flavouring_id, *(f for f, other in doses.items() if other > 0)}))
    named = _named(cup, tasters)
    means, sds = model.dose_posterior([cup.base_id], [ids], tuple(n for n in named if n in model.tasters) or None)
    at = ids.index(flavouring_id)
    words = tuple(heard(cup, flavouring_id, shares))
    belief = Belief.of(float(means[0][at]), float(sds[0][at]), words, model.strength_params)
    limit = dose_limit(flavouring, base, shelf, doses, override=override)
    inside = {f: float(d) for f, d in cup.dose_g_per_kg.items() if d > 0}
    base_g = max(1.0, float(cup.content_g) * (1.0 - sum(inside.values()) / 1000.0))
    neat = {f: float(d) for f, d in doses.items() if d > 0} | ({flavouring_id: float(dose)} if dose > 0 else {})
    safety = Safety(named, base_g, model.rules, already or {})
    most, caution = safety.headroom(Recipe(cup.base_id, dict(neat)), flavouring_id, shelf)
    if caution is not None and most < limit.g_per_kg:
        limit = DoseLimit(most, together([caution], shelf.names), caution)
    return Scene(shelf, base, flavouring, float(cup.content_g), float(dose), words, belief, limit, inside, safety)


def _named(cup: Cup, tasters: Iterable[str] | str | None) -> tuple[str, ...]:
    """Whose cup it is: who is named, else who has judged it so far."""
    named = [reading.taster for reading in cup.readings] if tasters is None else listed(tasters, "tasters")
    return tuple(dict.fromkeys(named))
