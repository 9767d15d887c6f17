"""The round-up: flavourings across bases, with the dose that works, what it costs and how sure that is."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.recipe import Recipe
from pairing.nutrition.serving import serving

if TYPE_CHECKING:
    import pandas as pd

    from pairing.learned import Learned

__all__ = ["compare"]

DRAWS = 2000
"""Joint draws for the chance of being best: its standard error is then 0.011 at most."""


def compare(
    model: Learned, flavouring_ids: Iterable[str] | None = None, base_ids: Iterable[str] | None = None
) -> pd.DataFrame:
    """Compare flavourings, each alone in each base at the dose that reads 'just right'; see `Learned.compare`.

    Returns
    -------
    DataFrame
        Best liked first: ``base_id, flavouring_id, dose_g_per_kg, low, high`` (80 %), ``serving_g, grams, drops, ml,
        added_kcal, added_kj, cost`` per serving (NaN unknown), ``liking, liking_low, liking_high`` (80 %), ``p_best``
        (chance of being the best liked of its base among those compared), ``cups, tasters, share_blind`` (of the cups
        of that base with that flavouring; NaN without any), ``right`` (cups in which it read 'just right') and
        ``reached`` (whether the right dose lies within what was tried or is permitted).
    """
    import pandas as pd

    needed = model.needed_dose(base_ids, flavouring_ids)
    table = needed[["base_id", "flavouring_id", "dose_g_per_kg", "low", "high"]].copy()
    recipes = [Recipe(b, {f: None}) for b, f in zip(table["base_id"], table["flavouring_id"], strict=True)]
    if not recipes:
        return table
    rows = [
        _serving(model, *row) for row in table[["base_id", "flavouring_id", "dose_g_per_kg"]].itertuples(index=False)
    ]
    table = table.join(pd.DataFrame(rows, index=table.index))
    table = table.join(model.predict(recipes)[["liking", "liking_low", "liking_high"]].set_index(table.index))
    table["p_best"] = _chance_of_best(model, table)
    evidence = [_evidence(model, b, f) for b, f in zip(table["base_id"], table["flavouring_id"], strict=True)]
    table = table.join(pd.DataFrame(evidence, index=table.index))
    table["reached"] = needed["reachable"].to_numpy()
    return table.sort_values("liking", ascending=False, kind="stable", ignore_index=True)


def _serving(model: Learned, base_id: str, flavouring_id: str, dose: float) -> dict[str, float]:
    found = serving(Recipe(base_id, {flavouring_id: min(dose, 999.0)}), model.shelf)
    drops = found.drops[flavouring_id]
    values = {
        "serving_g": found.base_g,
        "grams": found.grams[flavouring_id],
        "drops": drops,
        "ml": found.ml[flavouring_id],
        "added_kcal": found.added_kcal,
        "added_kj": found.added_kj,
        "cost": found.added_cost,
    }
    return {name: float("nan") if value is None else value for name, value in values.items()}


def _chance_of_best(model: Learned, table: pd.DataFrame) -> Any:
    """Share of joint draws of the true likings in which a flavouring is the best of its base."""
    encoded = model.encode(table["base_id"].tolist(), [(f,) for f in table["flavouring_id"]])
    draws = model.samples(encoded, DRAWS, random_state=0)
    chance = np.zeros(len(table))
    base = table["base_id"].to_numpy()
    for base_id in dict.fromkeys(base):
        here = np.flatnonzero(base == base_id)
        chance[here] = np.bincount(np.argmax(draws[:, here], axis=1), minlength=len(here)) / len(draws)
    return chance


def _evidence(model: Learned, base_id: str, flavouring_id: str) -> dict[str, float]:
    """Count what the log holds of one flavouring in one base, alone or in company."""
    log = model.log
    base = list(model.shelf.bases).index(base_id)
    item = list(model.shelf.flavourings).index(flavouring_id)
    inside = (log.recipes.flavouring == item) & (log.recipes.base == base)[:, None]
    rows = inside.any(axis=1)
    cups = np.unique(log.cup[rows])
    right = np.unique(log.cup[(inside & (log.strength == 3)).any(axis=1)])
    return {
        "cups": len(cups),
        "tasters": len(np.unique(log.taster[rows])),
        "share_blind": float(log.coded[rows].mean()) if rows.any() else float("nan"),
        "right": len(right),
    }
