"""At which doses to pour a recipe that is drunk to the end: a sip overrates sweetness and strength."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.learned.serving import ServingShare, served
from pairing.model.constants import IN_RANGE_LOG
from pairing.model.recipe import Recipe, recipe_text

if TYPE_CHECKING:
    from pairing.learned import Learned
    from pairing.model.arrays import Bools, Floats

__all__ = ["FullGlass", "full_glass"]

_ROUNDED_LOG = 0.06
"""What writing a serving dose down, or learning its share, may have changed of it since, log (our choice)."""


@dataclass(frozen=True)
class FullGlass:
    """A recipe at the doses of a full glass, and what share of those that a sip likes they are."""

    recipe: Recipe
    share: ServingShare

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain values for JSON."""
        return {**self.share._asdict(), "recipe": recipe_text(self.recipe)}


def full_glass(recipe: Recipe, model: Learned) -> FullGlass | None:
    """Return a recipe as it is poured to be finished; None where its doses are those of a full glass already.

    They are where a full glass was drunk at them, or where they are what a sip that was tasted comes to in a glass,
    unless a sip of their own is nearer. Where none of that was tasted, what a full glass is expected to need tells.

    Parameters
    ----------
    recipe : Recipe
        Numeric doses.
    model : Learned
    """
    share = model.serving_share
    doses = {f: math.log(d) for f, d in recipe.doses.items() if d}
    if not doses:
        return None
    wanted = np.array([*doses.values()])
    tasted, glass = _tasted(recipe.base_id, [*doses], model)
    as_sip, as_glass = _nearest(wanted - tasted, glass, share)
    if min(as_sip, as_glass) > IN_RANGE_LOG:
        needed = np.log([_needed(f, recipe, model) for f in doses])
        as_sip, as_glass = _ROUNDED_LOG, float(np.abs(wanted - needed - math.log(share.share)).max())
    return None if as_glass <= as_sip else FullGlass(served(recipe, share), share)


def _tasted(base_id: str, flavouring_ids: list[str], model: Learned) -> tuple[Floats, Bools]:
    """Return the log doses of all readings of these flavourings in a base, and which were of a full glass."""
    recipes, places = model.log.recipes, [model.shelf.flavouring_places[f] for f in flavouring_ids]
    rows = np.flatnonzero(
        (recipes.base == model.shelf.base_places[base_id]) & (recipes.present.sum(axis=1) == len(places))
    )
    held = recipes.flavouring[rows][:, :, None] == places  # reading, slot, flavouring
    same = held.any(axis=1).all(axis=1)
    log_dose = np.where(held, recipes.log_dose[rows][:, :, None], 0.0).sum(axis=1)
    return log_dose[same], model.log.full_glass[rows[same]]


def _nearest(above: Floats, glass: Bools, share: ServingShare) -> tuple[float, float]:
    """Return how far doses are from the nearest sip, and from the nearest full glass or what a sip makes of one."""
    sips, glasses = above[~glass], above[glass]
    farthest = [np.abs(some).max(axis=1) for some in (sips, glasses, sips - math.log(share.share))]
    to_sip, to_glass, to_served = (float(each.min(initial=math.inf)) for each in farthest)
    return to_sip, min(to_glass, to_served if to_served <= _ROUNDED_LOG else math.inf)


def _needed(flavouring_id: str, recipe: Recipe, model: Learned) -> float:
    others = [other for other in recipe.doses if other != flavouring_id]
    return float(model.needed_dose([recipe.base_id], [flavouring_id], others)["dose_g_per_kg"].iloc[0])
