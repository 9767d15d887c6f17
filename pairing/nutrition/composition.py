"""Bases made from parts: composition computed from parts given as sold."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from pairing.errors import TableError, nearest
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.allergens import not_read
from pairing.nutrition.energy import base_energy, energy_per_g, ethanol_g_per_g
from pairing.nutrition.parts import WATER, made_of

__all__ = ["allergens_of", "compose", "composed_or_stated"]

_PER_100G = (
    *(f"{p}_g_per_100g" for p in ("fat", "protein", "carbohydrate", "sugars", "polyols", "fibre", "acids", "ethanol")),
    *(f"{p}_mg_per_100g" for p in ("sodium", "caffeine")),
)


def compose(base: Base, shelf: Shelf) -> Base:
    """Return a base with whatever its parts tell; what it states itself stays, and what one part lacks stays unknown.

    Parameters
    ----------
    base : Base
        ``made_from``: g of each part as sold, a base or flavouring of the shelf, or ``water``.
    shelf : Shelf

    Raises
    ------
    TableError
        When a part is not on the shelf, has no amount, or is made from itself.

    Examples
    --------
    >>> powder = Base(base_id="oat-powder", name="Oat powder", energy_kcal_per_100g=400)
    >>> oat = Base(base_id="oat", name="Oat drink", made_from="oat-powder:90;water:360")
    >>> compose(oat, Shelf.of([powder, oat], [])).energy_kcal_per_100g
    80.0
    """
    return _compose(base, shelf, (base.base_id,))


def composed_or_stated(base: Base, shelf: Shelf) -> Base:
    """Return a base with what its parts tell; where these cannot be told, with what it states itself."""
    try:
        return compose(base, shelf)
    except TableError:
        return replace(base, made_from=None)


def _compose(base: Base, shelf: Shelf, within: tuple[str, ...]) -> Base:
    if not base.made_from:
        return base
    parts = [(_part(name, base, shelf, within), _grams(name, g, base)) for name, g in _amounts(base.made_from).items()]
    total = math.fsum(g for _, g in parts)
    if total <= 0:
        raise TableError(f"{base.base_id}: its parts weigh {total:g} g", "give g of each part, such as oat-powder:90")
    found: dict[str, Any] = {}
    for name in (*_PER_100G, "energy_kcal_per_100g", "cost_per_kg"):
        if getattr(base, name) is None:
            found[name] = _mean([(_value(part, name), g) for part, g in parts], total)
    if base.sweeteners is None:
        found["sweeteners"] = _sweeteners(parts, total)
    declared, lacking = allergens_of(base, shelf)
    found["allergens"] = None if lacking else declared
    if base.tags is None:
        known = [part.tags for part, _ in parts if part.tags is not None]
        found["tags"] = frozenset().union(*known) if known else None
    return replace(base, **found)


def _part(name: str, base: Base, shelf: Shelf, within: tuple[str, ...]) -> Base | Flavouring:
    if name in within:
        raise TableError(f"{base.base_id} is made from itself ({' → '.join((*within, name))})", "correct made_from")
    if name in shelf.bases:
        return _compose(shelf.bases[name], shelf, (*within, name))
    if name in shelf.flavourings:
        return shelf.flavourings[name]
    if name.casefold() == "water":
        return WATER
    raise TableError(
        f"{base.base_id} is made from {name!r}, which is neither a base nor a flavouring",
        f"add it to the bases, as sold; {nearest(name, [*shelf.bases, *shelf.flavourings, 'water'])}",
    )


def _grams(name: str, grams: float | None, base: Base) -> float:
    if grams is None:
        raise TableError(f"{base.base_id}: the part {name!r} has no amount", f"write its g, such as {name}:90")
    return grams


def _amounts(value: Mapping[str, float | None] | str) -> Mapping[str, float | None]:
    return {} if isinstance(value, str) else value


def _value(part: Base | Flavouring, name: str) -> float | None:
    """Return a column of a base for a part that may be a flavouring, whose figures are per g."""
    if isinstance(part, Base):
        return base_energy(part) if name == "energy_kcal_per_100g" else getattr(part, name)
    if name == "energy_kcal_per_100g":
        value = energy_per_g(part).value
        return None if value is None else 100 * value
    if name == "cost_per_kg":
        return None if part.cost_per_g is None else 1000 * part.cost_per_g
    if name == "ethanol_g_per_100g":
        per_g = ethanol_g_per_g(part)
    else:
        per_g = getattr(part, name.replace("_per_100g", "_per_g"))
    return None if per_g is None else 100 * per_g


def _mean(values: Iterable[tuple[float | None, float]], total: float) -> float | None:
    pairs = [(v, g) for v, g in values if g > 0]
    if any(v is None for v, _ in pairs):
        return None
    return math.fsum(v * g for v, g in pairs if v is not None) / total


def _sweeteners(parts: list[tuple[Base | Flavouring, float]], total: float) -> dict[str, float | None] | None:
    out: dict[str, float | None] = {}
    for part, grams in parts:
        if part.sweeteners is None:
            return None
        per_100g = 1.0 if isinstance(part, Base) else 100.0
        for name, mg in _amounts(part.sweeteners).items():
            before = out.get(name, 0.0)
            out[name] = None if mg is None or before is None else before + mg * per_100g * grams / total
    return out


def allergens_of(item: Base | Flavouring, shelf: Shelf) -> tuple[frozenset[str], tuple[str, ...]]:
    """Return the allergens declared for an item or any of its parts, and the ids of those not fully declared.

    What a part declares counts even where the whole declares less; a pre-dilution is made of its flavouring and its
    diluent. A declaration with a word that is no known allergen is incomplete: nobody can tell what it leaves out.

    Examples
    --------
    >>> allergens_of(WATER, Shelf.of([], []))
    (frozenset(), ())
    """
    name = item.base_id if isinstance(item, Base) else item.flavouring_id
    known = frozenset(item.allergens or ())
    unknown: tuple[str, ...] = ()
    declared = item.allergens is not None and not not_read(item.allergens)
    if isinstance(item, Flavouring):
        known = known.union(*(part.allergens or () for part in made_of(item, shelf)))
    if isinstance(item, Flavouring) or not item.made_from:
        return known, unknown if declared else (name,)
    for part in _amounts(item.made_from):
        found, lacking = allergens_of(_part(part, item, shelf, (item.base_id,)), shelf)
        known, unknown = known | found, unknown + lacking
    if item.allergens is not None:
        unknown = () if declared else (name,)
    return known, unknown
