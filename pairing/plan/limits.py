"""Hard limits of a brief on what goes in: which bases and flavourings may be used at all.

Unknown never passes: a value that a limit needs and nobody stated fails that limit.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pairing.model.shelf import lineage
from pairing.model.taster import Taster
from pairing.nutrition.composition import allergens_of
from pairing.nutrition.maximum import maximum_of
from pairing.safety.people import Person, people_of
from pairing.safety.stops import barred_items, no_food_items, stops

if TYPE_CHECKING:
    from pairing.learning.answers import Answers
    from pairing.model.brief import Brief
    from pairing.model.shelf import Shelf
    from pairing.plan.pool import Pool

__all__ = ["ItemLimit", "drinkers", "item_limits", "not_stopped", "passes", "present_tasters"]


@dataclass(frozen=True)
class ItemLimit:
    """One limit on what may go in: which bases and flavourings pass, in shelf order, and whose facts are unknown."""

    base: np.ndarray
    flavouring: np.ndarray
    unknown: tuple[str, ...] = ()


def present_tasters(shelf: Shelf, brief: Brief) -> tuple[str, ...]:
    """Return who may drink: the brief's tasters; when it names none, everyone on the shelf, to be on the safe side."""
    return tuple(shelf.tasters) if brief.tasters is None else brief.tasters


def drinkers(shelf: Shelf, brief: Brief) -> tuple[Person, ...]:
    """Return who may drink, with body mass and age; when nobody is known, one adult."""
    return people_of(present_tasters(shelf, brief), shelf)


def not_stopped(model: Answers, pool: Pool, brief: Brief) -> dict[str, np.ndarray]:
    """Return, by the kind of caution, which candidates no caution stops."""
    shelf = model.shelf
    found = stops(
        shelf,
        pool.recipes,
        pool.serving_g(brief),
        drinkers(shelf, brief),
        rules=model.rules,
        already=brief.swallowed,
    )
    return {why: ~mask for why, mask in found.items()}


def item_limits(model: Answers, brief: Brief) -> dict[str, ItemLimit]:
    """Return every limit of a brief that concerns single items, by the name of its field."""
    shelf = model.shelf
    bases, flavourings = shelf.bases, shelf.flavourings
    all_bases = np.ones(len(bases), bool)
    all_flavourings = np.ones(len(flavourings), bool)
    found = {"food_use": ItemLimit(all_bases, np.array([f.suggestable for f in flavourings.values()], dtype=bool))}
    no_food = no_food_items(shelf)
    if any(mask.any() for mask in no_food):
        found["no food"] = ItemLimit(~no_food[0], ~no_food[1])
    permitted = np.array([maximum_of(f, shelf) != 0 for f in flavourings.values()], dtype=bool)
    if not permitted.all():
        found["max_dose_g_per_kg"] = ItemLimit(all_bases, permitted)
    if brief.bases is None and not (drinks := _drinks(model)).all():
        found["made_from"] = ItemLimit(drinks, all_flavourings)
    if brief.bases is not None:
        found["bases"] = ItemLimit(_among(bases, brief.bases), all_flavourings)
    if brief.on_hand is not None:
        found["on_hand"] = ItemLimit(all_bases, _among(flavourings, brief.on_hand))
    if brief.never is not None:
        found["never"] = ItemLimit(all_bases, ~_of(shelf, brief.never))
    if brief.avoid_allergens:
        found["avoid_allergens"] = _free_of(shelf, brief.avoid_allergens)
    barred = barred_items(shelf, drinkers(shelf, brief))
    if any(mask.any() for mask in barred):
        found["tasters"] = ItemLimit(~barred[0], ~barred[1])
    return found


def passes(limit: ItemLimit, pool: Pool) -> np.ndarray:
    """Return which candidates pass a limit on items."""
    return limit.base[pool.recipes.base] & np.append(limit.flavouring, True)[pool.recipes.flavouring].all(axis=1)


def _drinks(model: Answers) -> np.ndarray:
    """Bases that are drunk as they are: what is only a part of another one, such as a powder, is not poured.

    What is seasoned is a drink still: a part that the whole is a version of.
    """
    shelf = model.shelf
    parts = {part for base in shelf.bases.values() for part in base.made_from or () if part != base.version_of}
    drunk = set(model.log.recipes.base.tolist())
    return np.array([b not in parts or i in drunk for i, b in enumerate(shelf.bases)], dtype=bool)


def _among(known: Iterable[str], wanted: Iterable[str]) -> np.ndarray:
    chosen = set(wanted)
    return np.array([name in chosen for name in known], dtype=bool)


def _of(shelf: Shelf, wanted: Iterable[str]) -> np.ndarray:
    """Flavourings that are among those named, or a version or dilution of one of them."""
    chosen = set(wanted)
    return np.array([not chosen.isdisjoint(lineage(name, shelf.flavourings)) for name in shelf.flavourings], dtype=bool)


def _free_of(shelf: Shelf, allergens: frozenset[str]) -> ItemLimit:
    bases, flavourings = barred_items(shelf, people_of([Taster(taster="the brief", avoid_allergens=allergens)], shelf))
    undeclared = [i for i, base in shelf.bases.items() if allergens_of(base, shelf)[1]]
    undeclared += [i for i, flavouring in shelf.flavourings.items() if allergens_of(flavouring, shelf)[1]]
    return ItemLimit(~bases, ~flavourings, tuple(undeclared))
