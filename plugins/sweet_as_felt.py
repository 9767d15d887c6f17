"""What cold and a matching aroma make of sweetness: less is felt in the cold, less aroma is needed where it is sweet.

References
----------
A cooled tongue tastes less of sucrose: Green & Frankmann 1987, Chem. Senses 12:609 (from memory, direction only), so
that sugars alone count here. Taste and aroma raise each other where they belong together: strawberry did with sweet,
peanut butter did not: Frank & Byram 1988, Chem. Senses 13:445 (from memory; of sweetness by aroma; that the aroma
gains, too, is common practice).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import AdditionTable, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 1)

ROOM_C, FRIDGE_C, FRIDGE_LOSS = 20.0, 5.0, 0.2
"""Sweetness counts in full at room temperature, a fifth less out of the fridge, straight between (our choice)."""
PLEASANT, CLOYING = 8.0, 12.0
"""% sugars at which a cup is fully sweet, and beyond which it may cloy (common practice, no source)."""
CONGRUENT = ("fruit", "berr", "vanilla", "caramel", "toffee", "honey")
"""Aromas that belong with sweet (strawberry from memory, the others common practice, no source)."""


def worth(sugars_pct: Any) -> Any:
    """Return what a sweetness is worth: up to 1 where it is full, falling again where it cloys."""
    return np.clip(sugars_pct / PLEASANT, 0, 1) - np.clip(sugars_pct / CLOYING - 1, 0, 1)


def cold(table: RecipeTable) -> Any:
    """Return what the cold changes: below 0 where it takes pleasant sweetness away, above 0 where the cup cloys less.

    Nothing where the temperature is not known.
    """
    loss = np.nan_to_num(np.clip((ROOM_C - table.temperature_c) / (ROOM_C - FRIDGE_C), 0, 1)) * FRIDGE_LOSS
    added = table.total(table.dose_g_per_kg * table.sugars_g_per_g) / 10
    sugars = table.base_sugars_g_per_100g * table.base_fraction + added
    return worth(sugars * (1 - loss)) - worth(sugars)


def congruent(table: AdditionTable) -> Any:
    """Return how sweet the base is, 0 to 1, where an aroma goes in that belongs with sweet."""
    return table.speaks_of(*CONGRUENT) * np.clip(table.base_sugars_g_per_100g / PLEASANT, 0, 1)


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rules."""
    return [
        Rule(
            id="cold",
            summary="Out of the fridge a cup is less sweet than it was mixed",
            source="Green & Frankmann 1987, Chem. Senses 12:609 (from memory, direction only)",
            acts_on="liking",
            prior_mean=0.4,
            prior_sd=0.4,
            needs=("base_sugars_g_per_100g", "sugars_g_per_g", "dose_g_per_kg"),
            feature=cold,
            because=lambda recipe: "the cold of the cup dulls its sweetness",
        ),
        Rule(
            id="congruent",
            summary="In a sweet base less is needed of an aroma that belongs with sweet",
            source="Frank & Byram 1988, Chem. Senses 13:445 (from memory, which pairs; how much is common practice)",
            acts_on="dose",
            prior_mean=-0.15,
            prior_sd=0.2,
            needs=("base_sugars_g_per_100g",),
            feature=congruent,
            because=lambda recipe: "sweetness raises an aroma that belongs with it: expect to need less",
        ),
    ]
