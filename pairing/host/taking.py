"""Bases and flavourings of plugins as rows of the bench's own tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from pairing.errors import UnknownIdError, nearest
from pairing.host.host import Host
from pairing.model.columns import BASES, FLAVOURINGS, Table

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["as_tables"]


def as_tables(host: Host, wanted: Iterable[str]) -> dict[str, pd.DataFrame]:
    """Return tables, ready to be loaded, with the bases and flavourings of these ids.

    Raises
    ------
    UnknownIdError
        When no plugin brings an id; the hint offers the nearest.
    """
    bases = {base.base_id: base for base in host.bases}
    flavourings = {flavouring.flavouring_id: flavouring for flavouring in host.flavourings}
    known = bases | flavourings
    for name in (wanted := list(dict.fromkeys(wanted))):
        if name not in known:
            raise UnknownIdError(f"no plugin brings {name!r}", nearest(name, known))
    made = {
        "bases": _table(BASES, [bases[name] for name in wanted if name in bases]),
        "flavourings": _table(FLAVOURINGS, [flavourings[name] for name in wanted if name in flavourings]),
    }
    return {name: table for name, table in made.items() if len(table)}


def _table(table: Table, items: list[Any]) -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame([{name: _cell(getattr(item, name)) for name in table.names} for item in items])


def _cell(value: Any) -> Any:
    """Write a value as a cell of its table reads it."""
    if isinstance(value, Mapping):
        return ";".join(k if v is None else f"{k}:{v:g}" for k, v in value.items()) or "none"
    return (";".join(sorted(value)) or "none") if isinstance(value, frozenset) else value
