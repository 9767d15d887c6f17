"""How much of every substance with a limit recipes serve: one matrix per shelf, all recipes at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pairing.model.base import Base
from pairing.model.cache import IdentityCache
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf, lineage
from pairing.nutrition.alcohol import base_without_ethanol_g_per_ml
from pairing.nutrition.composition import composed_or_stated
from pairing.nutrition.content import polyols_g_per_g, substances_of, unmeasured_of
from pairing.nutrition.energy import ethanol_g_per_g, named_ethanol_g_per_g
from pairing.nutrition.names import is_neat_essential_oil, suspected
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML
from pairing.safety.limits import limits

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pairing.model.recipes import Recipes

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Served", "held_in", "served"]


@dataclass(frozen=True)
class _PerGram:
    """mg in 1 g of every item of a shelf: bases, then flavourings, then a row of nothing for empty slots."""

    column: Mapping[str, int]
    measured: Floats
    unmeasured: Floats
    density_g_per_ml: Floats


@dataclass(frozen=True)
class Served:
    """What n servings hold.

    Attributes
    ----------
    column : mapping of substance to int
        Place of each substance with a limit that anything on the shelf holds.
    measured : array, shape (n, substances)
        mg; lower bounds, since what nobody states is left out.
    unmeasured : array, shape (n, substances)
        mg that there may be on top, where an item names the substance without an amount.
    finished_g : array, shape (n,)
    density_g_per_ml : array, shape (n,)
        Of the base without its ethanol.
    """

    column: Mapping[str, int]
    measured: Floats
    unmeasured: Floats
    finished_g: Floats
    density_g_per_ml: Floats

    def __len__(self) -> int:
        return len(self.finished_g)

    def of(self, substance: str, *, at_most: bool = False) -> Floats:
        """Return mg of a substance in each; ``at_most`` with what it may hold unmeasured."""
        at = self.column.get(substance)
        if at is None:
            return np.zeros(len(self))
        return self.measured[:, at] + (self.unmeasured[:, at] if at_most else 0.0)

    def together(self) -> Served:
        """Return all of them as one, as for a session."""
        total = self.finished_g.sum()
        density = float((self.density_g_per_ml * self.finished_g).sum() / total) if total > 0 else 1.0
        measured, unmeasured = self.measured.sum(axis=0)[None, :], self.unmeasured.sum(axis=0)[None, :]
        return Served(self.column, measured, unmeasured, np.array([total]), np.array([density]))

    def times(self, factor: Floats) -> Served:
        """Return each so many times over."""
        wide = np.asarray(factor, dtype=float)[:, None]
        return Served(
            self.column,
            self.measured * wide,
            self.unmeasured * wide,
            self.finished_g * wide[:, 0],
            self.density_g_per_ml,
        )


def served(shelf: Shelf, recipes: Recipes, base_g: Floats) -> Served:
    """Return what recipes serve, on so many g of base each; an open dose adds nothing.

    Parameters
    ----------
    shelf : Shelf
    recipes : Recipes
        Numeric doses.
    base_g : array, shape (n,)
    """
    per_g = _per_gram(shelf)
    places = np.where(recipes.present, len(shelf.bases) + recipes.flavouring, len(per_g.measured) - 1)
    dose = np.nan_to_num(recipes.dose_g_per_kg)
    finished = base_g / (1.0 - dose.sum(axis=1) / 1000.0)
    grams = finished[:, None] * dose / 1000.0

    def mg(of: Floats) -> Floats:
        return np.asarray(base_g[:, None] * of[recipes.base] + np.einsum("nk,nks->ns", grams, of[places]))

    density = per_g.density_g_per_ml[recipes.base]
    return Served(per_g.column, mg(per_g.measured), mg(per_g.unmeasured), finished, density)


_CACHE: IdentityCache[_PerGram] = IdentityCache()


def _per_gram(shelf: Shelf) -> _PerGram:
    return _CACHE.of((shelf,), lambda: _worked_out(shelf))


def _worked_out(shelf: Shelf) -> _PerGram:
    column = {name: i for i, name in enumerate(sorted({limit.substance for limit in limits()}))}
    bases = [composed_or_stated(base, shelf) for base in shelf.bases.values()]
    items: list[Base | Flavouring] = [*bases, *shelf.flavourings.values()]
    measured, unmeasured = np.zeros((len(items) + 1, len(column))), np.zeros((len(items) + 1, len(column)))
    for i, item in enumerate(items):
        for array, found in ((measured, _measured(item, shelf)), (unmeasured, _open(item, shelf))):
            for name, mg in found.items():
                if name in column:
                    array[i, column[name]] = mg
    density = [base_without_ethanol_g_per_ml(base) or DEFAULT_DENSITY_G_PER_ML for base in bases]
    there = np.asarray(((measured > 0) | (unmeasured > 0)).any(axis=0), dtype=bool)
    held = {name: i for i, name in enumerate(name for name in column if there[column[name]])}
    return _PerGram(held, measured[:, there], unmeasured[:, there], np.array(density, dtype=float))


def _measured(item: Base | Flavouring, shelf: Shelf) -> dict[str, float]:
    found = {name: mg for name, mg in substances_of(item, shelf).items() if mg is not None}
    if isinstance(item, Base):
        ethanol_mg, acids_mg = (10.0 * (g or 0.0) for g in (item.ethanol_g_per_100g, item.acids_g_per_100g))
    else:
        known = ethanol_g_per_g(item)
        ethanol_mg = 1000.0 * (sum(g or 0.0 for g in named_ethanol_g_per_g(item)) if known is None else known)
        acids_mg = 1000.0 * (item.acids_g_per_g or 0.0)
    neat_mg = 1000.0 if is_neat_essential_oil(item, shelf) else 0.0
    polyols_mg = 1000.0 * polyols_g_per_g(item, shelf)
    return found | {"ethanol": ethanol_mg, "acids": acids_mg, "polyols": polyols_mg, "essential oil": neat_mg}


def _open(item: Base | Flavouring, shelf: Shelf) -> dict[str, float]:
    return _of_parents(item, shelf) | suspected(item, shelf) | unmeasured_of(item, shelf)


def _of_parents(item: Base | Flavouring, shelf: Shelf) -> dict[str, float]:
    """Return what a version or a dilution does not state and what it comes from holds, mg/g at most."""
    items = shelf.bases if isinstance(item, Base) else shelf.flavourings
    own, stated = item.base_id if isinstance(item, Base) else item.flavouring_id, substances_of(item, shelf)
    found: dict[str, float] = {}
    for name in lineage(own, items)[1:] if own in items else ():
        for substance, mg in substances_of(items[name], shelf).items():
            if mg and stated.get(substance) is None:
                found[substance] = max(mg, found.get(substance, 0.0))
    return found


def held_in(grams: Mapping[str, float], shelf: Shelf) -> Served:
    """Return what masses of bases and flavourings (g by id) hold, as one."""
    per_g, n = _per_gram(shelf), len(shelf.bases)
    of = [shelf.base_places[i] if i in shelf.bases else n + shelf.flavouring_places[i] for i in grams]
    weight = np.array(list(grams.values()), dtype=float)
    measured, unmeasured = weight @ per_g.measured[of], weight @ per_g.unmeasured[of]
    density = np.full(1, DEFAULT_DENSITY_G_PER_ML, dtype=float)
    return Served(per_g.column, measured[None, :], unmeasured[None, :], np.array([weight.sum()]), density)
