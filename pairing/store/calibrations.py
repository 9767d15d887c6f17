"""Drop masses that were weighed at this bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import UnknownIdError, nearest
from pairing.quantities.calibration import calibrate
from pairing.store import ledger, state
from pairing.store.exchange import clean

if TYPE_CHECKING:
    import pandas as pd

    from pairing.quantities.calibration import Calibration
    from pairing.store.database import Transaction

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
        raise UnknownIdError(f"no flavouring {flavouring_id!r}", nearest(flavouring_id, known))
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


def weighed_drop_mg(calibrations: pd.DataFrame) -> dict[str, float]:
    """Return mg per drop by flavouring: all drops of the lot weighed last over their count.

    Examples
    --------
    >>> import pandas as pd
    >>> weighed_drop_mg(pd.DataFrame({"flavouring_id": ["plum"], "drops": [20.0], "grams": [0.7], "lot": [None]}))
    {'plum': 35.0}
    """
    out: dict[str, float] = {}
    for name, rows in calibrations.groupby("flavouring_id", sort=False):
        lots = rows["lot"].astype(object).where(rows["lot"].notna(), "").to_numpy()
        of_last = rows[lots == lots[-1]]
        out[str(name)] = round(float(1000 * of_last["grams"].sum() / of_last["drops"].sum()), 6)
    return out


def with_weighed_drops(flavourings: pd.DataFrame, calibrations: pd.DataFrame) -> pd.DataFrame:
    """Return the flavourings with ``drop_mg`` as weighed where it was."""
    weighed = flavourings["flavouring_id"].map(weighed_drop_mg(calibrations)).to_numpy(dtype=np.float64)
    stated = flavourings["drop_mg"].to_numpy(dtype=np.float64)
    return flavourings.assign(drop_mg=np.where(np.isnan(weighed), stated, weighed))
