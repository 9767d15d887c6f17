"""What the days of lots mean now: what has to be used soon, and what may no longer be served."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import NamedTuple

from pairing.stock.lots import moment
from pairing.stock.reckon import Held

__all__ = ["SOON_DAYS", "Past", "past_dates", "to_be_used"]

SOON_DAYS = 14
"""So many days before its date something is to be used first (our choice)."""
KEEPS_DAYS = 3
"""What is mixed at home and says no day keeps so long in the fridge: 3 to 4 days (USDA, leftovers; from memory)."""


class Past(NamedTuple):
    """An item of which every lot that could be in use is past its day: which day, and when it was.

    ``which`` is ``use_by``, ``best_before`` or ``made_at``.
    """

    which: str
    day: str


def past_dates(lots: Iterable[Held], now: datetime | None = None) -> dict[str, Past]:
    """Return the items whose lot in use, or any where none is, is past its day; the gravest day of each.

    Examples
    --------
    >>> from pairing.stock.lots import Lot
    >>> def held(**days):
    ...     return Held(lot=Lot(item_id="oat", lot="A", **days), size_g=None, held_g=None, drawn_g=0.0, weighed_at=None,
    ...                 in_use=True)
    >>> past_dates([held(use_by="2026-03-05")], datetime(2026, 3, 6, tzinfo=UTC))
    {'oat': Past(which='use_by', day='2026-03-05')}
    >>> past_dates([held(use_by="2026-03-05")], datetime(2026, 3, 5, 20, tzinfo=UTC))
    {}
    """
    at = now or datetime.now(UTC)
    found: dict[str, Past] = {}
    for item_id, of in _by_item(lots).items():
        used = [one for one in of if one.in_use] or of
        past = [_past(one, at) for one in used]
        if all(past):
            found[item_id] = min((one for one in past if one), key=lambda one: _GRAVEST.index(one.which))
    return found


_GRAVEST = ("use_by", "made_at", "best_before")


def _past(one: Held, at: datetime) -> Past | None:
    lot = one.lot
    for which in ("use_by", "best_before"):
        day = getattr(lot, which)
        if day is not None and moment(day, end=True) < at:
            return Past(which, day)
    made = lot.made_at
    if made is not None and lot.use_by is None and (at - moment(made)).days > KEEPS_DAYS:
        return Past("made_at", made)
    return None


def to_be_used(lots: Iterable[Held], now: datetime | None = None, within_days: float = SOON_DAYS) -> tuple[str, ...]:
    """Return the items that have a lot near its day, nearest first; what is past its use-by is left out."""
    at = now or datetime.now(UTC)
    near: dict[str, float] = {}
    for item_id, of in _by_item(lots).items():
        days = [moment(day, end=True) for one in of if (day := one.lot.use_by or one.lot.best_before) is not None]
        left = [(day - at).total_seconds() / 86_400 for day in days]
        left = [days_left for days_left in left if 0 <= days_left <= within_days]
        if left:
            near[item_id] = min(left)
    return tuple(sorted(near, key=lambda item: (near[item], item)))


def _by_item(lots: Iterable[Held]) -> Mapping[str, list[Held]]:
    found: dict[str, list[Held]] = {}
    for one in lots:
        if one.lot.emptied_at is None and one.held_g != 0.0:
            found.setdefault(one.lot.item_id, []).append(one)
    return found
