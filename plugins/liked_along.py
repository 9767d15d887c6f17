"""A curve of liking along one thing that you name: how warm, sweet, sour or thick the cup is.

In the bench's ``plugins.toml``::

    [liked-along]
    along = "temperature"       # or sugars, acids, thickness

Nothing is expected of its shape: every point is 0 give or take, and your cups bend it. `pairing plugins` prints the
curve, the dashboard draws it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, Setting, hookimpl, spline

PAIRING_API = (1, 1)


def _in_cup(table: RecipeTable, what: str) -> Any:
    """Return g of it in 100 g of finished drink, NaN where unknown."""
    base = table[f"base_{what}_g_per_100g"] * table.base_fraction
    return base + table.total(table[f"{what}_g_per_g"] * table.dose_g_per_kg) / 10.0


Along = tuple[tuple[float, ...], str, tuple[str, ...], Callable[[RecipeTable], Any]]
ALONG: Mapping[str, Along] = {
    "temperature": ((5, 20, 45, 65), "°C", ("temperature_c",), lambda table: table.temperature_c),
    "sugars": (
        (0, 3, 6, 12),
        "g sugars per 100 g of drink",
        ("base_sugars_g_per_100g", "sugars_g_per_g", "dose_g_per_kg"),
        lambda table: _in_cup(table, "sugars"),
    ),
    "acids": (
        (0.0, 0.2, 0.5, 1.0),
        "g acids per 100 g of drink",
        ("base_acids_g_per_100g", "acids_g_per_g", "dose_g_per_kg"),
        lambda table: _in_cup(table, "acids"),
    ),
    "thickness": (
        (1, 3, 10, 30, 100),
        "mPa·s",
        ("base_viscosity_mpa_s",),
        lambda table: table.base_viscosity_mpa_s,
    ),
}
"""Points of the curve (our choice, about the range of drinks), their unit, what is needed, the value of each cup."""


@hookimpl
def pairing_settings() -> list[Setting]:
    """Declare what the curve lies along."""
    return [Setting(name="along", about="What a curve of liking is learned along", choices=tuple(ALONG))]


@hookimpl
def pairing_rules(settings: Mapping[str, Any]) -> list[Rule]:
    """Return the curve, if one is wanted."""
    if "along" not in settings:
        return []
    name = settings["along"]
    points, unit, needs, value = ALONG[name]

    def because(recipe: Recipe, table: RecipeTable) -> str:
        found = float(value(table)[0])
        return f"{name} of the cup: {found:.3g} {unit}" if np.isfinite(found) else f"{name} of the cup is not known"

    return [
        Rule(
            id=name,
            summary=f"How liking goes with the {name} of the cup",
            source="your cups; points of the curve are our choice",
            acts_on="liking",
            prior_mean=0.0,
            prior_sd=0.5,
            parts=points,
            along=unit,
            needs=needs,
            feature=lambda table: spline(value(table), points),
            because=because,
        )
    ]
