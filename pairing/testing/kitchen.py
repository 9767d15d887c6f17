"""An invented shelf with all sorts on it, and recipes over it, for contract tests."""

from __future__ import annotations

import itertools
from dataclasses import fields
from typing import Any

import numpy as np
import pandas as pd

from pairing.api import Base, Flavouring, Recipe
from pairing.model.rows import as_tables
from pairing.model.shelf import Shelf

__all__ = ["bare", "sample_recipes", "sample_shelf", "sample_tables"]

_BASES: dict[str, dict[str, Any]] = {
    "spring-water": {"fat": 0, "protein": 0, "sugars": 0, "sodium": 1, "ph": 7.0, "mpa_s": 1, "allergens": "none"},
    "rich-milk": {"fat": 4, "protein": 3.4, "sugars": 5, "sodium": 45, "ph": 6.7, "mpa_s": 2, "allergens": "milk"},
    "lean-shake": {"fat": 0.2, "protein": 9, "sugars": 9, "sodium": 90, "ph": 6.5, "mpa_s": 8, "allergens": "milk"},
    "thick-oat": {"fat": 1.5, "protein": 1, "sugars": 4, "sodium": 40, "ph": 6.8, "mpa_s": 60, "allergens": "gluten"},
}
_FLAVOURINGS: dict[str, dict[str, Any]] = {
    "sharp-gooseberry": {"family": "fruit", "tags": "acid;sour", "fat_loving": 0.2, "acids_g_per_g": 0.2},
    "peel-oil": {"family": "citrus", "tags": "aldehyde", "fat_loving": 0.95, "solubility": "oil", "form": "drops"},
    "pod-extract": {"family": "vanilla", "tags": "aldehyde", "ethanol_g_per_g": 0.4, "form": "extract"},
    "dark-roast": {"family": "roast", "tags": "bitter", "fat_loving": 0.6, "form": "powder", "caffeine_mg_per_g": 2},
    "toasted-kernel": {"family": "nut", "tags": "nutty", "fat_loving": 0.8, "form": "paste", "allergens": "nuts"},
    "honeyed-syrup": {"family": "sweet", "tags": "sweet", "sweetened": "yes", "sugars_g_per_g": 0.7, "form": "syrup"},
    "leaf-sweetener": {"family": "sweetener", "sweetened": "yes", "sweeteners": "stevia:60", "form": "drops"},
    "sea-brine": {"family": "salt", "tags": "salty", "sodium_mg_per_g": 90, "fat_loving": 0.0, "form": "drops"},
}
_KNOWN = {
    "sweetened": "no",
    "fat_loving": 0.3,
    "sugars_g_per_g": 0.0,
    "acids_g_per_g": 0.0,
    "sodium_mg_per_g": 0.0,
    "ethanol_g_per_g": 0.0,
    "caffeine_mg_per_g": 0.0,
    "sweeteners": "none",
    "allergens": "none",
    "tags": "none",
    "solubility": "water",
    "label_dose_g_per_kg": 2.0,
    "max_dose_g_per_kg": 20.0,
}


def sample_shelf() -> Shelf:
    """Return four bases and eight flavourings whose facts differ in all that rules usually ask for."""
    bases = [
        Base(
            base_id=name,
            name=name,
            fat_g_per_100g=row["fat"],
            protein_g_per_100g=row["protein"],
            carbohydrate_g_per_100g=row["sugars"] + 1.0,
            sugars_g_per_100g=row["sugars"],
            sodium_mg_per_100g=row["sodium"],
            ph=row["ph"],
            viscosity_mpa_s=row["mpa_s"],
            allergens=row["allergens"],
            density_g_per_ml=1.02,
            serving_g=250,
        )
        for name, row in _BASES.items()
    ]
    flavourings = [Flavouring(flavouring_id=name, name=name, **{**_KNOWN, **row}) for name, row in _FLAVOURINGS.items()]
    return Shelf.of(bases, flavourings)


def sample_recipes(shelf: Shelf, n: int = 400, random_state: int = 0) -> list[Recipe]:
    """Return recipes: each base plain and with each flavouring and each pair, then random ones, n in all or more.

    Doses run from a tenth of the label's to thirty times it, so that limits are crossed too.
    """
    rng = np.random.default_rng(random_state)
    ids = list(shelf.flavourings)
    small = [(), *itertools.combinations(ids, 1), *itertools.combinations(ids, 2)]
    chosen = [(base, names) for base in shelf.bases for names in small]
    while len(chosen) < n:
        size = int(rng.integers(1, min(5, len(ids)) + 1))
        base = list(shelf.bases)[int(rng.integers(len(shelf.bases)))]
        chosen.append((base, tuple(rng.choice(ids, size, replace=False).tolist())))
    return [Recipe(base, {f: _dose(shelf, f, rng) for f in names}) for base, names in chosen]


def _dose(shelf: Shelf, flavouring_id: str, rng: np.random.Generator) -> float:
    label = shelf.flavouring(flavouring_id).label_dose_g_per_kg or 2.0
    return float(min(label * 10 ** rng.uniform(-1, 1.5), 150.0))


def sample_tables() -> dict[str, pd.DataFrame]:
    """Return tables of an invented bench for what reads and writes files: empty cells, commas, odd letters."""
    shelf = sample_shelf()
    readings = pd.DataFrame(
        {
            "trial_id": ["0168", "0168", "trial, two"],
            "base_id": ["thick-oat", "thick-oat", "rich-milk"],
            "flavouring_id": ["dark-roast", "peel-oil", None],
            "dose_g_per_kg": [2.5, 0.1, 0.0],
            "strength": [3.0, None, None],
            "liking": [7.0, 7.0, 5.0],
            "taster": ["Zoë", "Zoë", "me"],
            "note": ['said "good"; tasted again', None, "line one\nline two"],
        }
    )
    return {**as_tables([*shelf.bases.values(), *shelf.flavourings.values()]), "readings": readings}


def bare(shelf: Shelf) -> Shelf:
    """Return the shelf with every fact unknown that may be: only ids and names stay."""
    return Shelf.of(
        (_only(b, "base_id") for b in shelf.bases.values()),
        (_only(f, "flavouring_id") for f in shelf.flavourings.values()),
    )


def _only(item: Any, key: str) -> Any:
    kept = {key, "name"}
    return type(item)(**{f.name: getattr(item, f.name) for f in fields(item) if f.name in kept})
