"""Alcohol that carries a flavouring is an off-note once there is enough of it (common practice, no source)."""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 0)

FULL_G_PER_KG = 8.0
"""Ethanol in the cup at which the feature is 1: about 1 % by volume, where most people notice it (from memory)."""


def feature(table: RecipeTable) -> Any:
    """Return the ethanol that the flavourings bring, against what most people notice."""
    return np.clip(table.total(table.dose_g_per_kg * table.ethanol_g_per_g) / FULL_G_PER_KG, 0, 1)


def because(recipe: Recipe) -> str:
    """Say why."""
    return "the alcohol that carries the flavouring may be noticed at this dose"


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rule."""
    return [
        Rule(
            id="off-note",
            summary="Alcohol from the carrier is an off-note, the more of it the more",
            source="common practice (no source)",
            acts_on="liking",
            prior_mean=-0.6,
            prior_sd=0.5,
            needs=("ethanol_g_per_g", "dose_g_per_kg"),
            feature=feature,
            because=because,
        )
    ]
