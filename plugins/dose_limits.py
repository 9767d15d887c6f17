"""A dose above a legal maximum that you enter; the supplier's maximum is watched whatever is loaded.

Legal maxima depend on the country and on what is in the bottle, so they are yours to enter, in the bench's
``plugins.toml``, in g of flavouring per kg of finished drink::

    [dose-limits.legal_max_g_per_kg]
    bitter-bark = 0.4

An example of such a limit: in the United States quinine may be at most 83 mg per kg of a carbonated drink and has to be
on the label (21 CFR 172.575). Local rules come first.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import Any

import numpy as np

from pairing.api import PluginError, Recipe, RecipeTable, Rule, hookimpl

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


def _named(limits: Mapping[str, float]) -> Rule:
    """Watch the names: a maximum for a flavouring that nobody has stops nothing."""

    def feature(table: RecipeTable) -> Any:
        for name in limits:
            if name not in table.flavouring_ids:
                near = difflib.get_close_matches(name, table.flavouring_ids, n=1, cutoff=0.4)
                hint = f"did you mean {near[0]}?" if near else "take it out, or load the flavouring"
                raise PluginError(f"legal_max_g_per_kg names {name!r}, which is no flavouring of this bench", hint)
        return np.zeros(len(table))

    return Rule(
        id="names",
        summary="A legal maximum that you entered for a flavouring that is not on the shelf",
        source="your plugins.toml",
        acts_on="caution",
        feature=feature,
        because=lambda recipe: "every maximum is for a flavouring on the shelf",
    )


@hookimpl
def pairing_rules(settings: Mapping[str, Any]) -> list[Rule]:
    """Return the caution if any maxima are entered."""
    limits = settings.get("legal_max_g_per_kg", {})
    for name, value in limits.items():
        if not isinstance(value, int | float) or not value >= 0:
            told = f"legal_max_g_per_kg of {name} is {value!r}"
            raise PluginError(told, "give g per kg of finished drink, 0 or more")
    return [_legal(limits), _named(limits)] if limits else []
