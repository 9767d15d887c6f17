"""How long a batch was found to hold its strength."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pairing.errors import first_few

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.recipe import Recipe

__all__ = ["Keeps", "keeps"]


@dataclass(frozen=True)
class Keeps:
    """How long each flavouring stays within e^±0.2 of its strength, by the worse end of its 80 % interval.

    Attributes
    ----------
    hours : float or None
        Of the one that changes first; None where one of them was never tasted an hour or more after mixing.
    flavouring_id : str or None
        Which that is.
    untasted : tuple of str
        Those of which it is not known.
    """

    hours: float | None
    flavouring_id: str | None
    untasted: tuple[str, ...]

    def sentence(self, names: Mapping[str, str]) -> str:
        """Say it, with the names of the flavourings by id."""
        if self.untasted or self.hours is None:
            which = first_few([names.get(name, name) for name in self.untasted])
            return f"How long it holds its strength is not known: nobody tasted {which} an hour or more after mixing."
        name = names.get(self.flavouring_id or "", self.flavouring_id)
        return (
            f"It was found to hold its strength for {self.hours:.0f} h at least (80 %); {name} changes first. "
            "That is no shelf life: how long it may stand is said below."
        )


def keeps(recipe: Recipe, over_time: pd.DataFrame) -> Keeps:
    """Return how long a recipe holds, from what `Learned.over_time` tells of its flavourings."""
    table = over_time[over_time["kind"] == "flavouring"].set_index("item_id")
    days = {name: float(table["holds_days"].get(name, float("nan"))) for name in recipe.doses}
    untasted = tuple(name for name, value in days.items() if math.isnan(value))
    if untasted:
        return Keeps(None, None, untasted)
    first = min(days, key=lambda name: days[name])
    return Keeps(24.0 * days[first], first, ())
