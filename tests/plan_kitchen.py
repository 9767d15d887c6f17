"""A small invented kitchen with every kind of unknown, and models learned on it, for planning tests."""

from __future__ import annotations

import itertools
from functools import cache

import numpy as np
import pandas as pd
import simulated

from pairing.learned import Learned, learn_shelf
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster

BASES = (
    Base(
        base_id="oat",
        name="Oat drink",
        energy_kcal_per_100g=45,
        ethanol_g_per_100g=0,
        serving_g=200,
        allergens="gluten",
        density_g_per_ml=1.03,
    ),
    Base(base_id="rice", name="Rice drink", energy_kcal_per_100g=52, ethanol_g_per_100g=0, allergens="none"),
    Base(base_id="whey", name="Whey drink", energy_kcal_per_100g=60, ethanol_g_per_100g=0, allergens="milk"),
    Base(base_id="brew", name="Tea brew", allergens="none"),
)
FLAVOURINGS = (
    Flavouring(
        flavouring_id="plum",
        name="Plum syrup",
        form="syrup",
        label_dose_g_per_kg=30,
        family="fruit",
        energy_kcal_per_g=2.5,
        ethanol_g_per_g=0,
        cost_per_g=0.02,
        allergens="none",
        stock_g=100,
        food_use="yes",
    ),
    Flavouring(
        flavouring_id="pear",
        name="Pear drops",
        form="drops",
        label_dose_g_per_kg=1.5,
        family="fruit",
        energy_kcal_per_g=4,
        drop_mg=25,
        ethanol_g_per_g=0,
        cost_per_g=0.3,
        allergens="none",
        food_use="yes",
    ),
    Flavouring(
        flavouring_id="clove",
        name="Clove tincture",
        form="tincture",
        label_dose_g_per_kg=2,
        family="spice",
        energy_kcal_per_g=5,
        carrier="ethanol:0.7",
        ethanol_g_per_g=0.7,
        cost_per_g=0.2,
        allergens="none",
        food_use="yes",
    ),
    Flavouring(
        flavouring_id="almond",
        name="Almond paste",
        form="paste",
        label_dose_g_per_kg=40,
        family="nut",
        energy_kcal_per_g=6,
        ethanol_g_per_g=0,
        cost_per_g=0.03,
        allergens="almond",
        food_use="yes",
    ),
    Flavouring(flavouring_id="mystery", name="Unlabelled drops", form="drops", label_dose_g_per_kg=1, food_use="yes"),
    Flavouring(
        flavouring_id="perfume",
        name="Rose scent",
        form="drops",
        label_dose_g_per_kg=1,
        food_use="unknown",
        energy_kcal_per_g=0.1,
        ethanol_g_per_g=0,
        cost_per_g=0.1,
        allergens="none",
    ),
    Flavouring(
        flavouring_id="mint",
        name="Mint drops",
        form="drops",
        label_dose_g_per_kg=0.8,
        family="herb",
        energy_kcal_per_g=4,
        max_dose_g_per_kg=0.7,
        ethanol_g_per_g=0,
        cost_per_g=0.4,
        allergens="none",
        stock_g=0.05,
        food_use="yes",
    ),
)
ANA = Taster(taster="ana", avoid_allergens="almond")
BO = Taster(taster="bo", avoid="ethanol")


def shelf(*tasters: Taster) -> Shelf:
    return Shelf.of(BASES, FLAVOURINGS, tasters)


def kitchen_log(n: int = 40, seed: int = 0) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    label = {f.flavouring_id: float(f.label_dose_g_per_kg or 1) for f in FLAVOURINGS}
    ids = [f for f in label if f not in ("perfume", "mint")]
    combos = [(f,) for f in ids] + list(itertools.combinations(ids, 2))
    rows = []
    for t in range(n):
        base = ("oat", "rice", "whey")[rng.integers(3)]
        score = 5.0 + rng.normal(0, 0.7)
        for f in (chosen := combos[rng.integers(len(combos))]):
            score += 0.8 if f == "plum" else -0.3
            dose = label[f] * float(np.exp(rng.normal(0, 0.3)))
            rows.append({"trial_id": f"t{t:03d}", "base_id": base, "flavouring_id": f, "dose_g_per_kg": dose})
        for row in rows[-len(chosen) :]:
            row |= {"liking": float(np.clip(round(score), 1, 9)), "strength": int(rng.integers(2, 5)), "reading": 1.0}
            row |= {"taster": ("ana", "bo")[t % 2], "stepped": "no"}
    return pd.DataFrame(rows)


@cache
def kitchen(*tasters: Taster) -> Learned:
    """The kitchen after forty cups; no model is ever changed, so tests share it."""
    return learn_shelf(shelf(*tasters), kitchen_log())


@cache
def palate_model(seed: int = 5, n: int = 60, n_bases: int = 6, n_flavourings: int = 24) -> Learned:
    """A simulated palate after ``n`` random trials."""
    palate = simulated.make_palate(seed, n_bases, n_flavourings)
    log = palate.log(n, np.random.default_rng(seed))
    return learn_shelf(Shelf.from_tables(palate.bases_df, palate.flavourings_df), log)


@cache
def empty_model(seed: int = 5) -> Learned:
    """The same palate before its first cup."""
    palate = simulated.make_palate(seed)
    log = palate.log(1, np.random.default_rng(0)).iloc[:0]
    return learn_shelf(Shelf.from_tables(palate.bases_df, palate.flavourings_df), log)
