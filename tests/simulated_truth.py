"""The parts that a simulated palate is made of: tables with their labels, and the hidden truth behind them."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

FAMILIES = ("fruit", "spice", "flower", "herb", "roast", "cream")
_FORMS = (
    ("drops", "propylene glycol", 0.3, 2.5),
    ("syrup", "water", 12.0, 45.0),
    ("powder", "maltodextrin", 4.0, 20.0),
)


def bases_table(rng: np.random.Generator, n: int) -> tuple[pd.DataFrame, np.ndarray]:
    fat, sugars = rng.uniform(0.1, 5.0, n), rng.uniform(0.2, 7.0, n)
    protein, sodium, ph = rng.uniform(0.4, 8.0, n), rng.uniform(5.0, 80.0, n), rng.uniform(4.2, 7.2, n)
    carbohydrate = sugars + rng.uniform(0.2, 4.0, n)
    table = pd.DataFrame(
        {
            "base_id": [f"base-{i:02d}" for i in range(n)],
            "name": [f"Base {i}" for i in range(n)],
            "energy_kcal_per_100g": (9 * fat + 4 * protein + 4 * carbohydrate).round(1),
            "fat_g_per_100g": fat.round(2),
            "protein_g_per_100g": protein.round(2),
            "carbohydrate_g_per_100g": carbohydrate.round(2),
            "sugars_g_per_100g": sugars.round(2),
            "sodium_mg_per_100g": sodium.round(1),
            "ph": ph.round(2),
            "ethanol_g_per_100g": 0.0,
            "caffeine_mg_per_100g": 0.0,
            "density_g_per_ml": 1.03,
            "serving_g": 250.0,
            "cost_per_kg": rng.uniform(0.8, 4.0, n).round(2),
            "allergens": "none",
        }
    )
    traits = np.column_stack([fat, sugars, protein, sodium, ph])
    return table, (traits - traits.mean(axis=0)) / np.maximum(traits.std(axis=0), 1e-9)


def flavourings_table(rng: np.random.Generator, n: int) -> pd.DataFrame:
    forms = [_FORMS[i] for i in rng.choice(3, size=n, p=[0.6, 0.2, 0.2])]
    label = np.array([math.exp(rng.uniform(math.log(low), math.log(high))) for *_, low, high in forms])
    sugars = np.array([{"drops": 0.0, "syrup": 0.6, "powder": 0.3}[form] for form, *_ in forms])
    return pd.DataFrame(
        {
            "flavouring_id": [f"flav-{i:02d}" for i in range(n)],
            "name": [f"Flavouring {i}" for i in range(n)],
            "label_dose_g_per_kg": [float(f"{x:.3g}") for x in label],
            "family": [FAMILIES[i % len(FAMILIES)] for i in range(n)],
            "form": [form for form, *_ in forms],
            "carrier": [carrier for _, carrier, *_ in forms],
            "fat_loving": rng.uniform(0.0, 1.0, n).round(2),
            "drop_mg": [float(round(rng.uniform(18, 34), 1)) if form == "drops" else math.nan for form, *_ in forms],
            "density_g_per_ml": [1.02 if form != "powder" else math.nan for form, *_ in forms],
            "energy_kcal_per_g": [{"drops": 4.0, "syrup": 2.4, "powder": 3.8}[form] for form, *_ in forms],
            "fat_g_per_g": 0.0,
            "protein_g_per_g": 0.0,
            "carbohydrate_g_per_g": sugars,
            "sugars_g_per_g": sugars,
            "sodium_mg_per_g": 0.0,
            "ethanol_g_per_g": 0.0,
            "caffeine_mg_per_g": 0.0,
            "cost_per_g": rng.uniform(0.01, 0.3, n).round(3),
            "allergens": "none",
            "food_use": "yes",
        }
    )


def log_doses(rng: np.random.Generator, label: np.ndarray, fat: np.ndarray, fat_loving: np.ndarray) -> np.ndarray:
    n_b, n_f = len(fat), len(label)
    by_flavouring = 0.12 + 0.30 * rng.standard_normal(n_f)
    by_base = 0.22 * rng.standard_normal(n_b)
    by_fat = 0.15 * fat[:, None] * (fat_loving[None, :] - 0.5) / 0.29
    own = 0.2 * rng.standard_normal((n_b, n_f))
    return np.log(label)[None, :] + by_flavouring[None, :] + by_base[:, None] + by_fat + own


def affinities(rng: np.random.Generator, traits: np.ndarray, n_f: int) -> np.ndarray:
    weights = rng.standard_normal((traits.shape[1], n_f))
    by_trait = 0.45 * traits @ weights / math.sqrt(traits.shape[1])
    return by_trait + 0.45 * rng.standard_normal((len(traits), n_f))


def pairs(rng: np.random.Generator, family: np.ndarray) -> np.ndarray:
    n = len(family)
    block = symmetric(0.35 * rng.standard_normal((len(FAMILIES), len(FAMILIES))))[np.ix_(family, family)]
    factors = rng.standard_normal((n, 2))
    low_rank = 0.35 * factors @ np.diag([1.0, -1.0]) @ factors.T / math.sqrt(2)
    own = symmetric(0.35 * rng.standard_normal((n, n)))
    brilliant = symmetric(np.where(rng.random((n, n)) < 0.06, rng.uniform(1.5, 2.2, (n, n)), 0.0))
    return -0.55 + block + low_rank + own + brilliant


def symmetric(values: np.ndarray) -> np.ndarray:
    upper = np.triu(values)
    return upper + np.triu(values, 1).T


def centred(values: np.ndarray) -> np.ndarray:
    return values - values.mean(axis=0)
