"""Typical plain drink bases, to start from before the label is at hand.

Composition per 100 g as drunk, rounded, from memory of common food tables; every one is marked *typical, replace with
your label*. Sugar, salt and fat differ between makers by a factor of two and more.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pairing.api import Base, Composition, hookimpl

PAIRING_API = (1, 1)

SOURCE = "typical, from memory: replace with your label"

# name, then NUMBERS, then allergens and tags; what else is in it only a label tells: no list of allergens is complete
TYPICAL: dict[str, tuple[Any, ...]] = {
    "water": ("Water", 0, 0, 0, 0, 0, 0, 1, 7.0, 1.0, 1.00, None, "clear"),
    "whole-milk": ("Whole milk", 64, 3.6, 3.3, 4.7, 4.7, 0, 43, 6.7, 2.1, 1.03, "milk;?", "dairy"),
    "low-fat-milk": ("Low-fat milk", 47, 1.6, 3.4, 4.8, 4.8, 0, 44, 6.7, 1.9, 1.03, "milk;?", "dairy"),
    "skimmed-milk": ("Skimmed milk", 34, 0.1, 3.4, 4.9, 4.9, 0, 45, 6.7, 1.8, 1.035, "milk;?", "dairy"),
    "soy-drink": ("Soy drink, unsweetened", 36, 1.8, 3.3, 1.2, 0.6, 0.6, 35, 7.0, 5.0, 1.02, "soy;?", "plant"),
    "oat-drink": ("Oat drink", 45, 1.4, 0.9, 6.9, 3.8, 0.8, 40, 6.8, 10.0, 1.03, "gluten;?", "plant;grain"),
    "almond-drink": (
        "Almond drink, unsweetened",
        15,
        1.2,
        0.5,
        0.3,
        0.1,
        0.3,
        55,
        7.5,
        6.0,
        1.01,
        "nuts;?",
        "plant;nutty",
    ),
    "coconut-drink": ("Coconut drink from a carton", 21, 1.2, 0.2, 2.3, 1.8, 0.1, 45, 6.5, 4.0, 1.01, None, "plant"),
    "rice-drink": ("Rice drink", 49, 1.0, 0.2, 9.8, 5.0, 0.1, 40, 6.8, 3.0, 1.03, None, "plant;grain"),
    "whey-shake": ("Whey protein in water, plain", 39, 0.6, 7.8, 0.6, 0.5, 0, 30, 6.6, 3.0, 1.02, "milk;?", "protein"),
    "pea-shake": ("Pea protein in water, plain", 40, 0.7, 7.9, 0.5, 0.1, 0.3, 110, 7.2, 15.0, 1.03, None, "protein"),
    "black-tea": ("Black tea", 1, 0, 0, 0.2, 0, 0, 3, 5.0, 1.0, 1.00, None, "bitter;clear"),
    "black-coffee": ("Black coffee, filtered", 1, 0, 0.1, 0, 0, 0, 2, 5.1, 1.0, 1.00, None, "bitter"),
}


NUMBERS = (
    "energy_kcal_per_100g", "fat_g_per_100g", "protein_g_per_100g", "carbohydrate_g_per_100g", "sugars_g_per_100g",
    "fibre_g_per_100g", "sodium_mg_per_100g", "ph", "viscosity_mpa_s", "density_g_per_ml",
)  # fmt: skip


@hookimpl
def pairing_bases() -> Iterator[Base]:
    """Yield one base per row."""
    for base_id, (name, *values, allergens, tags) in TYPICAL.items():
        facts: dict[str, Any] = dict(zip(NUMBERS, values, strict=True))
        yield Base(base_id=base_id, name=f"{name} (typical)", allergens=allergens, tags=tags, source=SOURCE, **facts)


@hookimpl
def pairing_compositions(text: str) -> Iterator[Composition]:
    """Yield the rows whose name holds every word that was asked for."""
    words = text.casefold().split()
    for name, *values, _, _ in TYPICAL.values():
        if words and all(word in name.casefold() for word in words):
            yield Composition(name=name, source=SOURCE, values=dict(zip(NUMBERS, values, strict=True)))
