"""Sour fruit in milk protein tastes harsh, and feels it (common practice, no source)."""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 0)

SOUR = ("acid", "sour", "citrus")
FULL_G_PER_100G = 5.0
"""Protein at which the feature is 1."""


def feature(table: RecipeTable) -> Any:
    """Return the protein of a milk base where a sour flavouring goes in."""
    milk = table.has("base_allergens", "milk") * np.clip(table.base_protein_g_per_100g / FULL_G_PER_100G, 0, 1)
    return milk * table.any(table.described(*SOUR) | (table.acids_g_per_g > 0.01))


def because(recipe: Recipe) -> str:
    """Say why."""
    return "sour flavourings seldom go well with the milk protein in this base"


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rule."""
    return [
        Rule(
            id="harsh",
            summary="Sour fruit in milk protein tastes harsh",
            source="common practice (no source)",
            acts_on="liking",
            prior_mean=-0.5,
            prior_sd=0.5,
            needs=("base_allergens", "base_protein_g_per_100g"),
            feature=feature,
            because=because,
        )
    ]
