"""Needed doses and base factors as tables."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from pairing.learning import columns as col
from pairing.learning.answers import TableAnswers
from pairing.learning.design import additions_of
from pairing.model.constants import LABEL_MULTIPLE, Z80
from pairing.model.fields import listed
from pairing.model.recipes import Recipes
from pairing.nutrition.maximum import maximum_of
from pairing.quantities.constants import MAX_DOSE_G_PER_KG

__all__ = ["base_factor", "needed_dose"]

Ids = Iterable[str] | str | None


def needed_dose(
    model: TableAnswers, base_ids: Ids, flavouring_ids: Ids, alongside: Ids, tasters: Ids = None
) -> pd.DataFrame:
    """Tabulate needed doses; see `Learned.needed_dose`."""
    shelf = model.shelf
    bases = [shelf.base(b).base_id for b in _several(base_ids, shelf.bases)]
    items = [shelf.flavouring(f).flavouring_id for f in _several(flavouring_ids, shelf.flavourings)]
    companions = [shelf.flavouring(f).flavouring_id for f in _several(alongside, ())]
    asked = [(b, f) for b in bases for f in items]
    slots = [tuple(dict.fromkeys((f, *companions))) for _, f in asked]
    recipes = Recipes.from_ids(shelf, [b for b, _ in asked], slots)
    who = model.response.among(len(asked), tasters)
    mean, sd = (array[:, 0] for array in model.strength.needed(recipes, who)) if asked else (np.empty(0), np.empty(0))
    item = recipes.flavouring[:, 0] if asked else np.empty(0, np.int64)
    label = model.strength.traits.log_label[recipes.base, item]
    readings, found, limit = _tried(model, recipes.base, item, label)
    in_range = mean - model.strength.ordinal.thresholds[3] <= limit
    return pd.DataFrame(
        {
            "base_id": [b for b, _ in asked],
            "flavouring_id": [f for _, f in asked],
            "dose_g_per_kg": _dose(mean),
            "low": _dose(mean - Z80 * sd),
            "high": _dose(mean + Z80 * sd),
            "log_sd": sd,
            "label_ratio": np.exp(mean - label),
            "readings": readings,
            "reachable": (mean <= limit) | (in_range & (found > 0)),
        }
    )


def _several(ids: Ids, otherwise: Iterable[str]) -> list[str]:
    return list(otherwise) if ids is None else listed(ids, "ids")


def _dose(log_dose: Any) -> Any:
    return np.minimum(np.exp(np.minimum(log_dose, 10.0)), MAX_DOSE_G_PER_KG)


def _tried(model: TableAnswers, base: Any, item: Any, label: Any) -> tuple[Any, Any, Any]:
    """Count strengths and those 'just right' in each cell; give the log of the highest dose tried or permitted."""
    tally, n_f = model.tally, len(model.shelf.flavourings)
    permitted = [maximum_of(f, model.shelf) for f in model.shelf.flavourings.values()]
    stated = np.array([np.nan if dose is None else dose for dose in permitted])
    with np.errstate(invalid="ignore", divide="ignore"):
        own = np.fmax(label + np.log(LABEL_MULTIPLE), tally.top[item])
        own = np.where(np.isfinite(own), own, np.log(MAX_DOSE_G_PER_KG))
        limit = np.where(np.isnan(stated[item]), own, np.log(stated[item]))  # -inf: none of it is permitted
    asked = base * n_f + item
    return tally.judged.at(asked), tally.right.at(asked), limit


def base_factor(model: TableAnswers) -> pd.DataFrame:
    """Tabulate base factors; see `Learned.base_factor`."""
    n_b, n_f = len(model.shelf.bases), len(model.shelf.flavourings)
    base, item = np.repeat(np.arange(n_b), n_f), np.tile(np.arange(n_f), n_b)
    recipes = Recipes.at(base, item[:, None])
    encoded = model.strength.encode(recipes, additions_of(recipes))
    logged = np.unique(model.tally.judged.key // max(n_f, 1))
    group = logged if len(logged) else np.arange(n_b)
    contrast = np.eye(n_b)
    contrast[:, group] -= 1.0 / len(group)
    rows = encoded.combine(np.kron(contrast, np.full((1, n_f), 1.0 / n_f)))
    label = model.strength.log_label(base, item).reshape(n_b, n_f).mean(axis=1)
    mean = col.mean(model.strength.posterior, rows) + contrast @ label
    sd = np.sqrt(col.variance(model.strength.posterior, rows))
    return pd.DataFrame(
        {
            "base_id": list(model.shelf.bases),
            "factor": np.exp(mean),
            "low": np.exp(mean - Z80 * sd),
            "high": np.exp(mean + Z80 * sd),
        }
    )
