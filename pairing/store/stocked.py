"""What the log leaves in every lot, and the shelf that knows it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from pairing.errors import TableError, UnknownIdError, nearest
from pairing.model.base import Base
from pairing.model.called import meant
from pairing.model.columns import LOTS
from pairing.model.flavouring import Flavouring
from pairing.model.measures import Measures
from pairing.model.shelf import Shelf
from pairing.stock.dates import past_dates
from pairing.stock.draws import READINGS_READ, STEPS_READ, drawing_on, draws
from pairing.stock.lots import Lot, check_days
from pairing.stock.reckon import Held, Weighing, cost_per_g, held_g, lot_meant, reckon
from pairing.store import ledger, state
from pairing.store.calibrations import with_lots
from pairing.store.exchange import clean
from pairing.store.known import known_names
from pairing.store.trials import rows_with

if TYPE_CHECKING:
    from pairing.store.database import Transaction

__all__ = ["buy", "lots_held", "shelf_of", "weigh"]

_FULLEST = 1.2
"""How much more than its size a bottle may hold: they are filled generously, and densities assumed (our choice)."""


def shelf_of(tx: Transaction) -> Shelf:
    """Return bases, flavourings and tasters; drops as weighed here, what the lots hold, cost and say."""
    tables = {name: ledger.columns_of(tx, name) for name in ("bases", "flavourings", "tasters", "calibrations")}
    held = _reckoned(tx, tables)
    in_use = {one.lot.item_id: one.lot.lot for one in held if one.in_use}
    settings = state.read_settings(tx)
    measures = Measures(settings["amounts"], settings["volumes"])
    shelf = replace(with_lots(tables, in_use), jurisdiction=settings["jurisdiction"], measures=measures)
    if not held:
        return shelf
    cost = cost_per_g(held)
    bases = {i: replace(b, cost_per_kg=1000 * cost[i]) if i in cost else b for i, b in shelf.bases.items()}
    drops = {i: replace(f, cost_per_g=cost[i]) if i in cost else f for i, f in shelf.flavourings.items()}
    past = {item: (one.which, one.day) for item, one in past_dates(held).items()}
    opened = {(one.lot.item_id, one.lot.lot): day for one in held if (day := one.lot.opened_at)}
    stock: dict[str, Any] = {"held_g": held_g(held), "past": past, "opened": opened}
    return replace(shelf, bases=bases, flavourings=drops, **stock)


def lots_held(tx: Transaction) -> tuple[Held, ...]:
    """Return what is left in every lot, in the order in which they were entered."""
    return _reckoned(tx, {name: ledger.columns_of(tx, name) for name in ("bases", "flavourings")})


def _reckoned(tx: Transaction, tables: Mapping[str, Any]) -> tuple[Held, ...]:
    if not ledger.count(tx, "lots"):  # a bench without lots pays nothing for them
        return ()
    shelf = Shelf.from_tables(tables["bases"], tables["flavourings"])
    rows = ledger.current(tx, "lots")
    lots = [Lot.of_row(row) for row in rows.to_dict("records")]
    items: dict[str, Base | Flavouring] = {**shelf.bases, **shelf.flavourings}
    size_g = {(one.item_id, one.lot): one.size_g(items.get(one.item_id)) for one in lots}
    stocked = {one.item_id for one in lots}
    of = sorted(drawing_on(shelf, stocked))  # the other cups, most of a large log, are not read
    steps, readings = rows_with(tx, "steps", of, STEPS_READ), rows_with(tx, "readings", of, READINGS_READ)
    taken = draws(steps, readings, shelf, stocked)
    scale = ledger.current(tx, "weighings")
    weighings = map(Weighing, *(scale[name].tolist() for name in ("item_id", "lot", "at", "gross_g")))
    return reckon(lots, taken, weighings, size_g)


def buy(tx: Transaction, item_id: str, size: str, facts: Mapping[str, Any]) -> Lot:
    """Store a lot as bought, and return it.

    Raises
    ------
    UnknownIdError, TableError, QuantityError
        When there is no such item, it has that lot already, or a fact cannot be.
    """
    import pandas as pd

    item_id = _item_id(tx, item_id)
    if strange := [name for name in facts if name not in LOTS.names]:
        raise TableError(f"a lot has no {strange[0]}", nearest(strange[0], LOTS.names))
    rows = ledger.current(tx, "lots")
    there = set(rows[rows["item_id"] == item_id]["lot"])
    lot = facts.get("lot") or next(str(n) for n in range(1, len(there) + 2) if str(n) not in there)
    if lot in there:
        raise TableError(f"{item_id} has a lot {lot!r} already", "give this one another name, or correct that one")
    row: dict[str, Any] = {"item_id": item_id, "size": size, **facts, "lot": lot}
    if row.get("made_at") is None and row.get("bought_at") is None:
        row["bought_at"] = datetime.now().astimezone().date().isoformat()
    check_days(Lot.of_row({**dict.fromkeys(LOTS.names), **row}), datetime.now(UTC))
    frame = clean("lots", pd.DataFrame([row]), known=known_names(tx), on_bad="raise").table
    begun = ledger.begin_revision(tx, "buy", about=f"{item_id}, lot {lot}: {size}")
    ledger.append(tx, "lots", frame, begun.batch)
    return Lot.of_row(frame.to_dict("records")[0])


def _item_id(tx: Transaction, text: str) -> str:
    known = known_names(tx)
    return meant(text, known["bases"] | known["flavourings"], "base or flavouring")


def weigh(tx: Transaction, item_id: str, gross_g: float, lot: str | None, at: str | None) -> Held:
    """Store what a bottle weighs with what is in it, and return what that leaves.

    Raises
    ------
    UnknownIdError, TableError
        When it has no such lot, several are open and none is named, its tare is not known, or it weighs less.
    """
    import pandas as pd

    item_id = _item_id(tx, item_id)
    held = lots_held(tx)
    own = {one.lot.lot: one for one in held if one.lot.item_id == item_id}
    if lot is not None and lot not in own:
        raise UnknownIdError(f"no lot {lot!r} of {item_id}", nearest(lot, own) if own else "load its lots first")
    one = own[lot] if lot is not None else lot_meant(item_id, held)
    if one.lot.tare_g is None:
        raise TableError(
            f"the tare of lot {one.lot.lot} of {item_id} is not known",
            "weigh an empty bottle of the kind and load it as tare_g of the lot; until then nothing can be settled",
        )
    row = {"item_id": item_id, "lot": one.lot.lot, "at": at or ledger.now(), "gross_g": gross_g}
    frame = clean("weighings", pd.DataFrame([row]), on_bad="raise").table
    net_g = float(frame["gross_g"].iloc[0]) - one.lot.tare_g
    if net_g < 0:
        raise TableError(
            f"{gross_g:g} g is less than the empty bottle, {one.lot.tare_g:g} g",
            "weigh the bottle with what is in it, or correct tare_g of the lot",
        )
    if one.size_g is not None and net_g > _FULLEST * one.size_g:
        raise TableError(
            f"{net_g:g} g without the bottle is more than the {one.size_g:g} g that were bought",
            "weigh again, or correct size or tare_g of the lot",
        )
    begun = ledger.begin_revision(tx, "weigh", about=f"{item_id}, lot {one.lot.lot}: {gross_g:g} g")
    ledger.append(tx, "weighings", frame, begun.batch)
    return next(h for h in lots_held(tx) if (h.lot.item_id, h.lot.lot) == (item_id, one.lot.lot))
