"""A taster and what must never reach that person's cup."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.model.columns import TASTERS
from pairing.model.fields import check_fields
from pairing.model.given import Words

__all__ = ["Taster"]


@dataclass(frozen=True, kw_only=True)
class Taster:
    """One person: allergens and things to avoid, body mass and age for intake limits.

    ``avoid`` takes ``ethanol``, ``caffeine``, tags, and ids of bases or flavourings.
    """

    taster: str
    avoid_allergens: Words = Words()
    avoid: Words = Words()
    body_mass_kg: float | None = None
    age_years: float | None = None
    asks_professional: str | None = None

    def __post_init__(self) -> None:
        check_fields(self, TASTERS)
