"""What one serving comes to: masses, energy, sugars, sodium, ethanol, caffeine, cost. Unknown is never zero."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pairing.errors import QuantityError
from pairing.model.base import Base
from pairing.model.constants import MAX_SERVING_G
from pairing.model.doses import finished_g
from pairing.model.reason import Lack
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.alcohol import base_without_ethanol_g_per_ml, ethanol_pct_vv
from pairing.nutrition.composition import composed_or_stated
from pairing.nutrition.facts import SUMS, WORDS, facts_of, sum_up
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML

if TYPE_CHECKING:
    import numpy as np

__all__ = ["Serving", "per_100g", "serving", "traits"]


@dataclass(frozen=True, kw_only=True)
class Serving:
    """One serving, per base_g of base poured. None is unknown; `at_least` then holds what is known of the sum.

    Attributes
    ----------
    base_g, finished_g : float
    grams, ml : mapping of flavouring_id to float
    drops : mapping of flavouring_id to float or None
        None where it does not come in drops.
    added_kcal, added_kj, added_sugars_g, added_cost : float or None
        What the flavourings bring.
    total_kcal, total_kj, total_sugars_g, sodium_mg, ethanol_g, ethanol_pct_vv, caffeine_mg, total_cost : float or None
        The whole serving.
    at_least : mapping of field to float
        Lower bound of every sum that is unknown.
    unknown : tuple of Lack
        What is not known of which item.
    allergens : frozenset of str
        Declared for base, parts or flavourings.
    allergens_unknown : tuple of str
        Ids without a declaration.
    assumptions : tuple of str
    """

    base_g: float
    finished_g: float
    grams: Mapping[str, float]
    drops: Mapping[str, float | None]
    ml: Mapping[str, float]
    added_kcal: float | None
    added_kj: float | None
    total_kcal: float | None
    total_kj: float | None
    added_sugars_g: float | None
    total_sugars_g: float | None
    sodium_mg: float | None
    ethanol_g: float | None
    ethanol_pct_vv: float | None
    caffeine_mg: float | None
    added_cost: float | None
    total_cost: float | None
    at_least: Mapping[str, float]
    unknown: tuple[Lack, ...]
    allergens: frozenset[str]
    allergens_unknown: tuple[str, ...]
    assumptions: tuple[str, ...]
    jurisdiction: str = "EU"

    def lacking(self, what: str) -> tuple[str, ...]:
        """Return the ids of the items of which something is not known."""
        return tuple(lack.item_id for lack in self.unknown if lack.what == what)


def serving(recipe: Recipe, shelf: Shelf, serving_g: float | None = None, jurisdiction: str | None = None) -> Serving:
    """Return what one serving of a recipe comes to.

    Parameters
    ----------
    recipe : Recipe
        Numeric doses.
    shelf : Shelf
    serving_g : float, optional
        g of base poured; default the base's serving, else 250 g.
    jurisdiction : {"EU", "US"}, optional
        Whose energy factors count; default the shelf's.

    Raises
    ------
    QuantityError
        When a dose is open, or the serving is not between 1 g and 20 kg.
    UnknownIdError
        When the shelf lacks the base or a flavouring.

    Examples
    --------
    >>> from pairing.model.flavouring import Flavouring
    >>> oat = Base(base_id="oat", name="Oat", energy_kcal_per_100g=40)
    >>> date = Flavouring(flavouring_id="date", name="Date", energy_kcal_per_g=3)
    >>> found = serving(Recipe("oat", {"date": 200}), Shelf.of([oat], [date]), serving_g=240)
    >>> found.added_kcal, found.total_kcal, found.at_least["total_sugars_g"]
    (180.0, 276.0, 0.0)
    """
    law = shelf.jurisdiction if jurisdiction is None else jurisdiction
    base = shelf.base(recipe.base_id)
    base_g = _serving_g(base, serving_g)
    doses = _numeric(recipe)
    total_g = finished_g(base_g, doses)
    plain = facts_of(base, shelf, law)
    parts = [(name, total_g * dose / 1000, shelf.flavouring(name)) for name, dose in doses.items()]
    facts = [facts_of(flavouring, shelf, law) for _, _, flavouring in parts]
    added, added_least = sum_up([(f, g) for f, (_, g, _) in zip(facts, parts, strict=True)])
    total, total_least = sum_up([(plain, base_g), *((f, g) for f, (_, g, _) in zip(facts, parts, strict=True))])
    fields, whole = _fields(added, total), composed_or_stated(base, shelf)
    fields["ethanol_pct_vv"] = _pct(total["ethanol_g"], total_g, whole)
    least = {k: v for k, v in _fields(added_least, total_least).items() if fields[k] is None and v is not None}
    if fields["ethanol_pct_vv"] is None:
        least["ethanol_pct_vv"] = float(_pct(total_least["ethanol_g"], total_g, whole) or 0.0)
    everything = [(recipe.base_id, plain), *((n, f) for f, (n, _, _) in zip(facts, parts, strict=True))]
    return Serving(
        base_g=base_g,
        finished_g=total_g,
        grams={name: g for name, g, _ in parts},
        drops={
            n: None if f.mg_per_drop is None else 1000 * g / f.mg_per_drop
            for f, (n, g, _) in zip(facts, parts, strict=True)
        },
        ml={n: g / (f.g_per_ml or 1.0) for f, (n, g, _) in zip(facts, parts, strict=True)},
        **fields,
        at_least=least,
        unknown=tuple(
            dict.fromkeys(
                Lack(name, word) for name, f in everything for word, v in zip(WORDS, f.per_g, strict=True) if v is None
            )
        ),
        allergens=frozenset().union(*(f.allergens for _, f in everything)),
        allergens_unknown=tuple(i for _, f in everything for i in f.allergens_unknown),
        assumptions=tuple(dict.fromkeys(a for _, f in everything for a in f.assumptions)),
        jurisdiction=law,
    )


def _fields(added: Mapping[str, float | None], total: Mapping[str, float | None]) -> dict[str, Any]:
    return {
        "added_kcal": added["kcal"],
        "added_kj": added["kj"],
        "added_sugars_g": added["sugars_g"],
        "added_cost": added["cost"],
        "total_kcal": total["kcal"],
        "total_kj": total["kj"],
        "total_sugars_g": total["sugars_g"],
        "sodium_mg": total["sodium_mg"],
        "ethanol_g": total["ethanol_g"],
        "caffeine_mg": total["caffeine_mg"],
        "total_cost": total["cost"],
    }


def _serving_g(base: Base, serving_g: float | None) -> float:
    grams = base.serving(serving_g)
    if not (math.isfinite(grams) and 1 <= grams <= MAX_SERVING_G):
        raise QuantityError(
            f"serving_g is {grams:g}, allowed is 1 to {MAX_SERVING_G:g} g", "give g of base poured for one serving"
        )
    return float(grams)


def _numeric(recipe: Recipe) -> dict[str, float]:
    open_doses = [name for name, dose in recipe.doses.items() if dose is None]
    if open_doses:
        raise QuantityError(
            f"the dose of {', '.join(open_doses)} is open", "give g/kg, or ask the model for the best dose first"
        )
    return {name: dose for name, dose in recipe.doses.items() if dose is not None}


def _pct(ethanol_g: float | None, total_g: float, base: Base) -> float | None:
    if ethanol_g is None:
        return None
    density = base_without_ethanol_g_per_ml(base)
    return float(ethanol_pct_vv(ethanol_g, total_g, DEFAULT_DENSITY_G_PER_ML if density is None else density))


def per_100g(value: float | None, found: Serving) -> float | None:
    """Return a figure of a serving per 100 g of finished drink."""
    return None if value is None else 100 * value / found.finished_g


def traits(shelf: Shelf, flavouring_ids: Sequence[str], jurisdiction: str | None = None) -> dict[str, np.ndarray]:
    """Return figures per g of flavouring as arrays, NaN unknown.

    Returns
    -------
    dict
        ``kcal_per_g, cost_per_g, ethanol_g_per_g``, each of shape (n_flavourings,).
    """
    import numpy as np

    law = shelf.jurisdiction if jurisdiction is None else jurisdiction
    rows = [facts_of(shelf.flavouring(i), shelf, law).per_g for i in flavouring_ids]
    table = np.array([[np.nan if v is None else v for v in row] for row in rows], dtype=float).reshape(-1, len(SUMS))
    by_name = dict(zip(SUMS, table.T, strict=True))
    return {f"{name}_per_g": by_name[name] for name in ("kcal", "cost", "ethanol_g")}
