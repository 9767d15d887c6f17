"""What is left in each lot: its size, less what cups took; and since it was weighed, less what they took since."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import NamedTuple

from pairing.errors import TableError
from pairing.stock.draws import Draw
from pairing.stock.lots import Lot, moment

__all__ = ["Held", "Weighing", "cost_per_g", "held_g", "lot_meant", "lots_in_doubt", "reckon"]

_START = datetime.min.replace(tzinfo=UTC)
_DUST_G = 0.0005
"""Half of what stock is reckoned to, 1 mg."""


class Weighing(NamedTuple):
    """A bottle on the scale, with what is in it."""

    item_id: str
    lot: str
    at: str
    gross_g: float


@dataclass(frozen=True, kw_only=True)
class Held:
    """What is left in one lot.

    Attributes
    ----------
    lot : Lot
    size_g : float or None
        What was in it when it was full.
    held_g : float or None
        What is left, 0 or more; None where neither size nor a weighing is known.
    drawn_g : float
        What cups took since it was full, or weighed.
    weighed_at : str or None
        When it was last settled on the scale.
    in_use : bool
        Whether the next cup draws on it: the only one that is open, or named last, and no other was opened since.
    flags : tuple of str
        ``which lot`` (cups took from one of several and nobody said which: counted here), ``used before bought``,
        ``used after emptied``, ``overdrawn``, ``tare unknown`` and ``lighter than its tare`` (a weighing that could not
        be used), ``unknown amounts`` (a cup of unknown size took of it: there is at most this much).
    """

    lot: Lot
    size_g: float | None
    held_g: float | None
    drawn_g: float
    weighed_at: str | None
    in_use: bool
    flags: tuple[str, ...] = ()

    @property
    def cost_per_g(self) -> float | None:
        """Price of 1 g; None where price or size is unknown."""
        return None if self.lot.price is None or self.size_g is None else self.lot.price / self.size_g


@dataclass
class _Bottle:
    """One lot while its cups are counted."""

    lot: Lot
    size_g: float | None
    took: list[float] = field(default_factory=list)
    weighed_at: str | None = None
    weighed_g: float | None = None
    flags: dict[str, None] = field(default_factory=dict)

    def there(self, at: datetime | None) -> bool:
        """Whether it was bought, and not emptied, at a time; None is before any time that is stated."""
        start = self.lot.bought_at or self.lot.opened_at
        if start is not None and (at is None or at < moment(start)):
            return False
        return at is None or self.lot.emptied_at is None or at <= moment(self.lot.emptied_at, end=True)

    def opened(self, at: datetime | None) -> bool:
        opened = self.lot.opened_at
        return opened is not None and at is not None and moment(opened) <= at

    def opened_since(self, at: datetime | None) -> bool:
        """Whether it was opened after a time; None is before any time that is stated."""
        opened = self.lot.opened_at
        return opened is not None and (at is None or moment(opened) > at)

    def take(self, grams: float | None) -> None:
        if grams is None:
            self.flags["unknown amounts"] = None
        else:
            self.took.append(grams)

    def weigh(self, at: str, gross_g: float) -> None:
        tare = self.lot.tare_g
        if tare is None or gross_g < tare:
            self.flags["tare unknown" if tare is None else "lighter than its tare"] = None
            return
        self.weighed_g, self.took, self.weighed_at = gross_g - tare, [], at
        self.flags.pop("unknown amounts", None)


def reckon(
    lots: Sequence[Lot],
    taken: Iterable[Draw],
    weighings: Iterable[Weighing],
    size_g: Mapping[tuple[str, str], float | None],
) -> tuple[Held, ...]:
    """Reckon what is left in lots, in their order.

    Cups and weighings count in the order of their times; a weighing settles what was taken until then. A cup takes
    from the lot that it names, else from the one that is open, else of several from the one that was named last, if
    none of the others was opened since, else from the one opened or bought first. A cup without a time took before any
    time that is stated.

    Parameters
    ----------
    lots : sequence of Lot
    taken : iterable of Draw
    weighings : iterable of Weighing
    size_g : mapping of (item_id, lot) to float or None

    Examples
    --------
    >>> lot = Lot(item_id="quince", lot="A", size="30 ml", tare_g=20, bought_at="2026-03-01")
    >>> cups = [Draw("quince", 2.5, at="2026-03-02"), Draw("quince", 0.5, at="2026-03-04")]
    >>> reckon([lot], cups, [], {("quince", "A"): 30.0})[0].held_g
    27.0
    >>> reckon([lot], cups, [Weighing("quince", "A", "2026-03-03", 46.0)], {("quince", "A"): 30.0})[0].held_g
    25.5
    """
    bottles = {(one.item_id, one.lot): _Bottle(one, size_g.get((one.item_id, one.lot))) for one in lots}
    of_item: dict[str, list[_Bottle]] = {}
    for bottle in bottles.values():
        of_item.setdefault(bottle.lot.item_id, []).append(bottle)
    named: dict[str, _Named] = {}
    for at, event in _in_order(taken, weighings):
        if event.item_id not in of_item:
            continue
        bottle_named = bottles.get((event.item_id, event.lot or ""))
        if bottle_named is not None:
            named[event.item_id] = _Named(bottle_named.lot.lot, at)
        if isinstance(event, Weighing):
            if bottle_named is not None:
                bottle_named.weigh(event.at, event.gross_g)
        elif bottle_named is not None:
            _check_times(bottle_named, at)
            bottle_named.take(event.g)
        elif event.lot is None:
            meant, sure = _meant(of_item[event.item_id], named.get(event.item_id), at)
            if meant is not None:
                meant.take(event.g)
                if not sure:
                    meant.flags["which lot"] = None
    now = datetime.max.replace(tzinfo=UTC)
    meant_now = {item: _meant(of, named.get(item), now) for item, of in of_item.items()}
    in_use = {id(bottle) for bottle, sure in meant_now.values() if sure}
    return tuple(_held(bottle, id(bottle) in in_use) for bottle in bottles.values())


def _in_order(taken: Iterable[Draw], weighings: Iterable[Weighing]) -> list[tuple[datetime | None, Draw | Weighing]]:
    events: list[tuple[datetime | None, Draw | Weighing]] = []
    events += [(None if one.at is None else moment(one.at), one) for one in taken]
    events += [(moment(one.at, end=True), one) for one in weighings]
    return sorted(events, key=lambda pair: (pair[0] or _START, isinstance(pair[1], Weighing)))


class _Named(NamedTuple):
    """The lot of an item that was named last, and when."""

    lot: str
    at: datetime | None


def _meant(bottles: Sequence[_Bottle], named: _Named | None, at: datetime | None) -> tuple[_Bottle | None, bool]:
    """Return which bottle a cup took from that names none, and whether that is sure."""
    there = [one for one in bottles if one.there(at)]
    opened = [one for one in there if one.opened(at)]
    chosen = opened or there
    if len(chosen) <= 1:
        return (chosen[0] if chosen else None), True
    last = next((one for one in chosen if named is not None and one.lot.lot == named.lot), None)
    if last is not None and named is not None:
        return last, not any(one is not last and one.opened_since(named.at) for one in chosen)
    return min(chosen, key=lambda one: moment(one.lot.opened_at or one.lot.bought_at or "0001-01-01")), False


def _check_times(bottle: _Bottle, at: datetime | None) -> None:
    bought, emptied = bottle.lot.bought_at, bottle.lot.emptied_at
    if at is not None and bought is not None and at < moment(bought):
        bottle.flags["used before bought"] = None
    if at is not None and emptied is not None and at > moment(emptied, end=True):
        bottle.flags["used after emptied"] = None


def _held(bottle: _Bottle, in_use: bool) -> Held:
    drawn = math.fsum(bottle.took)
    start = bottle.size_g if bottle.weighed_g is None else bottle.weighed_g
    left = None if start is None else start - drawn
    if left is not None and left < -_DUST_G:
        bottle.flags["overdrawn"] = None
    emptied = bottle.lot.emptied_at is not None
    return Held(
        lot=bottle.lot,
        size_g=bottle.size_g,
        held_g=0.0 if emptied else None if left is None else max(0.0, left),
        drawn_g=drawn,
        weighed_at=bottle.weighed_at,
        in_use=in_use,
        flags=tuple(bottle.flags),
    )


def held_g(lots: Iterable[Held]) -> dict[str, float | None]:
    """Return g of every item in all of its lots together; None where one of them is unknown."""
    parts: dict[str, list[float | None]] = {}
    for one in lots:
        parts.setdefault(one.lot.item_id, []).append(one.held_g)
    return {
        item: None if any(g is None for g in of) else math.fsum(g for g in of if g is not None)
        for item, of in parts.items()
    }


def cost_per_g(lots: Iterable[Held]) -> dict[str, float]:
    """Return the price of 1 g of items whose lots state price and size: of the lot in use, else of the first."""
    found: dict[str, tuple[bool, float]] = {}
    for one in lots:
        item, cost = one.lot.item_id, one.cost_per_g
        if cost is not None and one.lot.emptied_at is None and (item not in found or one.in_use > found[item][0]):
            found[item] = one.in_use, cost
    return {item: cost for item, (_, cost) in found.items()}


def lots_in_doubt(item_id: str, lots: Iterable[Held]) -> tuple[Held, ...]:
    """Return the open lots of an item where there are several and nobody has named one of them yet; else none."""
    opened = _opened(item_id, lots)
    return () if len(opened) == 1 or any(one.in_use for one in opened) else tuple(opened)


def _opened(item_id: str, lots: Iterable[Held]) -> list[Held]:
    """Return the lots of an item that are open, those that are there where none is."""
    own = [one for one in lots if one.lot.item_id == item_id and one.lot.emptied_at is None]
    return [one for one in own if one.lot.opened_at is not None] or own


def lot_meant(item_id: str, lots: Iterable[Held]) -> Held:
    """Return the lot of an item that is meant where none is named.

    Raises
    ------
    TableError
        When it has no lot that is not emptied, or several are open and nobody has named one of them yet.
    """
    opened = _opened(item_id, lots)
    if not opened:
        raise TableError(
            f"{item_id} has no lot that is not emptied", "load one: item_id, lot, size, tare_g, price, bought_at"
        )
    used = opened if len(opened) == 1 else [one for one in opened if one.in_use]
    if not used:
        names = ", ".join(one.lot.lot for one in opened)
        raise TableError(
            f"{len(opened)} lots of {item_id} are open: {names}",
            "say which: the one that is named last, in a cup or on the scale, is the one in use from then on",
        )
    return used[0]
