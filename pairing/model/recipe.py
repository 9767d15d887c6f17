"""A recipe: a base and the doses of what goes into it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from urllib.parse import quote, unquote

from pairing.errors import QuantityError, TableError
from pairing.model.fields import clean_id
from pairing.quantities.constants import MAX_DOSE_G_PER_KG
from pairing.quantities.rates import number_of, read_in

__all__ = ["Recipe", "parse_recipe_text", "recipe_text"]


@dataclass(frozen=True)
class Recipe:
    """A base with flavourings at doses in g of flavouring per kg of finished drink.

    Parameters
    ----------
    base_id : str
    doses : mapping of flavouring_id to float or None
        g/kg; None lets the model choose the best dose.

    Raises
    ------
    TableError
        When a dose is negative, not finite or above 999 g/kg, or the doses leave no room for the base.

    Examples
    --------
    >>> Recipe("oat", {"plum": 1.2, "clove": None}).flavouring_ids
    ('clove', 'plum')
    """

    base_id: str
    doses: Mapping[str, float | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "base_id", clean_id(self.base_id, "base_id"))
        if not isinstance(self.doses, Mapping):
            raise TableError(f"the doses are {self.doses!r}, no mapping", "write {flavouring_id: g/kg, or None}")
        doses = {clean_id(k, "flavouring_id"): _dose(k, v) for k, v in sorted(self.doses.items(), key=_name)}
        total = sum(d for d in doses.values() if d is not None)
        if total > MAX_DOSE_G_PER_KG:
            raise TableError(
                f"the doses add up to {total:g} g/kg, at most {MAX_DOSE_G_PER_KG:g} fit", "lower the doses"
            )
        object.__setattr__(self, "doses", MappingProxyType(doses))

    def __hash__(self) -> int:
        return hash((self.base_id, tuple(self.doses.items())))

    def __reduce__(self) -> tuple[type, tuple[str, dict[str, float | None]]]:
        return type(self), (self.base_id, dict(self.doses))

    @property
    def flavouring_ids(self) -> tuple[str, ...]:
        """Ids of the flavourings, sorted."""
        return tuple(self.doses)


def _name(item: tuple[object, object]) -> str:
    return str(item[0])


def _dose(flavouring_id: str, value: float | None) -> float | None:
    if value is None:
        return None
    dose = number_of(value, f"dose of {flavouring_id}", TableError)
    if not math.isfinite(dose) or not 0 <= dose <= MAX_DOSE_G_PER_KG:
        raise TableError(
            f"dose of {flavouring_id} is {dose:g} g/kg, allowed is 0 to {MAX_DOSE_G_PER_KG:g}",
            "give g per kg of finished drink",
        )
    return dose


def recipe_text(recipe: Recipe) -> str:
    """Write a recipe as one line of text, as the sides of a blind check keep it.

    ``base|flavouring=dose;…`` with doses in g/kg of finished drink, no dose where it is left to the model. The signs
    ``% | ; =`` inside an id are written as %25, %7C, %3B and %3D.

    Examples
    --------
    >>> recipe_text(Recipe("oat", {"plum": 1.2, "clove": None}))
    'oat|clove;plum=1.2'
    """
    parts = (_escape(k) if d is None else f"{_escape(k)}={d!r}" for k, d in recipe.doses.items())
    return f"{_escape(recipe.base_id)}|{';'.join(parts)}"


def parse_recipe_text(text: str) -> Recipe:
    """Read what :func:`recipe_text` writes; a dose as a cell of ``dose_g_per_kg`` would be read.

    Raises
    ------
    TableError
        When the text is no recipe: a trial id has no ``|``; or a dose is no number, or may be two.

    Examples
    --------
    >>> parse_recipe_text("oat|plum=1.2; clove=0,1") == Recipe("oat", {"plum": 1.2, "clove": 0.1})
    True
    """
    base, bar, rest = text.partition("|")
    if not bar:
        raise TableError(f"{text!r} is no recipe", "write base|flavouring=dose;…, such as oat|plum=1.2, doses in g/kg")
    doses: dict[str, float | None] = {}
    for part in filter(None, map(str.strip, rest.split(";"))):
        name, equals, number = part.partition("=")
        key = unquote(name.strip())
        if key in doses:
            raise TableError(f"{text!r} names {key} twice", "give each flavouring one dose")
        try:
            doses[key] = read_in(number, "dose_g_per_kg") if equals else None
        except QuantityError as error:
            raise TableError(f"dose of {key}: {error.message}", error.hint) from None
    return Recipe(unquote(base.strip()), doses)


def _escape(name: str) -> str:
    return "".join(quote(sign) if sign in "%|;=" else sign for sign in name)
