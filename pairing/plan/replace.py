"""What can stand in for a bottle: by how it tastes and by the company that it keeps, at a dose of the same strength."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.recipe import Recipe
from pairing.model.taster import Taster
from pairing.nutrition.names import may_be_suggested
from pairing.plan.pool import most_unasked
from pairing.plan.wheel import alike
from pairing.safety.people import people_of
from pairing.safety.stops import barred_items

if TYPE_CHECKING:
    import pandas as pd

    from pairing.learning.answers import Answers

__all__ = ["StandIn", "free_of", "like", "pair_points", "stand_ins", "with_stand_in"]

_TASTE, _COMPANY = 0.7, 0.3
"""How much the words and the shared partners count (our choice): a stand-in has to taste alike first."""


@dataclass(frozen=True)
class StandIn:
    """One candidate: how much it tastes alike, and keeps the same company (cosine of synergies), 0 to 1."""

    flavouring_id: str
    taste: float
    company: float

    @property
    def score(self) -> float:
        """Both together."""
        return _TASTE * self.taste + _COMPANY * max(self.company, 0.0)


def free_of(model: Answers, allergens: Iterable[str], tasters: Iterable[str] = ()) -> set[str]:
    """Return the flavourings without these allergens and what these tasters avoid; unknown or so named is not free."""
    shelf = model.shelf
    asked = Taster(taster="who asks", avoid_allergens=frozenset(allergens))
    _, barred = barred_items(shelf, people_of([asked, *tasters], shelf))
    return {name for name, out in zip(shelf.flavourings, barred.tolist(), strict=True) if not out}


def stand_ins(
    model: Answers, flavouring_id: str, synergy: np.ndarray, among: Iterable[str], n: int = 5
) -> list[StandIn]:
    """Return the best stand-ins among some flavourings; those of no food use, and its own versions, are left out.

    Parameters
    ----------
    synergy : array, shape (n_flavourings, n_flavourings)
        Points of every pair, by place on the shelf.
    """
    shelf, places = model.shelf, model.shelf.flavouring_places
    own, at = shelf.flavouring(flavouring_id), places[flavouring_id]
    allowed = set(among)
    found = []
    for name, other in shelf.flavourings.items():
        if name == flavouring_id or name not in allowed or not may_be_suggested(other, shelf):
            continue
        if flavouring_id in (other.version_of, name) or own.version_of == name or other.role != own.role:
            continue
        a, b = np.delete(synergy[at], [at, places[name]]), np.delete(synergy[places[name]], [at, places[name]])
        norm = float(np.linalg.norm(a) * np.linalg.norm(b))
        found.append(StandIn(name, alike(own, other), float(a @ b) / norm if norm > 0 else 0.0))
    return sorted(found, key=lambda one: (-one.score, one.flavouring_id))[:n]


def with_stand_in(model: Answers, recipe: Recipe, flavouring_id: str, other_id: str) -> Recipe:
    """Return a recipe with a stand-in at the dose that tastes as strong: as far from its needed dose as the old one."""
    kept = {name: dose for name, dose in recipe.doses.items() if name != flavouring_id}
    means = []
    for name in (flavouring_id, other_id):
        ids = tuple(sorted({*kept, name}))
        log_needed, _ = model.dose_posterior([recipe.base_id], [ids])
        means.append(float(log_needed[0][ids.index(name)]))
    dose = recipe.doses[flavouring_id]
    matched = np.exp(means[1]) if dose is None else float(dose) * np.exp(means[1] - means[0])
    shelf = model.shelf
    most = most_unasked(model)[list(shelf.bases).index(recipe.base_id), shelf.flavouring_places[other_id]]
    return Recipe(recipe.base_id, {**kept, other_id: float(f"{min(matched, most, 900.0):.3g}")})


def like(
    model: Answers, recipe: Recipe, synergy: np.ndarray, avoid_allergens: Iterable[str], tasters: Iterable[str] = ()
) -> dict[str, Any]:
    """Return the fields of a brief for cups like a recipe: what may stay is in each, the rest is stood in for.

    What tastes alike stands in; company alone counts where nothing does.
    """
    free = free_of(model, avoid_allergens, tasters)
    kept = tuple(name for name in recipe.doses if name in free)
    others = [name for name in recipe.doses if name not in free]
    replaced = others or list(recipe.doses)[-1:]
    kept = kept if others else kept[:-1]
    found: list[StandIn] = []
    for name in replaced:
        ranked = stand_ins(model, name, synergy, free - set(recipe.doses))
        found += [one for one in ranked if one.taste > 0] or ranked
    return {
        "bases": (recipe.base_id,),
        "must_have": kept or None,
        "on_hand": tuple(dict.fromkeys((*kept, *(one.flavouring_id for one in found)))),
        "max_flavourings": max(1, len(recipe.doses)),
    }


def pair_points(model: Answers, table: pd.DataFrame) -> np.ndarray:
    """Return the synergy of every pair as a matrix by place on the shelf, from the rows of `Learned.synergy`."""
    places = model.shelf.flavouring_places
    points = np.zeros((len(places), len(places)))
    for a, b, value in zip(table["flavouring_a"], table["flavouring_b"], table["synergy"], strict=True):
        points[places[a], places[b]] = points[places[b], places[a]] = value
    return points
