"""What is still there a minute after the swallow: by sweetener and by carrier, across all bottles that hold it.

Sweeteners that are equally sweet at the first sip differ most in what stays: a weight for each is learned from
'still there: sweet, bitter, drying, flavour, nothing'.

References
----------
High-potency sweeteners linger longer than sucrose, and some are bitter: DuBois & Prakash 2012, Annu. Rev. Food Sci.
Technol. 3:353 (from memory). What carriers leave behind is common practice (no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

import numpy as np

from pairing.api import Recipe, RecipeTable, Rule, hookimpl

PAIRING_API = (1, 1)

NAMES = {
    "stevia": ("stevia", "steviol glycosides", "rebaudioside a"),
    "sucralose": ("sucralose",),
    "aspartame": ("aspartame",),
    "acesulfame": ("acesulfame k",),
    "saccharin": ("saccharin",),
}
SWEETENERS = {  # of what stays, by which sweetener: mg/kg of cup at which it counts in full, log odds
    "sweet": {"stevia": (100.0, 1.5), "sucralose": (60.0, 1.0), "aspartame": (200.0, 0.7), "acesulfame": (150.0, 0.3)},
    "bitter": {"stevia": (100.0, 0.7), "acesulfame": (150.0, 0.7), "saccharin": (100.0, 1.0)},
}
CARRIERS = {  # of what stays, by which carrier: g/kg of cup at which it counts in full, log odds
    "bitter": {"propylene glycol": (2.0, 0.5)},
    "drying": {"ethanol": (5.0, 0.3)},
    "sweet": {"glycerol": (5.0, 0.3)},
    "flavour": {"medium-chain triglycerides": (1.0, 0.5)},
}
FROM_MEMORY = "DuBois & Prakash 2012, Annu. Rev. Food Sci. Technol. 3:353 (from memory)"
SD = 0.7


def sweetener(names: tuple[str, ...], full_mg_per_kg: float, table: RecipeTable) -> Any:
    """Return how much of a sweetener the cup holds beside what counts in full; what is not stated is not counted."""
    mg_per_kg = np.zeros(len(table))
    for name in names:
        base = np.nan_to_num(table.amount("base_sweeteners", name)) * 10.0  # mg per 100 g to mg per kg
        mg_per_kg += base + table.total(np.nan_to_num(table.amount("sweeteners", name)) * table.dose_g_per_kg)
    return np.clip(np.nan_to_num(mg_per_kg) / full_mg_per_kg, 0, 1)


def carrier(name: str, full_g_per_kg: float, table: RecipeTable) -> Any:
    """Return how much of a carrier the cup holds beside what counts in full; what is not stated is not counted."""
    g_per_kg = table.total(np.nan_to_num(table.amount("carrier", name)) * table.dose_g_per_kg)
    return np.clip(np.nan_to_num(g_per_kg) / full_g_per_kg, 0, 1)


def _rule(taste: str, what: str, mean: float, feature: Any, source: str) -> Rule:
    def because(recipe: Recipe) -> str:
        return f"{what} leaves a {taste} aftertaste"

    return Rule(
        id=f"{taste}-{what.replace(' ', '-')}",
        summary=f"After the swallow {what} stays {taste}"
        if taste != "flavour"
        else f"With {what} flavour stays longer",
        source=source,
        acts_on="off-note",
        note=f"{taste}@aftertaste",
        prior_mean=mean,
        prior_sd=SD,
        needs=("dose_g_per_kg",),
        feature=feature,
        because=because,
    )


@hookimpl
def pairing_rules() -> Iterator[Rule]:
    """Yield a rule for everything that stays and what it comes from."""
    for taste, found in SWEETENERS.items():
        for what, (full, mean) in found.items():
            yield _rule(taste, what, mean, partial(sweetener, NAMES[what], full), FROM_MEMORY)
    for taste, found in CARRIERS.items():
        for what, (full, mean) in found.items():
            yield _rule(taste, what, mean, partial(carrier, what, full), "common practice (no source)")
