"""Hard limits on the whole cup that no label states: what you do not want to be offered at all.

In the bench's ``plugins.toml``, each per 100 g of finished drink::

    [cup-limits]
    max_sugars_g_per_100g = 5
    max_sodium_mg_per_100g = 80

A recipe of which nobody knows what it holds does not pass. These are wishes, not medical advice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pairing.api import Limit, Recipe, RecipeTable, Setting, hookimpl

PAIRING_API = (1, 1)

WHAT = {"sugars": "g", "sodium": "mg", "caffeine": "mg", "acids": "g"}
"""What may be limited, with its unit."""


def _held(table: RecipeTable, what: str) -> Any:
    """Return how much of it is in 100 g of finished drink, in its unit; NaN where unknown."""
    unit = WHAT[what]
    base = table[f"base_{what}_{unit}_per_100g"] * table.base_fraction
    return base + table.total(table[f"{what}_{unit}_per_g"] * table.dose_g_per_kg) / 10.0


def _limit(what: str, most: float) -> Limit:
    unit = WHAT[what]

    def because(recipe: Recipe, table: RecipeTable) -> str:
        found = float(_held(table, what)[0])
        return f"{found:.3g} {unit} {what} per 100 g of drink" if found == found else f"its {what} are unknown"  # noqa: PLR0124 – NaN alone differs from itself

    return Limit(
        id=what,
        summary=f"at most {most:g} {unit} {what} per 100 g of drink",
        source="your plugins.toml",
        needs=(f"base_{what}_{unit}_per_100g", f"{what}_{unit}_per_g", "dose_g_per_kg"),
        passes=lambda table: _held(table, what) <= most,
        because=because,
    )


@hookimpl
def pairing_settings() -> Iterator[Setting]:
    """Declare a maximum for each."""
    for what, unit in WHAT.items():
        about = f"Most {what} in the finished drink"
        yield Setting(name=f"max_{what}_{unit}_per_100g", about=about, kind="number", unit=f"{unit}/100 g", low=0)


@hookimpl
def pairing_limits(settings: Mapping[str, Any]) -> Iterator[Limit]:
    """Yield a limit for each maximum that is set."""
    for what, unit in WHAT.items():
        if (most := settings.get(f"max_{what}_{unit}_per_100g")) is not None:
            yield _limit(what, most)
