"""Stock as a table: a row per lot, and one per item that has none but a stated stock."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.stock.held import in_stock_g
from pairing.stock.reckon import Held

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["stock_table"]

_DAYS = ("made_at", "bought_at", "opened_at", "best_before", "use_by", "emptied_at")
COLUMNS = (
    *("item_id", "name", "lot", "size_g", "held_g", "drawn_g", "cost_per_g", "in_use"),
    *_DAYS,
    *("weighed_at", "flags"),
)


def stock_table(held: Sequence[Held], shelf: Shelf) -> pd.DataFrame:
    """Return the stock, in the order of the lots; then what has a stated stock.

    Returns
    -------
    DataFrame
        ``item_id, name, lot, size_g, held_g, drawn_g, cost_per_g, in_use, made_at, bought_at, opened_at,
        best_before, use_by, emptied_at, weighed_at, flags``; masses in g, reckoned to 1 mg, NaN unknown;
        ``flags`` as in `Held`.
    """
    import pandas as pd

    items: dict[str, Base | Flavouring] = {**shelf.bases, **shelf.flavourings}
    rows = [
        {
            "item_id": one.lot.item_id,
            "name": items[one.lot.item_id].name if one.lot.item_id in items else one.lot.item_id,
            "lot": one.lot.lot,
            "size_g": one.size_g,
            "held_g": None if one.held_g is None else round(one.held_g, 3),
            "drawn_g": round(one.drawn_g, 3),
            "cost_per_g": one.cost_per_g,
            "in_use": one.in_use,
            **{name: getattr(one.lot, name) for name in _DAYS},
            "weighed_at": one.weighed_at,
            "flags": one.flags,
        }
        for one in held
    ]
    rows += [
        {"item_id": i, "name": f.name, "held_g": in_stock_g(f, shelf), "cost_per_g": f.cost_per_g, "flags": ()}
        for i, f in shelf.flavourings.items()
        if i not in shelf.held_g and f.stock_g is not None
    ]
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    numbers = ["size_g", "held_g", "drawn_g", "cost_per_g"]
    texts = [name for name in COLUMNS if name not in (*numbers, "flags", "in_use")]
    table[numbers] = table[numbers].astype(float)
    table[texts] = table[texts].astype(object).where(table[texts].notna(), None)
    return table.assign(in_use=[value is True for value in table["in_use"]])
