"""An acid flavouring may curdle milk protein; any protein drink is best clear of pH 4 to 5.5.

Casein clots around pH 4.6 and is touchy below about 5.3 (from memory). How far an acid lowers the pH is estimated from
the milk's buffering: about 25 mmol of acid per litre and pH unit at 3.3 % protein, in proportion to protein (from
memory, a rough figure). Most food proteins have their isoelectric point between pH 4 and 5.5 (from memory): a drink of
them is least stable there, grainy and drying. With the pH of the base unknown, the caution stands whenever an acid
flavouring meets milk.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 1)

TOUCHY_PH, CLOTS_PH = 5.3, 4.6
ISOELECTRIC_PH = (4.0, 5.5)
PROTEIN_G_PER_100G = 3.0
"""Protein from which on a drink counts as a protein drink (our choice)."""
ACID = ("acid", "sour", "citrus")
ACIDS_G_PER_G = 0.005
"""Acids in a flavouring from which on it counts as acid."""
MMOL_PER_G = 13.0
"""Protons that 1 g of citric acid gives off around pH 5: 2.5 of 3, molar mass 192."""
BUFFER_MMOL_PER_PH = 25.0 / 3.3
"""mmol of acid per kg and pH unit for each g of milk protein in 100 g."""


def estimated_ph(table: RecipeTable) -> Any:
    """Return the pH of each cup; NaN where the base's pH or the amount of acid is unknown."""
    mmol = table.total(table.dose_g_per_kg * table.acids_g_per_g) * MMOL_PER_G
    return table.base_ph - mmol / (BUFFER_MMOL_PER_PH * np.maximum(table.base_protein_g_per_100g, 0.1))


def acid_in_milk(table: RecipeTable) -> Any:
    """Return where an acid flavouring meets milk protein; a base whose allergens are unknown may be milk."""
    milk = table.has("base_allergens", "milk") | ~table.known("base_allergens")
    return milk & table.any(table.described(*ACID) | (table.acids_g_per_g > ACIDS_G_PER_G))


def clots(table: RecipeTable) -> Any:
    """Return 1 where the estimate is below pH 4.6."""
    return (acid_in_milk(table) & (estimated_ph(table) < CLOTS_PH)) * 1.0


def may_clot(table: RecipeTable) -> Any:
    """Return 0.5 where the estimate is between pH 4.6 and 5.3, or where there is none."""
    ph = estimated_ph(table)
    return (acid_in_milk(table) & ~(ph < CLOTS_PH) & ~(ph >= TOUCHY_PH)) * 0.5


def near_isoelectric(table: RecipeTable) -> Any:
    """Return 1 where a protein drink is between pH 4 and 5.5 by the estimate, 0 half a unit away and beyond."""
    low, high = ISOELECTRIC_PH
    protein = table.base_protein_g_per_100g >= PROTEIN_G_PER_100G
    return protein * np.interp(estimated_ph(table), (low - 0.5, low, high, high + 0.5), (0.0, 1.0, 1.0, 0.0))


def because_near(recipe: Recipe, table: RecipeTable) -> str:
    """Say where it is."""
    low, high = ISOELECTRIC_PH
    return f"protein at an estimated pH {estimated_ph(table)[0]:.1f}: it turns grainy from {low:g} to {high:g}"


def because_clots(recipe: Recipe) -> str:
    """Say so."""
    return f"curdling is likely: acid meets milk protein, estimated below pH {CLOTS_PH}; try 20 g first"


def because_may_clot(recipe: Recipe) -> str:
    """Say so."""
    return f"may curdle: acid meets milk protein, below about pH {TOUCHY_PH} or with the pH unknown; try 20 g first"


SOURCE = "casein clots near pH 4.6 (from memory); buffering is a rough figure (from memory)"


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the two cautions, and the rule on liking."""
    return [
        Rule(
            id="clear-of-ph",
            summary="A protein drink is best clear of pH 4 to 5.5",
            source="isoelectric points and buffering are rough figures (from memory)",
            acts_on="liking",
            prior_mean=-0.5,
            prior_sd=0.4,
            needs=("base_ph", "base_protein_g_per_100g", "acids_g_per_g", "dose_g_per_kg"),
            feature=near_isoelectric,
            because=because_near,
        ),
        Rule(
            id="likely",
            summary="Acid and milk protein below pH 4.6 curdle",
            source=SOURCE,
            acts_on="caution",
            feature=clots,
            because=because_clots,
        ),
        Rule(
            id="possible",
            summary="Acid and milk protein may curdle below about pH 5.3, or where the pH is unknown",
            source=SOURCE,
            acts_on="caution",
            feature=may_clot,
            because=because_may_clot,
        ),
    ]
