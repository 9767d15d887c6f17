"""Bases and flavourings as rows of their tables."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from pairing.model.base import Base
from pairing.model.columns import BASES, FLAVOURINGS
from pairing.model.fields import written
from pairing.model.flavouring import Flavouring

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["as_tables"]


def as_tables(items: Iterable[Base | Flavouring]) -> dict[str, pd.DataFrame]:
    """Return tables, ready to be loaded, of bases and flavourings; a table without rows is left out.

    Examples
    --------
    >>> as_tables([Base(base_id="oat", name="Oat drink", allergens=frozenset({"oat"}))])["bases"]["allergens"].tolist()
    ['oat']
    """
    import pandas as pd

    given = list(items)
    kinds = (("bases", BASES, Base), ("flavourings", FLAVOURINGS, Flavouring))
    rows = {
        name: [
            {column: written(getattr(item, column)) for column in table.names} for item in given if type(item) is kind
        ]
        for name, table, kind in kinds
    }
    return {name: pd.DataFrame(found) for name, found in rows.items() if found}
