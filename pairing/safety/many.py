"""Cautions of many recipes: of a few all of them, of a long list the words of those only that are stopped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.caution import Caution
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.safety.cautions import cautions
from pairing.safety.people import people_of
from pairing.safety.stops import stops
from pairing.safety.swallowed import swallowed_mg

if TYPE_CHECKING:
    from pairing.api import RuleLike
    from pairing.model.shelf import Shelf
    from pairing.model.taster import Taster

__all__ = ["cautions_of_many"]

MOST_IN_WORDS = 100
"""Recipes up to which all cautions are told (our choice: words take about a millisecond a recipe)."""


def cautions_of_many(
    recipes: Sequence[Recipe],
    shelf: Shelf,
    tasters: Sequence[str | Taster] = (),
    *,
    rules: Sequence[RuleLike] = (),
    already: Mapping[str, Any] | None = None,
) -> list[tuple[Caution, ...]]:
    """Return the cautions of each recipe, in the serving of its base; parameters as of `pairing.cautions`."""
    asked = np.ones(len(recipes), dtype=bool)
    if len(recipes) > MOST_IN_WORDS:
        people = people_of(tasters, shelf)
        base_g = np.array([shelf.base(r.base_id).serving() for r in recipes])
        before = swallowed_mg(already, people)
        found = stops(shelf, Recipes.of(shelf, recipes), base_g, people, rules=rules, already=before)
        asked = np.logical_or.reduce(list(found.values()))
    return [
        cautions(recipe, shelf, tasters, rules=rules, already=already) if words else ()
        for recipe, words in zip(recipes, asked, strict=True)
    ]
