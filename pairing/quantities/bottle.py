"""What reading a quantity asks of the flavouring and the base that it is about."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

__all__ = ["Bottle", "Drink"]


class Bottle(Protocol):
    """A flavouring as its label describes it; None is unknown."""

    @property
    def label_dose(self) -> str | None:
        """Direction as written."""

    @property
    def label_dose_g_per_kg(self) -> float | None:
        """Direction per kg of finished drink."""

    @property
    def form(self) -> str | None:
        """Whether it comes as drops, powder or syrup."""

    @property
    def carrier(self) -> Mapping[str, float | None] | None:
        """What it is dissolved in."""

    @property
    def density_g_per_ml(self) -> float | None:
        """Mass of a millilitre."""

    @property
    def drop_mg(self) -> float | None:
        """Mass of a drop."""


class Drink(Protocol):
    """A base as poured; None is unknown."""

    @property
    def density_g_per_ml(self) -> float | None:
        """Mass of a millilitre."""
