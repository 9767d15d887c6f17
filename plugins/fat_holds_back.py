"""Fat holds back fat-loving aromas: a fatter base needs more of them.

An aroma shares itself out between water and oil. By mass balance the headspace over a drink with the oil share φ is
1 ÷ (1 + φ(P − 1)) of that over water, P being how much more of the aroma oil holds than water does.

References
----------
Mass balance as in Ghosh, Peterson & Coupland 2006, J. Agric. Food Chem. 54:1829 (no solid fat, no interface). That the
oil share and the aroma's hydrophobicity matter, and not the kind of oil or the droplet size: Carey et al. 2002,
J. Agric. Food Chem. 50:1985.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import AdditionTable, Recipe, Rule, hookimpl

PAIRING_API = (1, 0)

OIL_G_PER_ML = 0.92
LOG10_P = (-0.5, 3.5)
"""Range of log10 P that ``fat_loving`` 0 to 1 stands for (our choice; most flavour molecules lie within)."""
STRONGEST = 5.5
"""Natural log of the hold-back that counts as 1: about 10 % oil and the most fat-loving aroma."""


def held_back(oil_share: Any, partition: Any) -> Any:
    """Return how many times less aroma is over the drink than over water.

    Parameters
    ----------
    oil_share : array
        Volume share of oil, 0 to 1.
    partition : array
        Concentration in oil ÷ concentration in water.
    """
    return 1 + np.asarray(oil_share) * (np.asarray(partition) - 1)


def feature(table: AdditionTable) -> Any:
    """Return the logarithm of the hold-back, scaled."""
    oil_share = table.base_fat_g_per_100g / 100 / OIL_G_PER_ML
    low, high = LOG10_P
    partition = 10 ** (low + (high - low) * table.fat_loving)
    return np.clip(np.log(held_back(oil_share, partition)) / STRONGEST, -1, 1)


def because(recipe: Recipe) -> str:
    """Say why."""
    return "the fat in this base holds back fat-loving aromas: expect to need more than in a lean base"


@hookimpl
def pairing_rules() -> list[Rule]:
    """Return the rule; the model has this column already, so the prior informs it (per sd of fat)."""
    return [
        Rule(
            id="aroma",
            summary="Fat holds back fat-loving aromas",
            source="mass balance as in Ghosh, Peterson & Coupland 2006, JAFC 54:1829; Carey et al. 2002, JAFC 50:1985",
            acts_on="dose",
            prior_mean=0.3,
            prior_sd=0.3,
            needs=("base_fat_g_per_100g", "fat_loving"),
            feature=feature,
            because=because,
            column="fat*fat_loving",
        )
    ]
