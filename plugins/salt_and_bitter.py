"""Salt takes bitterness down first, and flatters nutty flavourings; how much of it to start from.

References
----------
Sodium suppressed bitterness far more than sweetness, and released sweetness only where something bitter had hidden it:
Breslin & Beauchamp 1997, Nature 387:563. It differs by the bitter substance: Breslin & Beauchamp 1995, Chem. Senses
20:609. Too much salt is salty: liking of salty rises and then falls (Pfaffmann 1980). Salt with nutty flavourings, and
0.05 to 0.1 % salt as a starting point, the base's own included, are common practice (no source).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 1)

BEST_MG_PER_100G = 80.0
"""Sodium of the cup at which the help is greatest: about 0.2 % salt (common practice, no source)."""
START_PCT = (0.05, 0.1)
"""% salt of the cup, the base's included, from which a drink is seasoned (common practice, no source)."""
SALT_PER_SODIUM = 58.44 / 22.99
"""Molar masses of sodium chloride and sodium."""
NEEDS = ("base_sodium_mg_per_100g", "sodium_mg_per_g", "dose_g_per_kg")


def sodium_mg_per_100g(table: RecipeTable) -> Any:
    """Return the sodium of the finished drink."""
    from_base = table.base_sodium_mg_per_100g * table.base_fraction
    return from_base + table.total(table.dose_g_per_kg * table.sodium_mg_per_g) / 10


def salt_pct(table: RecipeTable) -> Any:
    """Return % salt of the finished drink, as sodium chloride."""
    return sodium_mg_per_100g(table) / 1000 * SALT_PER_SODIUM


def start(table: RecipeTable) -> Any:
    """Return 1 within the range to start from; outside it is never for it, and -1 without salt and at twice as much."""
    salt = salt_pct(table)
    outside = np.interp(salt, (0.0, *START_PCT, 2 * START_PCT[1]), (-1.0, 0.0, 0.0, -1.0))
    return np.where((salt >= START_PCT[0]) & (salt <= START_PCT[1]), 1.0, outside)


def less_bitter(table: RecipeTable) -> Any:
    """Return the sodium of the cup, 1 where it helps most and above."""
    return np.clip(sodium_mg_per_100g(table) / BEST_MG_PER_100G, 0, 1)


def start_because(recipe: Recipe, table: RecipeTable) -> str:
    """Say how much there is beside what to start from."""
    low, high = START_PCT
    return f"{salt_pct(table)[0]:.2g} % salt in the cup, the base's included: {low:g} to {high:g} % is where to start"


def helped(table: RecipeTable, *words: str) -> Any:
    """Return how much the salt helps where a flavouring is described so: 0 without, 1 at best, 0 when far too salty."""
    x = sodium_mg_per_100g(table) / BEST_MG_PER_100G
    return table.any(table.described(*words)) * np.clip(x * np.exp(1 - x), 0, 1)


def _rule(name: str, kind: str, words: tuple[str, ...], source: str, mean: float) -> Rule:
    feature: Callable[[RecipeTable], Any] = lambda table: helped(table, *words)  # noqa: E731
    because: Callable[[Recipe], str] = lambda recipe: f"the sodium in this cup {kind}"  # noqa: E731
    return Rule(
        id=name,
        summary=f"A little salt {kind}",
        source=source,
        acts_on="liking",
        prior_mean=mean,
        prior_sd=0.4,
        needs=NEEDS,
        feature=feature,
        because=because,
    )


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rules."""
    bitter = ("bitter", "roast", "coffee", "cocoa", "tea")
    return [
        _rule("bitter", "takes bitterness down", bitter, "Breslin & Beauchamp 1997, Nature 387:563", 0.4),
        _rule("nutty", "flatters nutty flavourings", ("nutty", "nut"), "common practice (no source)", 0.3),
        Rule(
            id="start",
            summary="0.05 to 0.1 % salt, the base's included, is where to start",
            source="common practice (no source)",
            acts_on="liking",
            prior_mean=0.2,
            prior_sd=0.3,
            needs=NEEDS,
            feature=start,
            because=start_because,
        ),
        Rule(
            id="less-bitter",
            summary="Salt makes a bitter note rarer",
            source="Breslin & Beauchamp 1997, Nature 387:563",
            acts_on="off-note",
            note="bitter",
            prior_mean=-0.5,
            prior_sd=0.3,
            needs=NEEDS,
            feature=less_bitter,
            because=lambda recipe: "the sodium in this cup takes bitterness down",
        ),
    ]
