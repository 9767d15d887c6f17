"""Use up what is open: bottles that you would rather finish are worth a little more in a suggestion.

In the bench's ``plugins.toml``, in liking points (0.3 is much: a cup is mostly expected to raise the best by 0.2)::

    [use-up.points]
    quince = 0.2
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from pairing.api import Goal, Recipe, RecipeTable, Setting, hookimpl

PAIRING_API = (1, 1)
MOST = 1.0
"""Points for one bottle at most (our choice): a word of the liking scale."""


@hookimpl
def pairing_settings() -> list[Setting]:
    """Declare what a flavouring is worth."""
    about = "What using up a flavouring is worth"
    return [
        Setting(name="points", about=about, kind="number", each="flavouring", unit="points", low=0, high=MOST),
    ]


@hookimpl
def pairing_goals(settings: Mapping[str, Any]) -> list[Goal]:
    """Return the goal if a flavouring is named."""
    points = settings.get("points", {})
    most = max(points.values(), default=0.0)

    def feature(table: RecipeTable) -> Any:
        by_place = np.array([*(points.get(name, 0.0) for name in table.flavouring_ids), 0.0])
        return by_place[table.flavouring_index].max(axis=1, initial=0.0) / most

    def because(recipe: Recipe) -> str:
        return f"uses up {' and '.join(name for name in recipe.doses if points.get(name))}"

    if not most:
        return []
    return [
        Goal(
            id="open-bottles",
            summary="Bottles that are to be used up",
            source="your plugins.toml",
            points=most,
            feature=feature,
            because=because,
        )
    ]
