"""Several flavourings together mask each other.

References
----------
De Graaf & Frijters 1989: the whole intensity of a mixture is about √(I₁² + I₂²) of the unmixed intensities, and about
the sum of the two suppressed ones. Two equal ones are thus each suppressed to 1 ÷ √2; raising the dose until the
intensity is back takes ln √2 ÷ n with the exponent n of the power law, 0.3 to 0.6 in log dose. That was found for
sucrose with salt; aromas of other kinds mask less, hence the smaller mean.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import AdditionTable, Recipe, Rule, hookimpl

PAIRING_API = (1, 0)

MOST = 5
"""Companions that count as 1: six flavourings is the most that a brief allows."""


def feature(table: AdditionTable) -> Any:
    """Return the number of companions, scaled."""
    return np.minimum(table.companions / MOST, 1.0)


def because(recipe: Recipe) -> str:
    """Say why."""
    return f"{len(recipe.doses)} flavourings together mask each other a little"


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rule; the model has this column already, so the prior informs it (log dose per companion)."""
    return [
        Rule(
            id="companions",
            summary="Several flavourings together mask each other",
            source="De Graaf & Frijters 1989 (two tastes; for aromas by analogy)",
            acts_on="dose",
            prior_mean=0.1,
            prior_sd=0.12,
            feature=feature,
            because=because,
            column="companions",
        )
    ]
