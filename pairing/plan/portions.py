"""Which additions a hand can make: whole drops, or grams that the scale can tell apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pairing.quantities.drops import drop_mass

if TYPE_CHECKING:
    from pairing.model.flavouring import Flavouring

__all__ = ["Unit", "addition_g", "dose_after", "unit_of"]

_MOST = 80


@dataclass(frozen=True)
class Unit:
    """The smallest amount that can be added: one drop, or one step of the scale; ``parts`` > 1 after a pre-dilution."""

    g: float
    drops: bool
    parts: int = 1

    @property
    def neat_g(self) -> float:
        """Mass of undiluted flavouring in one unit, g."""
        return self.g / self.parts

    def additions_g(self, wanted_g: np.ndarray) -> np.ndarray:
        """Round wanted amounts, g of neat flavouring, to ones that can be made; at least one unit, each once.

        Examples
        --------
        >>> Unit(0.1, drops=False).additions_g(np.array([0.04, 0.26, 0.33])).round(2).tolist()
        [0.1, 0.3]
        """
        counts = np.unique(np.maximum(1, np.round(np.asarray(wanted_g) / self.neat_g)))
        if len(counts) > _MOST:
            counts = counts[np.linspace(0, len(counts) - 1, _MOST).astype(int)]
        return counts * self.neat_g


def unit_of(flavouring: Flavouring | None, scale_g: float, parts: int = 1) -> Unit:
    """Return the unit in which a flavouring is added: drops where the bottle gives them, else the scale's step.

    A dilution of one's own is weighed, one that was kept too: its drops have no known mass until they are weighed.
    """
    if flavouring is not None and parts == 1:
        drop = drop_mass(flavouring)
        if drop.calibrated or drop.comes_in_drops:
            return Unit(drop.mg / 1000.0, drops=True)
    return Unit(scale_g, drops=False, parts=parts)


def addition_g(content_g: float, dose_g_per_kg: float, target_g_per_kg: float | np.ndarray) -> np.ndarray:
    """Mass of flavouring in g that raises a cup from one dose to another; what is added counts as drink too.

    Examples
    --------
    >>> round(float(addition_g(198.0, 0.0, 10.0)), 6)
    2.0
    """
    target = np.asarray(target_g_per_kg) / 1000.0
    return content_g * (target - dose_g_per_kg / 1000.0) / (1.0 - target)


def dose_after(content_g: float, dose_g_per_kg: float, add_g: float | np.ndarray) -> np.ndarray:
    """Dose in g/kg after adding ``add_g`` of flavouring to a cup."""
    added = np.asarray(add_g, dtype=float)
    return (content_g * dose_g_per_kg + 1000.0 * added) / (content_g + added)
