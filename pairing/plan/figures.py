"""What a serving of each candidate comes to, and which candidates stay within every number of a brief.

Unknown never passes: a value that a limit needs and nobody stated fails that limit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from pairing.nutrition.alcohol import base_without_ethanol_g_per_ml, ethanol_pct_vv
from pairing.nutrition.composition import compose
from pairing.nutrition.energy import base_energy
from pairing.nutrition.serving import traits
from pairing.stock.held import in_stock_g

if TYPE_CHECKING:
    from pairing.model.brief import Brief
    from pairing.plan.pool import Pool

__all__ = ["NUMBERS", "ease", "enough", "figures", "number_limits", "within"]

NUMBERS: Mapping[str, tuple[str, str, str]] = {
    "max_added_kcal": ("added_kcal", "kcal_per_g", "energy"),
    "max_total_kcal": ("total_kcal", "kcal_per_g", "energy"),
    "max_added_cost": ("added_cost", "cost_per_g", "cost"),
    "max_ethanol_pct_vv": ("ethanol_pct_vv", "ethanol_g_per_g", "ethanol"),
}
"""Numeric limits: the figure that each one bounds, the trait that adds to it, and what must be known for it."""
_TOLERANCE = 1e-9
_LEAST = 0.6  # share of its dose to which a flavouring may be lowered to meet limits; below that it is not tasted
_MARGIN = 0.999


def figures(pool: Pool, brief: Brief) -> dict[str, np.ndarray]:
    """Return per serving of every candidate: added and total kcal, added cost, ethanol % by volume; NaN unknown."""
    grams, serving = pool.grams(brief), pool.serving_g(brief)
    per_g = _per_g(pool)
    bases = [compose(b, pool.shelf) for b in pool.shelf.bases.values()]
    kcal_per_100g = _numbers(base_energy(b, pool.shelf.jurisdiction) for b in bases)[pool.recipes.base]
    added = _sum(grams, per_g["kcal_per_g"])
    ethanol_per_100g = _numbers(b.ethanol_g_per_100g for b in bases)[pool.recipes.base]
    ethanol = _sum(grams, per_g["ethanol_g_per_g"]) + ethanol_per_100g * serving / 100.0
    density = _numbers(map(base_without_ethanol_g_per_ml, bases))[pool.recipes.base]
    return {
        "added_kcal": added,
        "total_kcal": added + kcal_per_100g * serving / 100.0,
        "added_cost": _sum(grams, per_g["cost_per_g"]),
        "ethanol_pct_vv": ethanol_pct_vv(ethanol, serving + grams.sum(axis=1), density),
    }


def number_limits(pool: Pool, brief: Brief) -> dict[str, np.ndarray]:
    """Return which candidates stay within each numeric limit, and which can be made from what is in stock."""
    found: dict[str, np.ndarray] = {}
    if brief.limits:
        values = figures(pool, brief)
        for name, limit in brief.limits.items():
            found[name] = values[NUMBERS[name][0]] <= limit * (1 + _TOLERANCE) + _TOLERANCE
    if np.isfinite(stock := _stock(pool)).any():
        found["stock"] = np.asarray((pool.grams(brief) <= stock).all(axis=1))
    if np.isfinite(held := _base_stock(pool)).any():
        found["stock"] = np.asarray(found.get("stock", True) & (pool.serving_g(brief) <= held))
    return found


def enough(name: str, pool: Pool, brief: Brief) -> str:
    """Say which value of one limit on numbers lets a candidate of a pool pass; empty when none does."""
    if name in NUMBERS:
        value = float(np.nanmin([*figures(pool, brief)[NUMBERS[name][0]], np.inf]))
        if not np.isfinite(value):
            return ""
        unit = 10.0 ** (math.floor(math.log10(value)) - 2)  # above the limit that it broke, so above 0
        return f"{name} {math.ceil(value / unit * (1 + _TOLERANCE)) * unit:.4g} is enough"
    grams = pool.grams(brief)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(grams > 0, _stock(pool) / grams, np.inf).min(axis=1)
    share = np.minimum(share, _base_stock(pool) / pool.serving_g(brief))
    serving = float(np.max(np.where(np.isfinite(share), share, 0.0) * pool.serving_g(brief), initial=0.0))
    return f"serving_g {math.floor(serving)} is small enough" if serving >= 1 else "none is left of any"


def _stock(pool: Pool) -> np.ndarray:
    """G in stock of every slot; what is not counted is there."""
    stock = _numbers(in_stock_g(f, pool.shelf) for f in pool.shelf.flavourings.values())
    return np.asarray(np.append(np.where(np.isnan(stock), np.inf, stock), np.inf)[pool.recipes.flavouring])


def _base_stock(pool: Pool) -> np.ndarray:
    """G in stock of the base of every candidate; what is not counted is there."""
    stock = _numbers(in_stock_g(b, pool.shelf) for b in pool.shelf.bases.values())
    return np.asarray(np.where(np.isnan(stock), np.inf, stock)[pool.recipes.base])


def within(pool: Pool, brief: Brief) -> np.ndarray:
    """Return which candidates stay within all of them."""
    return np.asarray(np.logical_and.reduce([np.ones(len(pool), dtype=bool), *number_limits(pool, brief).values()]))


def ease(pool: Pool, brief: Brief) -> Pool:
    """Lower doses where that meets a broken limit, none below the least share of itself that is still tasted.

    The flavouring that takes most of the limit is lowered; where that is not enough, all that take of it, in proportion
    to what each has left above its least.
    """
    if not brief.limits or not len(pool):
        return pool
    per_g, first = _per_g(pool), pool.recipes.dose_g_per_kg
    for name, limit in brief.limits.items():
        figure, trait, _ = NUMBERS[name]
        value = figures(pool, brief)[figure]
        broken = value > limit
        if not broken.any():
            continue
        added = value - figures(replace(pool, recipes=pool.recipes.at_doses(np.zeros_like(first))), brief)[figure]
        held = np.nan_to_num(pool.grams(brief) * per_g[trait])
        spare = np.nan_to_num(1.0 - _LEAST * first / pool.recipes.dose_g_per_kg)
        with np.errstate(divide="ignore", invalid="ignore"):
            room = np.nan_to_num(held * (added / held.sum(axis=1))[:, None]) * spare
            over = value - limit + (1.0 - _MARGIN) * added
            most = np.where(np.arange(room.shape[1]) == room.argmax(axis=1)[:, None], room, 0.0)
            given = np.where((most.sum(axis=1) >= over)[:, None], most, room)
            part = over / given.sum(axis=1)
        lowered = broken & (part <= 1.0)
        factor = np.where(lowered[:, None] & (given > 0), 1.0 - np.where(lowered, part, 0.0)[:, None] * spare, 1.0)
        dose = pool.recipes.dose_g_per_kg * factor
        pool = replace(pool, recipes=pool.recipes.at_doses(dose), eased=np.nanmin(dose / first, axis=1))
    return pool


def _per_g(pool: Pool) -> dict[str, np.ndarray]:
    """Traits per g of every slot; an empty slot adds nothing."""
    found = traits(pool.shelf, list(pool.shelf.flavourings))
    return {name: np.append(values, 0.0)[pool.recipes.flavouring] for name, values in found.items()}


def _sum(grams: np.ndarray, per_g: np.ndarray) -> np.ndarray:
    """Sum over slots; a slot without flavouring adds nothing, an unknown value makes the sum unknown."""
    return np.asarray(np.where(grams > 0, grams * per_g, 0.0).sum(axis=1))


def _numbers(values: Iterable[float | None]) -> np.ndarray:
    return np.array([np.nan if v is None else v for v in values], dtype=float)
