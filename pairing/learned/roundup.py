"""The round-up: flavourings across bases, with the dose that works, what it costs and how sure that is."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from pairing.learned.doses import needed_dose
from pairing.learning.answers import Answers
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.nutrition.serving import serving
from pairing.quantities.constants import MAX_DOSE_G_PER_KG

__all__ = ["compare"]

DRAWS = 2000
"""Joint draws for the chance of being best: its standard error is then 0.011 at most."""


def compare(
    model: Answers, flavouring_ids: Iterable[str] | None = None, base_ids: Iterable[str] | None = None
) -> pd.DataFrame:
    """Compare flavourings, each alone in each base at the dose that reads 'just right'; see `Learned.compare`.

    Returns
    -------
    DataFrame
        Best liked first: ``base_id, flavouring_id, dose_g_per_kg, low, high`` (80 %), ``serving_g, grams, drops, ml,
        added_kcal, added_kj, cost`` per serving (NaN unknown), ``liking, liking_low, liking_high`` (80 %), ``p_best``
        (chance of being the best liked of its base among those compared; NaN for one alone),
        ``cups, tasters, share_blind`` (of the cups
        of that base with that flavouring; NaN without any), ``right`` (cups in which it read 'just right') and
        ``reached`` (whether the right dose lies within what was tried or is permitted).
    """
    needed = needed_dose(model, base_ids, flavouring_ids, None)
    table = needed[["base_id", "flavouring_id", "dose_g_per_kg", "low", "high"]].copy()
    if table.empty:
        return table
    recipes = Recipes.from_ids(model.shelf, table["base_id"].tolist(), [(f,) for f in table["flavouring_id"]])
    rows = [
        _serving(model, *row) for row in table[["base_id", "flavouring_id", "dose_g_per_kg"]].itertuples(index=False)
    ]
    table = table.join(pd.DataFrame(rows, index=table.index))
    table = table.join(model.response.predict(recipes)[["liking", "liking_low", "liking_high"]].set_index(table.index))
    table["p_best"] = _chance_of_best(model, table)
    table = table.join(_evidence(model, table))
    table["reached"] = needed["reachable"].to_numpy()
    return table.sort_values("liking", ascending=False, kind="stable", ignore_index=True)


def _serving(model: Answers, base_id: str, flavouring_id: str, dose: float) -> dict[str, float]:
    found = serving(Recipe(base_id, {flavouring_id: min(dose, MAX_DOSE_G_PER_KG)}), model.shelf)
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


def _chance_of_best(model: Answers, table: pd.DataFrame) -> Any:
    """Share of joint draws of the true likings in which a flavouring is the best of its base; NaN for one alone."""
    chance = np.full(len(table), np.nan)
    for rows in table.groupby("base_id", sort=False).indices.values():
        if len(rows) < 2:
            continue
        here = table.iloc[rows]
        encoded = model.response.encode(here["base_id"].tolist(), [(f,) for f in here["flavouring_id"]])
        best = np.argmax(model.response.samples(encoded, DRAWS, random_state=0), axis=1)
        chance[rows] = np.bincount(best, minlength=len(rows)) / DRAWS
    return chance


def _evidence(model: Answers, table: pd.DataFrame) -> pd.DataFrame:
    """Count what the log holds of each flavouring in each base, alone or in company."""
    log = model.log
    row, slot = np.nonzero(log.recipes.present)
    inside = pd.DataFrame(
        {
            "base_id": np.array(list(model.shelf.bases), object)[log.recipes.base[row]],
            "flavouring_id": np.array(list(model.shelf.flavourings), object)[log.recipes.flavouring[row, slot]],
            "cup": log.cup[row],
            "taster": log.taster[row],
            "coded": log.coded[row],
            "right": np.where(log.strength[row, slot] == 3, log.cup[row], -1),
        }
    )
    by = inside.groupby(["base_id", "flavouring_id"])
    right = inside[inside["right"] >= 0].groupby(["base_id", "flavouring_id"])["cup"].nunique()
    counted = pd.DataFrame({"cups": by["cup"].nunique(), "tasters": by["taster"].nunique(), "right": right})
    counted = counted.assign(share_blind=by["coded"].mean())
    keys = pd.MultiIndex.from_frame(table[["base_id", "flavouring_id"]])
    found = counted.reindex(keys).set_index(table.index)
    counts = found[["cups", "tasters", "right"]].fillna(0).astype(int)
    return counts.assign(share_blind=found["share_blind"])[["cups", "tasters", "share_blind", "right"]]
