"""A reading: one taster's judgement of one cup at one moment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from pairing.errors import CupError
from pairing.model.columns import READINGS
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.fields import check, reduced
from pairing.model.given import Amounts

__all__ = ["Reading"]

_CHECKED = (
    *("taster", "tasted_at", "session", "position", "blind", "liking", "likeness", "target_id", "attributes"),
    *("off_notes", "reminds_of", "temperature_c", "minutes_since_addition", "mixing", "stepped", "note"),
    "glass",
)


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One taster, one cup, one moment; fields are the columns of the ``readings`` table.

    Attributes
    ----------
    dose_g_per_kg : mapping of flavouring_id to float
        Everything that was in the cup then, g/kg of drink.
    strength : mapping of flavouring_id to int
        0 *not detected*, 1 much too weak … 3 just right … 5 much too strong; only flavourings in the cup.
    liking, likeness : float or None
        1–9, and 0–10 likeness to ``target_id``.
    stepped : {"yes", "no"}
        Whether it was tasted before in this cup, with less in it.
    glass : {"sip", "full"} or None
        How much of it was drunk before judging.

    Raises
    ------
    CupError, TableError
        When a judgement is off its scale or names a flavouring that is not in the cup.

    Examples
    --------
    >>> Reading(dose_g_per_kg={"plum": 1.2}, strength={"plum": 2}, liking=6).taster
    'me'
    """

    dose_g_per_kg: Mapping[str, float]
    strength: Mapping[str, int] = field(default_factory=dict)
    taster: str = DEFAULT_TASTER
    liking: float | None = None
    likeness: float | None = None
    target_id: str | None = None
    off_notes: str | None = None
    attributes: Amounts = Amounts()
    reminds_of: str | None = None
    tasted_at: str | None = None
    session: str | None = None
    position: int | None = None
    blind: str | None = None
    temperature_c: float | None = None
    minutes_since_addition: float | None = None
    mixing: str | None = None
    stepped: str | None = None
    note: str | None = None
    glass: str | None = None

    def __post_init__(self) -> None:
        for name in _CHECKED:
            object.__setattr__(self, name, check(getattr(self, name), READINGS.by_name[name]))
        if self.taster is None:
            object.__setattr__(self, "taster", DEFAULT_TASTER)
        object.__setattr__(self, "dose_g_per_kg", MappingProxyType(dict(self.dose_g_per_kg)))
        strength = {str(k): check(v, READINGS.by_name["strength"]) for k, v in dict(self.strength).items()}
        if absent := sorted(set(strength) - set(self.dose_g_per_kg)):
            raise CupError(f"{', '.join(absent)} is not in the cup", "read the strength of what was added")
        object.__setattr__(self, "strength", MappingProxyType({k: v for k, v in strength.items() if v is not None}))

    def __reduce__(self) -> tuple[Any, ...]:
        return reduced(self)
