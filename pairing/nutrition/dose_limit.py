"""How far a dose goes without a word: the supplier's maximum, else 3 × the label, else 3 × what a form makes expect."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from pairing.model.base import Base
from pairing.model.caution import Caution
from pairing.model.constants import LABEL_MULTIPLE
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.maximum import maximum_of, others_shares
from pairing.quantities.directions import label_dose
from pairing.quantities.expected import expected_dose_g_per_kg
from pairing.quantities.readable import readable

__all__ = ["DoseLimit", "HighDose", "dose_limit", "high_doses"]

MOST_G_PER_KG = 500.0
"""More than half of a drink is improbable for a flavouring (our choice, no source)."""
_NOTHING_LEFT = 1e-9


@dataclass(frozen=True)
class DoseLimit:
    """The highest dose that is allowed, g/kg, and what it is: a maximum, or the caution that stops more."""

    g_per_kg: float = math.inf
    words: str = ""
    caution: Caution | None = None


@dataclass(frozen=True)
class HighDose:
    """A dose of a cup that is past a limit.

    Attributes
    ----------
    flavouring_id : str
    dose_g_per_kg : float
    most_g_per_kg : float
        The limit.
    label_g_per_kg : float or None
        Middle of its label direction.
    is_maximum : bool
        Whether the limit is the supplier's maximum; else it is a pause, and going on is an override.
    """

    flavouring_id: str
    dose_g_per_kg: float
    most_g_per_kg: float
    label_g_per_kg: float | None
    is_maximum: bool

    def said(self, names: Mapping[str, str]) -> str:
        """Say it, by the names that are given, else by the id."""
        name = names.get(self.flavouring_id, self.flavouring_id)
        if self.is_maximum:
            held = f"its maximum dose is {self.most_g_per_kg:.3g} g/kg"
        elif self.label_g_per_kg:
            held = (
                f"{readable(self.dose_g_per_kg / self.label_g_per_kg, 2)} × its label of {self.label_g_per_kg:.3g} g/kg"
            )
        else:
            held = f"and more than {self.most_g_per_kg:.3g} g/kg is improbable"
        return f"{name} is at {self.dose_g_per_kg:.3g} g/kg, {held}"


def dose_limit(
    flavouring: Flavouring, base: Base, shelf: Shelf, doses: Mapping[str, float], *, override: bool = False
) -> DoseLimit:
    """Return its maximum dose, less what its versions took up; without one, unless told otherwise, 3 × its label.

    Without a label it is 3 × the dose that its form and carrier make one expect. ``doses`` is what else is in the cup,
    g/kg.
    """
    most = maximum_of(flavouring, shelf)
    if most is not None:
        taken = others_shares(flavouring.flavouring_id, doses, shelf)
        words = f"its maximum dose, {most:.3g} g/kg"
        if taken:
            names = " and ".join(shelf.flavouring(other).name for other in taken)
            words += f", of which {names} in this cup took up {100 * sum(taken.values()):.0f} %"
        left = 1.0 - sum(taken.values())
        return DoseLimit(most * left if left > _NOTHING_LEFT else 0.0, words)
    if override:
        return DoseLimit()
    label = label_dose(flavouring, base)
    what = "the dose expected of its form, as no label says one" if label is None else "the label"
    cap = LABEL_MULTIPLE * (expected_dose_g_per_kg(flavouring) if label is None else label.mid)
    return DoseLimit(cap, f"3 × {what}, {cap:.3g} g/kg (go on only on purpose, and log the cup with that override)")


def high_doses(
    doses: Mapping[str, float], base: Base, shelf: Shelf, overridden: Sequence[str] = ()
) -> Iterator[HighDose]:
    """Return the doses of a cup that are past their limit, or more than half of the drink.

    What was taken past a pause on purpose, ``overridden``, is no news; a maximum, and half of the drink, always are.
    """
    for name, dose in doses.items():
        flavouring, label = shelf.flavouring(name), label_dose(shelf.flavouring(name), base)
        others = {other: d for other, d in doses.items() if other != name}
        limit = dose_limit(flavouring, base, shelf, others, override=name in overridden)
        if dose > min(limit.g_per_kg * (1 + 1e-9), MOST_G_PER_KG):
            is_maximum = maximum_of(flavouring, shelf) is not None and dose > limit.g_per_kg
            most = min(limit.g_per_kg, MOST_G_PER_KG)
            yield HighDose(name, dose, most, None if label is None else label.mid, is_maximum)
