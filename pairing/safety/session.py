"""What several portions come to together: a session's cups, an evening's, a day's."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from pairing.model.caution import Caution, gravest_first
from pairing.model.cup import MIN_STEP_G, Cup
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.factors import check_jurisdiction
from pairing.safety.intake import against_limits
from pairing.safety.people import people_of
from pairing.safety.served import served
from pairing.safety.swallowed import Tally, swallowed_mg, tally

__all__ = ["SIP_G", "drunk", "session_cautions", "tallies"]

SIP_G = 30.0
"""Drink in one taste, g, where nobody says how much: two sips (custom; from memory)."""


def session_cautions(
    portions: Sequence[tuple[Recipe, float]],
    shelf: Shelf,
    tasters: Sequence[str | Taster] = (),
    *,
    jurisdiction: str | None = None,
    already: Mapping[str, Any] | None = None,
) -> tuple[Caution, ...]:
    """Return the limits that one person comes near, or breaks, by drinking several portions in one session.

    Parameters
    ----------
    portions : sequence of (Recipe, float)
        Numeric doses, and g of finished drink of each.
    shelf : Shelf
    tasters : sequence of str or Taster
        Each of whom drinks all of it.
    jurisdiction, already
        As of `pairing.cautions`.

    Examples
    --------
    >>> from pairing.model.base import Base
    >>> shelf = Shelf.of([Base(base_id="brew", name="Brew", caffeine_mg_per_100g=40)], [])
    >>> found = session_cautions([(Recipe("brew"), 200.0)] * 3, shelf)
    >>> found[0].severity, found[0].text
    ('stop', 'caffeine: 240 mg at once, at most 200 mg for 70 kg assumed')
    """
    if not portions:
        return ()
    law = check_jurisdiction(shelf.jurisdiction if jurisdiction is None else jurisdiction)
    people = people_of(tasters, shelf)
    recipes = Recipes.of(shelf, [recipe for recipe, _ in portions])
    base_share = 1.0 - np.nan_to_num(recipes.dose_g_per_kg).sum(axis=1) / 1000.0
    held = served(shelf, recipes, np.array([grams for _, grams in portions]) * base_share).together()
    ids = tuple(dict.fromkeys(i for recipe, _ in portions for i in (recipe.base_id, *recipe.flavouring_ids)))
    before = swallowed_mg(already, people)
    return gravest_first(against_limits(held, people, law, before, lambda _: ids, per=("once", "hour", "day")))


def drunk(cup: Cup) -> Cup:
    """Return a logged cup with what everybody drank who judged it, where no sip is written down.

    Unknown is never zero: a taste counts as two sips. Who judged a full glass drank what is left; several share it.
    """
    sipped = {step.taster for step in cup.steps if step.kind == "sip"}
    finished = dict.fromkeys(reading.taster for reading in cup.readings if reading.glass == "full")
    for taster in dict.fromkeys(reading.taster for reading in cup.readings):
        if taster not in sipped and taster not in finished and cup.content_g > 0:
            cup = cup.sip(min(SIP_G, cup.content_g), taster=taster)
    each = cup.content_g / len(finished) if finished else 0.0
    for taster in finished if each >= MIN_STEP_G else ():
        cup = cup.sip(min(each, cup.content_g), taster=taster)
    return cup


def tallies(cups: Iterable[Cup], shelf: Shelf) -> dict[str, Tally]:
    """Return what everybody swallowed who tasted any of some cups."""
    tasted = [drunk(cup) for cup in cups]
    names = dict.fromkeys(step.taster for cup in tasted for step in cup.steps if step.kind == "sip")
    return {name: tally(tasted, shelf, name) for name in names if name is not None}
