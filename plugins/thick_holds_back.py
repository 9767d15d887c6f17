"""Thick bases hold back volatiles.

References
----------
At 160 mPa·s less of every volatile was released, vanillin and maltol being affected less: Roberts et al. 1996,
J. Agric. Food Chem. 44:1321. Salt tasted weaker in thicker solutions at unchanged aroma release: Cook et al. 2003,
J. Agric. Food Chem. 51:3067.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import AdditionTable, Recipe, Rule, hookimpl

PAIRING_API = (1, 0)

THIN_MPA_S, THICK_MPA_S = 1.0, 160.0
"""Water, and the thickness that was studied: features 0 and 1, on a log scale between."""
LESS_AFFECTED = ("vanilla", "sweet spice", "caramel", "toffee")
SHARE = 0.5
"""Part that applies to those (our choice; the study says less, not how much)."""


def feature(table: AdditionTable) -> Any:
    """Return how thick the base is between water and 160 mPa·s."""
    thick = np.log(table.base_viscosity_mpa_s / THIN_MPA_S) / np.log(THICK_MPA_S / THIN_MPA_S)
    return np.clip(thick, 0, 1) * np.where(table.described(*LESS_AFFECTED), SHARE, 1.0)


def because(recipe: Recipe) -> str:
    """Say why."""
    return "this base is thick, and thick drinks let go of their aroma more slowly"


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rule."""
    return [
        Rule(
            id="volatiles",
            summary="Thick bases hold back volatiles",
            source="Roberts et al. 1996, JAFC 44:1321; Cook et al. 2003, JAFC 51:3067",
            acts_on="dose",
            prior_mean=0.4,
            prior_sd=0.4,
            needs=("base_viscosity_mpa_s",),
            feature=feature,
            because=because,
        )
    ]
