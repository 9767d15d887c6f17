"""A lot: one bottle or bag as it was bought, opened and emptied, checked when made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, time
from itertools import pairwise
from typing import Any

from pairing.errors import QuantityError, TableError
from pairing.model.base import Base
from pairing.model.columns import LOTS
from pairing.model.fields import check_fields, is_missing
from pairing.model.flavouring import Flavouring
from pairing.quantities.amounts import amount_to_g, parse_amount
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML

__all__ = ["MAX_SIZE_G", "Lot", "check_days", "check_not_ahead", "moment"]

MAX_SIZE_G = 250_000.0
"""More than any drum that a kitchen buys: a size above it is a slip (our choice)."""
_IN_ORDER = ("made_at", "bought_at", "opened_at", "emptied_at")
_AHEAD = ("best_before", "use_by")
KEEPS_YEARS = 30
"""No food is best before a day further ahead than this: a slip of the year (our choice)."""


@dataclass(frozen=True, kw_only=True)
class Lot:
    """One bottle or bag; fields are the columns of the ``lots`` table, None where nothing is stated.

    Raises
    ------
    TableError, QuantityError
        When the size is none, or absurd, or it was made, bought, opened and emptied in another order.

    Examples
    --------
    >>> Lot(item_id="quince", lot="A", size="30 ml").size_g()
    30.0
    """

    item_id: str
    lot: str
    size: str | None = None
    tare_g: float | None = None
    price: float | None = None
    made_at: str | None = None
    bought_at: str | None = None
    opened_at: str | None = None
    best_before: str | None = None
    use_by: str | None = None
    emptied_at: str | None = None
    note: str | None = None

    def __post_init__(self) -> None:
        check_fields(self, LOTS)
        self.size_g()
        order = [(n, t) for n in _IN_ORDER if (t := getattr(self, n)) is not None]
        for (first, early), (second, late) in pairwise(order):
            if moment(late, end=True) < moment(early):
                raise TableError(
                    f"{second} {late} is before {first} {early}", f"correct one of the two of lot {self.lot}"
                )

    @classmethod
    def of_row(cls, row: Mapping[Any, Any]) -> Lot:
        """Make one of the cells of a row."""
        cells: dict[str, Any] = {name: None if is_missing(row[name]) else row[name] for name in LOTS.names}
        return cls(**cells)

    def size_g(self, item: Base | Flavouring | None = None) -> float | None:
        """Return what was in it when it was full, g: a volume by the item's density; None when no size is stated.

        Without a density a flavouring weighs 1.00 g/ml and a base 1.03.
        """
        if self.size is None:
            return None
        amount = parse_amount(self.size)
        if amount.unit == "drop":
            raise QuantityError(f"size {self.size!r} is a number of drops", "write what is sold: 30 ml, or 1 kg")
        if amount.unit == "ml" and isinstance(item, Base):
            grams = amount.value * (item.density_g_per_ml or DEFAULT_DENSITY_G_PER_ML)
        else:
            grams = amount_to_g(amount, item if isinstance(item, Flavouring) else None)
        if not 0 < grams <= MAX_SIZE_G:
            raise QuantityError(
                f"size {self.size!r} is {grams:g} g, allowed is above 0 to {MAX_SIZE_G:g}", "write it as 30 ml or 1 kg"
            )
        return grams


def moment(text: str, *, end: bool = False) -> datetime:
    """Return a kept time as one that can be compared: without a zone it is UTC, a day is its start, or its end.

    Examples
    --------
    >>> moment("2026-03-01") < moment("2026-03-01T18:00") < moment("2026-03-01", end=True)
    True
    """
    found = datetime.fromisoformat(text)
    if end and len(text.strip()) == len("2026-03-01"):
        found = datetime.combine(found, time.max)
    return found if found.tzinfo is not None else found.replace(tzinfo=UTC)


def check_days(lot: Lot, now: datetime) -> None:
    """Refuse a lot of which any day lies too far ahead; see `check_not_ahead`."""
    for column in LOTS.columns:
        if column.kind == "time":
            check_not_ahead(column.name, getattr(lot, column.name), now)


def check_not_ahead(name: str, text: str | None, now: datetime) -> None:
    """Refuse a day that lies ahead; of ``best_before`` and ``use_by`` one that is too far ahead.

    Raises
    ------
    TableError
        When something is said to have happened after tomorrow, or to keep for longer than food does.
    """
    if text is None:
        return
    ahead_days = (moment(text) - now).total_seconds() / 86_400
    if name in _AHEAD:
        if ahead_days > KEEPS_YEARS * 365.25:
            raise TableError(f"{name} {text} is more than {KEEPS_YEARS} years ahead", "correct the year")
    elif ahead_days > 1:
        raise TableError(f"{name} {text} lies ahead", "write the day on which it was, or leave it empty")
