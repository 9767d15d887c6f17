"""A recipe: a base and the doses of what goes into it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from pairing.errors import TableError
from pairing.model.fields import clean_id

__all__ = ["MAX_DOSE_G_PER_KG", "Recipe"]

MAX_DOSE_G_PER_KG = 999.0


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
        doses = {clean_id(k, "flavouring_id"): _dose(k, v) for k, v in sorted(self.doses.items())}
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


def _dose(flavouring_id: str, value: float | None) -> float | None:
    if value is None:
        return None
    dose = float(value)
    if not math.isfinite(dose) or not 0 <= dose <= MAX_DOSE_G_PER_KG:
        raise TableError(
            f"dose of {flavouring_id} is {dose:g} g/kg, allowed is 0 to {MAX_DOSE_G_PER_KG:g}",
            "give g per kg of finished drink",
        )
    return dose
