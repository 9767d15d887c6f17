"""A sweetened flavouring in a base that is sweet already is easily too much (common practice, no source)."""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 0)

SWEET_G_PER_100G = 8.0
"""Sugars of a base that counts as fully sweet."""


def feature(table: RecipeTable) -> Any:
    """Return the sweetness of the base where a sweetened flavouring goes in."""
    return table.any(table.has("sweetened", "yes")) * np.clip(table.base_sugars_g_per_100g / SWEET_G_PER_100G, 0, 1)


def because(recipe: Recipe) -> str:
    """Say why."""
    return "this base is sweet already, and a flavouring adds sweetness"


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rule."""
    return [
        Rule(
            id="both",
            summary="A sweetened flavouring in a sweet base is easily too sweet",
            source="common practice (no source)",
            acts_on="liking",
            prior_mean=-0.3,
            prior_sd=0.4,
            needs=("base_sugars_g_per_100g", "sweetened"),
            feature=feature,
            because=because,
        )
    ]
