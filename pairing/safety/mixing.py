"""What a cup as a whole does: doses above a maximum, oil that floats, acid that erodes, what is no food."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from pairing.model.base import Base
from pairing.model.caution import Caution
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.maximum import first_version, maximum_of
from pairing.nutrition.names import EVERYBODY, never_for
from pairing.nutrition.oils import takes_up
from pairing.safety.served import Served

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["FULL", "acid", "extreme_ph", "floating_oil", "no_food", "over_maximum", "shares_of_maximum"]

FULL = 1.0 + 1e-9
"""Share of a maximum dose from which it is passed."""
_LEAST_PH, _MOST_PH = 2.0, 11.5
"""pH at or beyond which a liquid counts as corrosive: Regulation (EC) No 1272/2008, Annex I, 3.2 (from memory)."""
_SOUR_PH = 2.5
"""The sourest soft drinks have about this pH (common practice, no source)."""
_CITRIC_KA, _CITRIC_G_PER_MOL = 10**-3.13, 192.1
"""First dissociation of citric acid at 25 °C and its molar mass (CRC Handbook; from memory)."""
_LITTLE_PROTEIN_G_PER_100G = 0.2


def over_maximum(recipe: Recipe, shelf: Shelf) -> Iterator[Caution]:
    """Return the doses above the supplier's maximum, which versions and pre-dilutions of one flavouring share."""
    doses = {f: dose for f, dose in recipe.doses.items() if dose is not None}
    together: dict[str, dict[str, float]] = {}
    for name, share in shares_of_maximum(doses, shelf).items():
        together.setdefault(first_version(name, shelf), {})[name] = share
        if share > FULL:
            most = maximum_of(shelf.flavouring(name), shelf) or 0.0
            words = "{items}: {dose} g/kg is above the supplier's maximum of {most} g/kg"
            yield _above(words, (name,), {"dose": doses[name], "most": most})
    for found in together.values():
        if max(found.values()) <= FULL < sum(found.values()):
            words = "{items} are one flavouring: together {percent} % of the supplier's maximum"
            yield _above(words, tuple(found), {"percent": round(100 * sum(found.values()))})


def shares_of_maximum(doses: Mapping[str, float], shelf: Shelf) -> dict[str, float]:
    """Return which share of its maximum each dose takes up, of those that have one; more of none is infinite."""
    found = {}
    for name, dose in doses.items():
        most = maximum_of(shelf.flavouring(name), shelf)
        if most is not None:
            found[name] = dose / most if most > 0 else math.inf if dose > 0 else 0.0
    return found


def _above(words: str, items: tuple[str, ...], figures: Mapping[str, float]) -> Caution:
    return Caution(
        kind="dose",
        severity="stop",
        words=words,
        items=items,
        figures=figures,
        source="the supplier's maximum use level",
        cannot_know="the reason for the maximum: ask the supplier",
    )


def no_food(recipe: Recipe, shelf: Shelf) -> Iterator[Caution]:
    """Return what is a poison or no food by what is written about it, and what nobody declared to be meant for food."""
    items: list[tuple[str, Base | Flavouring]] = [
        (recipe.base_id, shelf.base(recipe.base_id)),
        *((i, shelf.flavouring(i)) for i in recipe.flavouring_ids),
    ]
    for name, item in items:
        for hint in never_for(item, shelf).get(EVERYBODY, ()):
            yield Caution(
                kind="no food",
                severity="stop",
                words=f"what is written about {{items}} suggests {hint.about}: {hint.limited}; ask the supplier",
                items=(name,),
                source=hint.cited,
                cannot_know="what is in the bottle: its name, tags, form and carriers are all that is read",
            )
    for name in recipe.flavouring_ids:
        flavouring = shelf.flavouring(name)
        if flavouring.suggestable:
            continue
        declared = flavouring.food_use == "no"
        yield Caution(
            kind="food use",
            severity="stop",
            words="{items} is declared as not for food"
            if declared
            else "{items} is not known to be meant for food: it may be perfume grade",
            items=(name,),
            source="the label" if declared else "common practice (no source)",
            cannot_know="the grade: read the label or ask the supplier in writing, then write food_use yes or no",
        )


def floating_oil(recipe: Recipe, base: Base, shelf: Shelf) -> Iterator[Caution]:
    """Return the oil-type flavourings that a base without fat, or of unknown fat, cannot take up."""
    oily = tuple(name for name in recipe.flavouring_ids if not takes_up(base, shelf.flavouring(name), shelf))
    if oily:
        why = "whose fat nobody states" if base.fat_g_per_100g is None else "which is fat-free"
        yield Caution(
            kind="oil",
            severity="warn",
            words=f"{{items}} is oil and floats on this base, {why}: droplets reach the mouth undiluted; use a "
            "water-soluble form or an emulsifier",
            items=oily,
            source="from memory; fat-free as in Regulation (EC) No 1924/2006, annex",
            cannot_know="whether the bottle holds an emulsifier: keep to the supplier's directions",
        )


def extreme_ph(shelf: Shelf) -> NDArray[np.bool_]:
    """Return which bases of a shelf have a pH that burns, in shelf order."""
    return np.array([_burns(base.ph) for base in shelf.bases.values()], dtype=bool)


def _burns(ph: float | None) -> bool:
    return ph is not None and not _LEAST_PH < ph < _MOST_PH


def acid(base: Base, held: Served) -> Iterator[Caution]:
    """Return what is said of the pH of a cup: as stated for the base, or as its acids make it in unbuffered water."""
    cannot = "which acid it is, and what buffers it: measure it"
    made = partial(Caution, kind="acid", items=(base.base_id,), cannot_know=cannot)
    if _burns(base.ph):
        yield made(
            severity="stop",
            words="pH {ph} ({items}): at or below 2, or from 11.5 up, it burns",
            figures={"ph": base.ph or 0.0},
            source="Regulation (EC) No 1272/2008, Annex I, 3.2.3 (from memory)",
        )
        return
    ph = _estimated(base, held)
    if ph is not None and ph < _SOUR_PH:
        yield made(
            severity="warn",
            words="about pH {ph}, reckoned as citric acid without its salts: below 2.5, more sour than soft drinks "
            "are, and harsh on teeth",
            figures={"ph": ph},
            source="common practice (no source); pKa 3.13 of citric acid, CRC Handbook (from memory)",
        )


def _estimated(base: Base, held: Served) -> float | None:
    grams_per_l = float(held.of("acids", at_most=True)[0] / held.finished_g[0])
    protein = base.protein_g_per_100g
    if grams_per_l <= 0 or protein is None or protein > _LITTLE_PROTEIN_G_PER_100G:
        return base.ph
    c = grams_per_l / _CITRIC_G_PER_MOL
    hydrogen = (-_CITRIC_KA + math.sqrt(_CITRIC_KA**2 + 4 * _CITRIC_KA * c)) / 2
    return min(-math.log10(hydrogen), 14.0 if base.ph is None else base.ph)
