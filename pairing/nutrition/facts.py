"""Figures of every item per g, worked out once, and their sums. Unknown is never zero."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from pairing.model.base import Base
from pairing.model.cache import IdentityCache
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.composition import allergens_of, compose
from pairing.nutrition.energy import (
    base_energy,
    base_energy_kj,
    energy_per_g,
    energy_per_g_kj,
    ethanol_g_per_g,
    named_ethanol_g_per_g,
)
from pairing.nutrition.factors import check_jurisdiction
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML
from pairing.quantities.drops import drop_mass

__all__ = ["SUMS", "WORDS", "PerGram", "facts_of", "sum_up"]

SUMS = ("kcal", "kj", "sugars_g", "sodium_mg", "ethanol_g", "caffeine_mg", "cost")
WORDS = ("energy", "energy", "sugars", "sodium", "ethanol", "caffeine", "cost")
"""What is added up, and how it is called when it is unknown."""


class PerGram(NamedTuple):
    """Figures of one item per g, in the order of `SUMS`, and what else a serving needs of it.

    Ethanol is what the column or the named carriers state, whichever is more.
    """

    per_g: tuple[float | None, ...]
    at_least: tuple[float, ...]
    g_per_ml: float | None
    mg_per_drop: float | None
    allergens: frozenset[str]
    allergens_unknown: tuple[str, ...]
    assumptions: tuple[str, ...]


def sum_up(parts: Sequence[tuple[PerGram, float]]) -> tuple[dict[str, float | None], dict[str, float]]:
    """Add up items by their masses in g: each of `SUMS` by name, None where unknown, and what it is at least."""
    exact: dict[str, float | None] = {}
    least: dict[str, float] = {}
    for n, name in enumerate(SUMS):
        total, known, bound = 0.0, True, 0.0
        for facts, grams in parts:
            value = facts.per_g[n]
            if value is not None:
                total += value * grams
                bound += value * grams
            elif grams > 0:
                known = False
                bound += facts.at_least[n] * grams
        exact[name] = total if known else None
        least[name] = bound
    return exact, least


_CACHE: IdentityCache[PerGram] = IdentityCache()


def facts_of(item: Base | Flavouring, shelf: Shelf, jurisdiction: str) -> PerGram:
    """Return the facts of an item, worked out once for as long as it and its shelf live."""
    return _CACHE.of((item, shelf), lambda: _worked_out(item, shelf, jurisdiction), jurisdiction)


def _worked_out(item: Base | Flavouring, shelf: Shelf, jurisdiction: str) -> PerGram:
    check_jurisdiction(jurisdiction)
    if isinstance(item, Base):
        return _base_facts(item, shelf, jurisdiction)
    return _flavouring_facts(item, shelf, jurisdiction)


def _base_facts(plain: Base, shelf: Shelf, jurisdiction: str) -> PerGram:
    base = compose(plain, shelf)
    per_100g = (
        base_energy(base, jurisdiction),
        base_energy_kj(base, jurisdiction),
        base.sugars_g_per_100g,
        base.sodium_mg_per_100g,
        base.ethanol_g_per_100g,
        base.caffeine_mg_per_100g,
        None if base.cost_per_kg is None else base.cost_per_kg / 10,
    )
    known, unknown = allergens_of(plain, shelf)
    assumed = () if base.density_g_per_ml else (f"{plain.name}: density {DEFAULT_DENSITY_G_PER_ML:g} g/ml assumed",)
    per_g = tuple(None if v is None else v / 100 for v in per_100g)
    return PerGram(per_g, (0.0,) * len(SUMS), base.density_g_per_ml, None, known, unknown, assumed)


def _flavouring_facts(flavouring: Flavouring, shelf: Shelf, jurisdiction: str) -> PerGram:
    kcal, kj = energy_per_g(flavouring, jurisdiction), energy_per_g_kj(flavouring, jurisdiction)
    name = flavouring.name
    per_g = (
        kcal.value,
        kj.value,
        flavouring.sugars_g_per_g,
        flavouring.sodium_mg_per_g,
        ethanol_g_per_g(flavouring),
        flavouring.caffeine_mg_per_g,
        flavouring.cost_per_g,
    )
    ethanol_least = math.fsum(g or 0.0 for g in named_ethanol_g_per_g(flavouring))
    at_least = (kcal.low, kj.low, 0.0, 0.0, ethanol_least, 0.0, 0.0)
    drop = drop_mass(flavouring)
    assumed = []
    if drop.comes_in_drops and not drop.calibrated:
        assumed.append(f"{name}: a drop of {drop.mg:g} mg ({drop.low:g}–{drop.high:g}), {drop.source}")
    if flavouring.density_g_per_ml is None:
        assumed.append(f"{name}: density 1.00 g/ml assumed for its ml")
    if kcal.known and kcal.low < kcal.high:
        assumed.append(f"{name}: {kcal.low:.3g} to {kcal.high:.3g} kcal/g ({kcal.source})")
    known, unknown = allergens_of(flavouring, shelf)
    mg = drop.mg if drop.comes_in_drops else None
    return PerGram(per_g, at_least, flavouring.density_g_per_ml, mg, known, unknown, tuple(assumed))
