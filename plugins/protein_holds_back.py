"""Protein holds back aldehydes and ketones: a protein drink needs more vanilla, citrus or butter.

References
----------
Vanillin binds to whey more than to casein or soy: Li, Grün & Fernando 2000. 2-Nonanone binds to every milk protein,
whey isolate more than caseinate: Kühn et al. 2007. Lipids hold back most, proteins also, carbohydrates hardly:
Ammari & Schroën 2018, J. Agric. Food Chem. 66:9869. How much is not hard-coded: published percentages differ too much.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import AdditionTable, Recipe, Rule, hookimpl

PAIRING_API = (1, 0)

BOUND = ("aldehyde", "ketone", "vanilla", "sweet spice", "citrus", "cinnamon", "almond", "butter", "cream")
"""Tags or families that rest on vanillin, citral, cinnamal, benzaldehyde or diacetyl (common knowledge, no source)."""
FULL_G_PER_100G = 8.0
"""Protein at which the feature is 1: a usual protein shake."""


def feature(table: AdditionTable) -> Any:
    """Return the share of a shake's protein, for flavourings that protein binds."""
    return table.described(*BOUND) * np.clip(table.base_protein_g_per_100g / FULL_G_PER_100G, 0, 1)


def because(recipe: Recipe) -> str:
    """Say why."""
    return "the protein in this base binds aldehydes and ketones such as vanillin and citral"


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rule."""
    return [
        Rule(
            id="aldehydes",
            summary="Protein holds back aldehydes and ketones",
            source="Li, Grün & Fernando 2000; Kühn et al. 2007; Ammari & Schroën 2018, JAFC 66:9869 (direction only)",
            acts_on="dose",
            prior_mean=0.3,
            prior_sd=0.3,
            needs=("base_protein_g_per_100g",),
            feature=feature,
            because=because,
        )
    ]
