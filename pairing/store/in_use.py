"""Which lot the next cup takes of, without counting what all cups took; and cups as poured from those lots."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

from pairing.model.cup import Cup
from pairing.model.fields import is_missing
from pairing.stock.draws import Draw
from pairing.stock.lots import Lot, moment
from pairing.stock.reckon import Weighing, reckon
from pairing.store import ledger

if TYPE_CHECKING:
    from pairing.store.database import Transaction

__all__ = ["InUse", "lots_in_use", "poured_from"]


class InUse(NamedTuple):
    """Lots in use by item, and items that have several: of these the one that was named last is in use, if any was."""

    lots: Mapping[str, Lot] = {}
    several: frozenset[str] = frozenset()

    @property
    def names(self) -> dict[str, str]:
        """The lot in use of every item that has one."""
        return {item: one.lot for item, one in self.lots.items()}


def lots_in_use(tx: Transaction) -> InUse:
    """Tell the lot in use of every item that has one, by the rule of `pairing.stock.reckon`.

    Of what was logged only the last naming of each lot is looked up, and that only where an item has several.
    """
    if not ledger.count(tx, "lots"):
        return InUse()
    lots = [Lot.of_row(row) for row in ledger.current(tx, "lots").to_dict("records")]
    left = [one for one in lots if one.emptied_at is None]
    several = frozenset(a.item_id for a, b in combinations(left, 2) if a.item_id == b.item_id)
    named = [event for one in left if one.item_id in several for event in _named(tx, one)]
    taken = [event for event in named if isinstance(event, Draw)]
    weighed = [event for event in named if isinstance(event, Weighing)]
    return InUse({one.lot.item_id: one.lot for one in reckon(lots, taken, weighed, {}) if one.in_use}, several)


def _named(tx: Transaction, lot: Lot) -> Iterator[Draw | Weighing]:
    """Give the last time at which a cup, and at which the scale, named a lot."""
    where = {"item_id": lot.item_id, "lot": lot.lot}
    for row in ledger.last_rows(tx, "weighings", 1, where).to_dict("records"):
        yield Weighing(lot.item_id, lot.lot, str(row["at"]), float(row["gross_g"]))
    for row in ledger.last_rows(tx, "steps", 1, where).to_dict("records"):
        tasted = ledger.last_rows(tx, "readings", 1, {"trial_id": row["trial_id"]})["tasted_at"].tolist()
        at = next((str(time) for time in (row["at"], *tasted) if not is_missing(time)), None)
        yield Draw(lot.item_id, 0.0, lot.lot, at)


def poured_from(cup: Cup, lots: Mapping[str, Lot]) -> Cup:
    """Return a cup whose steps name the lots in use where they name none; not those that were bought later."""
    if not lots:
        return cup
    steps = []
    for step in cup.steps:
        lot = lots.get(step.item_id or "") if step.kind in ("pour", "add") and step.lot is None else None
        steps.append(step if lot is None or not _there(lot, step.at or cup.steps[0].at) else replace(step, lot=lot.lot))
    if steps == list(cup.steps):
        return cup
    return Cup.from_steps(cup.base_id, steps, trial_id=cup.trial_id, readings=cup.readings, shelf=cup.shelf)


def _there(lot: Lot, at: str | None) -> bool:
    start = lot.bought_at or lot.opened_at
    return start is None or moment(start) <= (datetime.now(UTC) if at is None else moment(at))
