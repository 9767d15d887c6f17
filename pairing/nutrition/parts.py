"""What an item is made of: the parts of a base, and the flavouring and diluent of a pre-dilution."""

from __future__ import annotations

import math

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.dilutions import dilution_of

__all__ = ["WATER", "carriers_of", "made_of", "parts_of"]

WATER = Base(
    base_id="water",
    name="Plain water",
    energy_kcal_per_100g=0,
    fat_g_per_100g=0,
    protein_g_per_100g=0,
    carbohydrate_g_per_100g=0,
    sugars_g_per_100g=0,
    polyols_g_per_100g=0,
    fibre_g_per_100g=0,
    acids_g_per_100g=0,
    sodium_mg_per_100g=0,
    caffeine_mg_per_100g=0,
    ethanol_g_per_100g=0,
    sweeteners="none",
    density_g_per_ml=1.0,
    cost_per_kg=0,
    allergens="none",
    source="plain water, cost left out",
)
"""What the part ``water`` is, unless the shelf has a base or flavouring of that id."""


def parts_of(item: Base | Flavouring, shelf: Shelf) -> list[tuple[Base | Flavouring, float]]:
    """Return what an item is made of, as it stands on the shelf, and g of each in 1 g; what is not there is left out.

    Examples
    --------
    >>> oat, clove = Base(base_id="oat", name="Oat"), Flavouring(flavouring_id="clove", name="Clove")
    >>> thin = Flavouring(flavouring_id="clove-1in10-oat", name="Thin clove", version_of="clove")
    >>> [(part.name, share) for part, share in parts_of(thin, Shelf.of([oat], [clove, thin]))]
    [('Clove', 0.1), ('Oat', 0.9)]
    """
    if isinstance(item, Base):
        amounts = item.made_from or {}
        total = math.fsum(g or 0.0 for g in amounts.values())
        found = [(_on(name, shelf), g) for name, g in amounts.items()]
        return [(part, g / total) for part, g in found if part is not None and g is not None and total > 0]
    thin = dilution_of(item)
    if thin is None:
        return []
    parent = shelf.flavourings.get(thin.flavouring_id)
    diluent = shelf.bases.get(thin.diluent_id) if thin.diluent_id else WATER
    both = ((parent, thin.share), (diluent, 1.0 - thin.share))
    return [(part, share) for part, share in both if part is not None]


def _on(name: str, shelf: Shelf) -> Base | Flavouring | None:
    found = shelf.bases.get(name) or shelf.flavourings.get(name)
    return WATER if found is None and name.casefold() == "water" else found


def made_of(item: Base | Flavouring, shelf: Shelf) -> list[Base | Flavouring]:
    """Return every part of an item and every part of those, each once; without the item itself.

    Examples
    --------
    >>> powder, shake = Base(base_id="powder", name="P"), Base(base_id="shake", name="S", made_from="powder:1;water:9")
    >>> [part.name for part in made_of(shake, Shelf.of([powder, shake], []))]
    ['P', 'Plain water']
    """
    found: dict[tuple[type, str], Base | Flavouring] = {}
    left = [part for part, _ in parts_of(item, shelf)]
    while left:
        part = left.pop(0)
        if _key(part) not in found and _key(part) != _key(item):
            found[_key(part)] = part
            left += [inner for inner, _ in parts_of(part, shelf)]
    return list(found.values())


def _key(item: Base | Flavouring) -> tuple[type, str]:
    return type(item), item.base_id if isinstance(item, Base) else item.flavouring_id


def carriers_of(item: Base | Flavouring, shelf: Shelf) -> dict[str, float | None]:
    """Return the carriers that a flavouring, or the flavourings in a base, name: g in 1 g of the item, None unknown.

    Examples
    --------
    >>> syrup = Flavouring(flavouring_id="syrup", name="Syrup", carrier="glycerol:0.5")
    >>> carriers_of(Base(base_id="mixed", name="Mixed", made_from="syrup:20;water:80"), Shelf.of([], [syrup]))
    {'glycerol': 0.1}
    """
    return _carriers(item, shelf, ())


def _carriers(item: Base | Flavouring, shelf: Shelf, within: tuple[tuple[type, str], ...]) -> dict[str, float | None]:
    if isinstance(item, Flavouring):
        return dict(item.carrier or {})
    out: dict[str, float | None] = {}
    for part, share in parts_of(item, shelf):
        if _key(part) in within:
            continue
        for name, g in _carriers(part, shelf, (*within, _key(item))).items():
            before = out.get(name, 0.0)
            out[name] = None if g is None or before is None else before + share * g
    return out
