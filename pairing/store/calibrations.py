"""Drop masses that were weighed at this bench."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import UnknownIdError, nearest_item
from pairing.quantities.calibration import calibrate
from pairing.store import ledger, state
from pairing.store.exchange import clean

if TYPE_CHECKING:
    import pandas as pd

    from pairing.quantities.calibration import Calibration
    from pairing.store.database import Transaction

    Table = Mapping[str, Any] | pd.DataFrame

__all__ = ["store", "weighed_drop_mg", "with_weighed_drops"]


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

    known = ledger.current(tx, "flavourings")["flavouring_id"]
    if flavouring_id not in set(known):
        raise UnknownIdError(f"no flavouring {flavouring_id!r}", nearest_item(flavouring_id, known))
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


def weighed_drop_mg(calibrations: Table) -> dict[str, float]:
    """Return mg per drop by flavouring: all drops of the lot weighed last over their count.

    Examples
    --------
    >>> weighed_drop_mg({"flavouring_id": ["plum", "plum"], "drops": [20, 10], "grams": [0.7, 0.4], "lot": [None, "b"]})
    {'plum': 40.0}
    """
    sums: dict[str, dict[Any, tuple[float, float]]] = {}
    columns = (calibrations[name] for name in ("flavouring_id", "lot", "drops", "grams"))
    for name, lot, drops, grams in zip(*columns, strict=True):
        of_lots = sums.setdefault(name, {})
        before = of_lots.pop(lot, (0.0, 0.0))  # taken out: the lot weighed last comes last
        of_lots[lot] = before[0] + drops, before[1] + grams
    last = {name: list(of_lots.values())[-1] for name, of_lots in sums.items()}
    return {name: round(float(1000 * grams / drops), 6) for name, (drops, grams) in last.items()}


def with_weighed_drops(flavourings: Table, calibrations: Table) -> dict[str, Any]:
    """Return the columns of the flavourings with ``drop_mg`` as weighed where it was."""
    weighed = weighed_drop_mg(calibrations)
    stated = zip(flavourings["flavouring_id"], flavourings["drop_mg"], strict=True)
    drop_mg = np.array([weighed.get(name, mg) for name, mg in stated], dtype=np.float64)
    return {**{str(name): flavourings[str(name)] for name in flavourings}, "drop_mg": drop_mg}
