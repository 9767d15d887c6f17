"""Drop masses that were weighed at this bench."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.called import meant
from pairing.model.shelf import Shelf
from pairing.quantities.calibration import calibrate
from pairing.store import ledger, state
from pairing.store.exchange import clean

if TYPE_CHECKING:
    import pandas as pd

    from pairing.quantities.calibration import Calibration
    from pairing.store.database import Transaction

    Table = Mapping[str, Any] | pd.DataFrame

__all__ = ["store", "weighed_drop_mg", "with_lots"]


def store(tx: Transaction, flavouring_id: str, drops: int, grams: float, lot: str | None) -> Calibration:
    """Store one weighing and return mg per drop from all weighings of its lot.

    Raises
    ------
    UnknownIdError
        When the flavouring is not on the shelf.
    QuantityError
        When the scale cannot tell that mass.
    """
    import pandas as pd

    known = ledger.columns_of(tx, "flavourings")
    names = dict(zip(known["flavouring_id"], known["name"], strict=True))
    flavouring_id = meant(flavouring_id, names, "flavouring")
    kept = ledger.current(tx, "calibrations")
    same_lot = kept["lot"].isna() if lot is None else kept["lot"] == lot
    before = kept[(kept["flavouring_id"] == flavouring_id) & same_lot]
    counts, masses = [*before["drops"], drops], [*before["grams"], grams]
    answer = calibrate(counts, masses, scale_g=state.read_settings(tx)["scale_g"])
    row = {"flavouring_id": flavouring_id, "drops": drops, "grams": grams, "lot": lot, "at": ledger.now()}
    frame = clean("calibrations", pd.DataFrame([row]), on_bad="raise").table
    begun = ledger.begin_revision(tx, "calibrate", about=f"{flavouring_id}: {drops} drops")
    ledger.append(tx, "calibrations", frame, begun.batch)
    return answer


def weighed_drop_mg(calibrations: Table) -> dict[str, dict[str | None, float]]:
    """Return mg per drop by flavouring and lot: all drops over their count, the lot weighed last coming last.

    Examples
    --------
    >>> weighed_drop_mg({"flavouring_id": ["plum", "plum"], "drops": [20, 10], "grams": [0.7, 0.4], "lot": [None, "b"]})
    {'plum': {None: 35.0, 'b': 40.0}}
    """
    sums: dict[str, dict[Any, tuple[float, float]]] = {}
    columns = (calibrations[name] for name in ("flavouring_id", "lot", "drops", "grams"))
    for name, lot, drops, grams in zip(*columns, strict=True):
        of_lots = sums.setdefault(name, {})
        before = of_lots.pop(lot, (0.0, 0.0))  # taken out: the lot weighed last comes last
        of_lots[lot] = before[0] + drops, before[1] + grams
    return {
        name: {lot: round(float(1000 * grams / drops), 6) for lot, (drops, grams) in of_lots.items()}
        for name, of_lots in sums.items()
    }


def with_lots(tables: Mapping[str, Table], lot_in_use: Mapping[str, str]) -> Shelf:
    """Return the shelf of some tables, with drops as weighed: those of the lot in use, else of the lot weighed last.

    Parameters
    ----------
    tables : mapping
        ``bases, flavourings, tasters, calibrations``.
    lot_in_use : mapping of item_id to lot
    """
    weighed, flavourings = weighed_drop_mg(tables["calibrations"]), tables["flavourings"]
    stated = zip(flavourings["flavouring_id"], flavourings["drop_mg"], strict=True)
    drop_mg = np.array([_drop_mg(weighed[n], lot_in_use.get(n)) if n in weighed else mg for n, mg in stated], float)
    known = {**{str(name): flavourings[str(name)] for name in flavourings}, "drop_mg": drop_mg}
    own = {(n, lot): mg for n, of_lots in weighed.items() for lot, mg in of_lots.items() if lot is not None}
    return replace(Shelf.from_tables(tables["bases"], known, tables["tasters"]), lot_in_use=lot_in_use, lot_drop_mg=own)


def _drop_mg(of_lots: Mapping[str | None, float], lot: str | None) -> float:
    return of_lots[lot] if lot is not None and lot in of_lots else list(of_lots.values())[-1]
