"""An oil-type flavouring does not disperse in a base without fat: it floats as undiluted droplets.

Undiluted droplets touch the mouth at full strength, and some oils burn or are toxic in small volumes (secondary
sources, consistent). Follow the supplier's directions and local rules.
"""

from __future__ import annotations

from typing import Any

from pairing.api import Recipe, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 0)

FAT_FREE_G_PER_100G = 0.5
"""Below this a food may be called fat-free: Regulation (EC) 1924/2006, annex (at most 0.5 g per 100 g; from memory)."""


def feature(table: RecipeTable) -> Any:
    """Return 1 where an oil-type flavouring meets a base that is fat-free, or of unknown fat."""
    lean = ~(table.base_fat_g_per_100g > FAT_FREE_G_PER_100G)
    return (lean & table.any(table.has("solubility", "oil"))) * 1.0


def because(recipe: Recipe) -> str:
    """Say so."""
    return (
        f"an oil-type flavouring floats on {recipe.base_id}, which has too little fat to take it up, or nobody knows: "
        "droplets reach the mouth undiluted; use a water-soluble form or an emulsifier, and keep to the supplier's "
        "directions"
    )


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the caution."""
    return [
        Rule(
            id="floats",
            summary="An oil-type flavouring floats on a fat-free base",
            source="from memory; fat-free as in Regulation (EC) 1924/2006, annex",
            acts_on="caution",
            feature=feature,
            because=because,
        )
    ]
