"""A dose above a legal maximum that you enter; the supplier's maximum is watched whatever is loaded.

Legal maxima depend on the country and on what is in the bottle, so they are yours to enter, in the bench's
``plugins.toml``, in g of flavouring per kg of finished drink::

    [dose-limits.legal_max_g_per_kg]
    bitter-bark = 0.4

An example of such a limit: in the United States quinine may be at most 83 mg per kg of a carbonated drink and has to be
on the label (21 CFR 172.575). Local rules come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, Setting, hookimpl

PAIRING_API = (1, 1)


def _legal(limits: Mapping[str, float]) -> Rule:
    def feature(table: RecipeTable) -> Any:
        by_place = np.array([*(limits.get(name, np.inf) for name in table.flavouring_ids), np.inf])
        return table.any(table.dose_g_per_kg > by_place[table.flavouring_index]) * 1.0

    def because(recipe: Recipe) -> str:
        over = [
            f"{name} {dose:g} g/kg (at most {limits[name]:g})"
            for name, dose in recipe.doses.items()
            if name in limits and dose is not None and dose > limits[name]
        ]
        return f"above the legal maximum that you entered: {', '.join(over) or recipe.base_id}; local rules come first"

    return Rule(
        id="legal",
        summary="A dose above the legal maximum that you entered",
        source="your plugins.toml",
        acts_on="caution",
        feature=feature,
        because=because,
        severity="stop",
    )


@hookimpl
def pairing_settings() -> list[Setting]:
    """Declare the maxima: one that is misspelt or no dose is refused by name, since it would stop nothing."""
    about = "Legal maximum of a flavouring in the finished drink"
    name = "legal_max_g_per_kg"
    return [Setting(name=name, about=about, kind="number", each="flavouring", unit="g/kg", low=0, high=999)]


@hookimpl
def pairing_rules(settings: Mapping[str, Any]) -> list[Rule]:
    """Return the caution if any maxima are entered."""
    limits = settings.get("legal_max_g_per_kg", {})
    return [_legal(limits)] if limits else []
