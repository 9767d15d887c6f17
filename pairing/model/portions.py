"""Which amounts a hand can measure out: whole drops as far as anybody counts them, beyond that steps of the scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pairing.model.flavouring import Flavouring
from pairing.model.measures import USUAL, Measures
from pairing.quantities.drops import drop_mass, is_liquid
from pairing.quantities.readable import readable

__all__ = ["MOST_DROPS", "SCALE_G", "Portion", "Portions", "addition_g", "dose_after"]

MOST_DROPS = 20
"""More drops than this are weighed, or drawn up with a syringe, rather than counted (our choice, no source)."""
SCALE_G = 0.1
"""Step of the scale unless told otherwise, g."""
_MOST = 80
"""Amounts weighed up at one time."""


@dataclass(frozen=True)
class Portion:
    """One amount as it is measured out.

    Attributes
    ----------
    g : float
        What goes in; 0 when it is less than can be measured.
    wanted_g : float
        What was to go in.
    drops : int or None
        Counted, where it is dropped.
    ml : float or None
        Volume, for a liquid: by a syringe or a spoon it is measured without a scale.
    decimals : int
        Decimals that the scale shows.
    measures : Measures
        How it is said.
    """

    g: float
    wanted_g: float
    drops: int | None
    ml: float | None
    decimals: int
    measures: Measures = USUAL

    def __str__(self) -> str:
        if self.g <= 0:
            least = "a drop" if self.drops is not None else "the scale shows"
            return f"{readable(self.wanted_g, 2)} g, less than {least}: dilute it first"
        weight = f"{self.g:.{self.decimals if self.drops is None else max(2, self.decimals)}f} g"
        figures = [("g", weight)]
        if self.drops is not None:
            figures.insert(0, ("drops", f"{self.drops} {'drop' if self.drops == 1 else 'drops'}"))
        if self.ml is not None and (self.drops is None or self.measures.first == "ml"):
            figures.append(("ml", self.measures.volume(self.ml)))
        return self.measures.said(figures)


@dataclass(frozen=True)
class Portions:
    """How one flavouring is measured out at this bench.

    Attributes
    ----------
    drop_g : float or None
        Mass of a drop, where it is dropped.
    scale_g : float
        Step of the scale, g.
    g_per_ml : float or None
        Density of a liquid; None for what is not poured.
    parts : int
        Parts of a mixture that hold one part of the flavouring: 1 is undiluted.
    measures : Measures
        How amounts are said.
    """

    drop_g: float | None
    scale_g: float
    g_per_ml: float | None = None
    parts: int = 1
    measures: Measures = USUAL

    @classmethod
    def of(cls, flavouring: Flavouring, scale_g: float, parts: int = 1, measures: Measures = USUAL) -> Portions:
        """Return how a flavouring is measured out: in drops where the bottle gives them, else on the scale.

        A dilution of one's own is weighed, one that was kept too: its drops have no known mass until they are weighed.

        Examples
        --------
        >>> pear = Portions.of(Flavouring(flavouring_id="pear", name="Pear", drop_mg=25), scale_g=0.1)
        >>> str(pear.nearest(0.19)), str(pear.nearest(1.13)), str(pear.nearest(0.004))
        ('8 drops (0.20 g)', '1.1 g (1.1 ml)', '0.004 g, less than a drop: dilute it first')
        """
        drop = drop_mass(flavouring)
        dropped = parts == 1 and (drop.calibrated or drop.comes_in_drops)
        poured = dropped or (parts == 1 and bool(is_liquid(flavouring)))
        density = (flavouring.density_g_per_ml or 1.0) if poured else None
        return cls(drop.mg / 1000.0 if dropped else None, scale_g, density, parts, measures)

    @property
    def _weighed_from_g(self) -> float:
        """Mass from which it is weighed, g."""
        return 0.0 if self.drop_g is None else (MOST_DROPS + 0.5) * self.drop_g

    def nearest(self, wanted_g: float) -> Portion:
        """Return the amount nearest to a wanted one; nothing where that is less than half of the smallest."""
        decimals = max(0, math.ceil(-math.log10(self.scale_g) - 1e-9))
        if self.drop_g is not None and wanted_g < self._weighed_from_g:
            drops = round(wanted_g / self.drop_g)
            made = drops * self.drop_g
        else:
            drops, made = None, round(wanted_g / self.scale_g) * self.scale_g
        ml = None if self.g_per_ml is None else made / self.g_per_ml
        return Portion(made, wanted_g, drops, ml, decimals, self.measures)

    def additions_g(self, wanted_g: np.ndarray) -> np.ndarray:
        """Round wanted amounts, g of neat flavouring, to ones that can be made; at least the smallest, each once.

        Examples
        --------
        >>> Portions(None, 0.1).additions_g(np.array([0.04, 0.26, 0.33])).round(2).tolist()
        [0.1, 0.3]
        >>> Portions(0.02, 0.1).additions_g(np.array([0.03, 0.4, 0.47])).round(2).tolist()
        [0.04, 0.4, 0.5]
        """
        wanted = np.asarray(wanted_g, dtype=float) * self.parts
        step = np.full_like(wanted, self.scale_g)
        if self.drop_g is not None:
            step[wanted < self._weighed_from_g] = self.drop_g
        made = np.unique(np.maximum(1, np.round(wanted / step)) * step) / self.parts
        return made if len(made) <= _MOST else made[np.linspace(0, len(made) - 1, _MOST).astype(int)]


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
