"""A flavouring: what is added to a base."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pairing.model.columns import FLAVOURINGS
from pairing.model.fields import check_fields, is_not_stated, reduced
from pairing.model.given import Amounts, Words

__all__ = ["Flavouring"]


@dataclass(frozen=True, kw_only=True)
class Flavouring:
    """Drops, extract, syrup, paste or powder with its label facts. None is unknown, never zero.

    Fields are the columns of the ``flavourings`` table and take what its cells take.

    Raises
    ------
    TableError
        When a field is outside its range.

    Examples
    --------
    >>> Flavouring(flavouring_id="plum", name="Plum drops", label_dose="3 drops per 100 ml").label_dose
    '3 drops per 100 ml'
    """

    flavouring_id: str
    name: str
    label_dose: str | None = None
    label_dose_g_per_kg: float | None = None
    version_of: str | None = None
    family: str | None = None
    form: str | None = None
    carrier: Amounts = Amounts()
    solubility: str | None = None
    food_use: str | None = None
    sweetened: str | None = None
    density_g_per_ml: float | None = None
    drop_mg: float | None = None
    max_dose_g_per_kg: float | None = None
    fat_loving: float | None = None
    energy_kcal_per_g: float | None = None
    fat_g_per_g: float | None = None
    protein_g_per_g: float | None = None
    carbohydrate_g_per_g: float | None = None
    sugars_g_per_g: float | None = None
    polyols_g_per_g: float | None = None
    fibre_g_per_g: float | None = None
    acids_g_per_g: float | None = None
    sodium_mg_per_g: float | None = None
    caffeine_mg_per_g: float | None = None
    ethanol_g_per_g: float | None = None
    sweeteners: Amounts = Amounts()
    cost_per_g: float | None = None
    stock_g: float | None = None
    allergens: Words = Words()
    tags: Words = Words()
    source: str | None = None
    role: str | None = None
    wheel: Words = Words()

    def __post_init__(self) -> None:
        if is_not_stated(self.label_dose):
            object.__setattr__(self, "label_dose", None)
        check_fields(self, FLAVOURINGS)

    def __reduce__(self) -> tuple[Any, ...]:
        return reduced(self)

    @property
    def suggestable(self) -> bool:
        """Whether it is declared for food use, not stated is unknown; poisons by name are left out elsewhere."""
        return self.food_use == "yes"
