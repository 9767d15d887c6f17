"""A base: the plain drink that is flavoured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pairing.model.columns import BASES
from pairing.model.fields import check_fields, reduced
from pairing.model.given import Amounts, Words

__all__ = ["DEFAULT_SERVING_G", "Base"]

DEFAULT_SERVING_G = 250.0
"""Serving when neither brief nor base states one, in g of base."""


@dataclass(frozen=True, kw_only=True)
class Base:
    """A plain drink in one version and dilution, composition per 100 g as drunk. None is unknown, never zero.

    Fields are the columns of the ``bases`` table and take what its cells take: ``allergens="milk;soy"`` (``"none"``:
    declared free), ``made_from="oat-powder:90;water:350"``.

    Raises
    ------
    TableError
        When a field is outside its range.

    Examples
    --------
    >>> Base(base_id="oat", name="Oat drink", fat_g_per_100g=1.5, allergens="none").allergens
    frozenset()
    """

    base_id: str
    name: str
    version_of: str | None = None
    lot: str | None = None
    made_from: Amounts = Amounts()
    energy_kcal_per_100g: float | None = None
    fat_g_per_100g: float | None = None
    protein_g_per_100g: float | None = None
    carbohydrate_g_per_100g: float | None = None
    sugars_g_per_100g: float | None = None
    polyols_g_per_100g: float | None = None
    fibre_g_per_100g: float | None = None
    acids_g_per_100g: float | None = None
    sodium_mg_per_100g: float | None = None
    caffeine_mg_per_100g: float | None = None
    ethanol_g_per_100g: float | None = None
    sweeteners: Amounts = Amounts()
    density_g_per_ml: float | None = None
    serving_g: float | None = None
    cost_per_kg: float | None = None
    ph: float | None = None
    viscosity_mpa_s: float | None = None
    allergens: Words = Words()
    tags: Words = Words()
    source: str | None = None

    def __post_init__(self) -> None:
        check_fields(self, BASES)

    def __reduce__(self) -> tuple[Any, ...]:
        return reduced(self)

    def serving(self, asked_g: float | None = None) -> float:
        """Return the g of base in one serving: as asked, else as the base states, else the usual."""
        return asked_g if asked_g is not None else self.serving_g or DEFAULT_SERVING_G
