"""Balance before aroma: a base with its sweetener, salt and acid in it, as a version of its own.

Composition, energy and allergens of the seasoned base follow from its parts by mass, see `composition`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from pairing.errors import TableError
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf

__all__ = ["SEASONED_IN_ORDER", "in_order", "seasoned", "sweet_again", "taste_of"]

SEASONED_IN_ORDER = ("sweet", "salt", "acid")
"""In which order a base is seasoned (common practice, no source); then comes the aroma, and sweet again."""
_SALTY_MG_PER_G, _SOUR_G_PER_G = 20.0, 0.02
"""Sodium and acids from which on a seasoning counts as salt or as acid (our choice)."""
_WORDS = {"salt": r"salt|brine|sodium", "acid": r"acid|sour|vinegar|lemon|lime|citr|verjuice"}
_THIN_G_PER_KG = 20.0
"""So much changes neither density nor thickness of the base by what a kitchen measures (our choice)."""


def taste_of(seasoning: Flavouring) -> str:
    """Return which taste a seasoning is for: by what is stated of it, else by its name; sweet where neither says.

    Examples
    --------
    >>> taste_of(Flavouring(flavouring_id="brine", name="Brine", sodium_mg_per_g=80))
    'salt'
    >>> taste_of(Flavouring(flavouring_id="leaf", name="Sweet leaf drops"))
    'sweet'
    """
    if (seasoning.sodium_mg_per_g or 0.0) >= _SALTY_MG_PER_G:
        return "salt"
    if (seasoning.acids_g_per_g or 0.0) >= _SOUR_G_PER_G:
        return "acid"
    text = " ".join((seasoning.name, seasoning.family or "", *(seasoning.tags or ()))).casefold()
    return next((taste for taste, words in _WORDS.items() if re.search(words, text)), "sweet")


def in_order(flavouring_ids: Iterable[str], shelf: Shelf) -> tuple[str, ...]:
    """Return flavourings in the order in which they go in: sweet, salt, acid, then all that is no seasoning."""

    def place(flavouring_id: str) -> int:
        item = shelf.flavourings.get(flavouring_id)
        if item is None or item.role != "seasoning":
            return len(SEASONED_IN_ORDER)
        return SEASONED_IN_ORDER.index(taste_of(item))

    return tuple(sorted(flavouring_ids, key=place))


def sweet_again(base_id: str, flavouring_ids: Iterable[str], shelf: Shelf) -> tuple[str, ...]:
    """Return the sweeteners that are tasted for once more, now that an aroma is in; none where there is no aroma.

    They are those of the cup, else those of the seasoned base. Aroma and sweetness raise each other, its acid and its
    bitterness lower sweetness: which it comes to is tasted (common practice, no source).

    Examples
    --------
    >>> leaf = Flavouring(flavouring_id="leaf", name="Sweet leaf", role="seasoning")
    >>> shelf = Shelf.of([], [leaf, Flavouring(flavouring_id="plum", name="Plum")])
    >>> sweet_again("oat", ["leaf"], shelf), sweet_again("oat", ["leaf", "plum"], shelf)
    ((), ('leaf',))
    """
    inside = list(flavouring_ids)
    roles = {i: shelf.flavourings[i].role == "seasoning" for i in inside if i in shelf.flavourings}
    if all(roles.values()):
        return ()
    base = shelf.bases.get(base_id)
    for held in (inside, (base.made_from or {}) if base is not None else ()):
        known = [shelf.flavourings[i] for i in held if i in shelf.flavourings]
        if found := [f.flavouring_id for f in known if f.role == "seasoning" and taste_of(f) == "sweet"]:
            return tuple(found)
    return ()


def seasoned(recipe: Recipe, shelf: Shelf, name: str) -> Base:
    """Return a base with seasonings in it, as a version of that base that is made from it and them.

    Its pH stays the plain base's where nothing acid went in, density and thickness where little did; else they are
    unknown.

    Parameters
    ----------
    recipe : Recipe
        The base and the doses of its seasonings, all known.
    shelf : Shelf
    name : str
        What the seasoned base is called; its id is made from that.

    Raises
    ------
    TableError
        When there is none, something is no seasoning, a dose is open, or the name stands for another base.

    Examples
    --------
    >>> oat = Base(base_id="oat", name="Oat drink", sodium_mg_per_100g=38)
    >>> salt = Flavouring(flavouring_id="salt", name="Salt", role="seasoning", sodium_mg_per_g=390)
    >>> found = seasoned(Recipe("oat", {"salt": 1}), Shelf.of([oat], [salt]), "Oat, seasoned")
    >>> found.base_id, found.version_of, dict(found.made_from)
    ('oat-seasoned', 'oat', {'oat': 999.0, 'salt': 1.0})
    """
    base = shelf.base(recipe.base_id)
    doses: dict[str, float] = {}
    for flavouring_id in in_order(recipe.doses, shelf):
        dose = recipe.doses[flavouring_id]
        if shelf.flavouring(flavouring_id).role != "seasoning":
            hint = "leave it out here, or load it with role=seasoning if it is a sweetener, salt or acid"
            raise TableError(f"{flavouring_id} is no seasoning", hint)
        if dose is None:
            raise TableError(f"the dose of {flavouring_id} is open", "give each amount")
        doses[flavouring_id] = round(dose, 6)
    if not doses:
        raise TableError(f"nothing seasons {base.base_id}", "name its sweetener, salt or acid with amounts")
    base_id = "-".join(re.findall(r"\w+", name.casefold()))
    if not base_id:
        raise TableError(f"{name!r} is no name for a base", "give it one with letters, such as 'oat, seasoned'")
    added = math.fsum(doses.values())
    acid = any(shelf.flavouring(i).acids_g_per_g != 0 for i in doses)
    thin = added <= _THIN_G_PER_KG
    found = Base(
        base_id=base_id,
        name=name.strip(),
        version_of=base.base_id,
        made_from={base.base_id: round(1000.0 - added, 6), **doses},
        serving_g=base.serving_g,
        ph=None if acid else base.ph,
        density_g_per_ml=base.density_g_per_ml if thin else None,
        viscosity_mpa_s=base.viscosity_mpa_s if thin else None,
        tags=base.tags,
        source=f"{base.base_id}, seasoned at the bench",
    )
    if shelf.bases.get(base_id, found) != found:
        raise TableError(f"{base_id} stands for another base already", f"choose another name, such as '{name} 2'")
    return found
