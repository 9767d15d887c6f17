"""What can happen to a cup, and what is in it afterwards."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pairing.quantities.rates import read_in

__all__ = ["EMPTY", "Contents", "Step"]


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing that happened to a cup; fields are the columns of the ``steps`` table.

    Attributes
    ----------
    kind : {"pour", "add", "mix", "rest", "sip", "split"}
    item_id : str or None
        The base poured or the flavouring added.
    amount_g : float or None
        g poured, added or sipped; for ``split`` what this cup kept.
    as_entered : str or None
        ``11 drops``, ``hand blender``, ``5 min``: as the person said it.
    parent_trial_id : str or None
        For ``split``: the cup that this portion was taken from; the steps before it are the parent's.
    """

    kind: str
    at: str | None = None
    item_id: str | None = None
    lot: str | None = None
    amount_g: float | None = None
    as_entered: str | None = None
    taster: str | None = None
    parent_trial_id: str | None = None

    @property
    def minutes(self) -> float | None:
        """Length of a rest in minutes."""
        return read_in(self.as_entered, "minutes") if self.kind == "rest" and self.as_entered else None


@dataclass(frozen=True)
class Contents:
    """What a cup holds.

    Sips and splits take everything alike, so they change only how much is left: doses stay exactly what they were.

    Attributes
    ----------
    parts : mapping of flavouring_id (None: the base) to float
        g of each, were nothing ever taken out since.
    left : float
        Share of that which is still in the cup.
    """

    parts: Mapping[str | None, float]
    left: float = 1.0

    @property
    def total_g(self) -> float:
        """Everything in the cup, g."""
        return self.left * math.fsum(self.parts.values())

    @property
    def grams(self) -> dict[str | None, float]:
        """What is left of each part, g."""
        return {name: self.left * mass for name, mass in self.parts.items()}

    def dose_g_per_kg(self, name: str) -> float:
        """Return one flavouring's dose; written so that rounding can never let it fall on an addition."""
        own = self.parts.get(name, 0.0)
        if own == 0:
            return 0.0
        return 1000 / (1 + math.fsum(mass for other, mass in self.parts.items() if other != name) / own)

    def after(self, step: Step) -> Contents:
        """Return what the cup holds after a step."""
        amount = step.amount_g or 0.0
        if step.kind in ("pour", "add"):
            name = None if step.kind == "pour" else step.item_id
            parts = {**self.parts, name: self.parts.get(name, 0.0) + amount / self.left}
            return Contents(MappingProxyType(parts), self.left)
        if step.kind == "sip":
            return Contents(self.parts, self.left * max(0.0, 1 - amount / self.total_g))
        if step.kind == "split":
            return Contents(self.parts, amount / math.fsum(self.parts.values()))
        return self


EMPTY = Contents(MappingProxyType({None: 0.0}))
