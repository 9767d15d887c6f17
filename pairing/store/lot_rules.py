"""Which rows of lots and weighings are refused: sizes that are none, and days that do not follow one another."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import PairingError
from pairing.model.columns import LOTS, TABLES
from pairing.stock.lots import Lot, check_not_ahead

if TYPE_CHECKING:
    from pairing.store.problems import Problems
    from pairing.store.rules import Data

__all__ = ["check_lots"]


def check_lots(table: str, data: Data, problems: Problems) -> None:
    """Refuse lots whose size or days cannot be, and lots and weighings that lie ahead."""
    now = datetime.now(UTC)
    for i in problems.first_time(np.arange(len(data["item_id"]))):
        row = {name: data[name][i] for name in TABLES[table].names}
        at = ""
        try:
            if table == LOTS.name:
                at = "size"
                Lot.of_row(row)
            for at in (c.name for c in TABLES[table].columns if c.kind == "time"):
                check_not_ahead(at, row[at], now)
        except PairingError as error:
            problems.refuse([i], at, row[at], error.message, error.hint)
