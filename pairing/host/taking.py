"""Bases and flavourings of plugins as rows of the bench's own tables."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from pairing.errors import UnknownIdError, nearest
from pairing.host.host import Host
from pairing.model import rows

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
    known: dict[str, Any] = {base.base_id: base for base in host.bases}
    known |= {flavouring.flavouring_id: flavouring for flavouring in host.flavourings}
    for name in (wanted := list(dict.fromkeys(wanted))):
        if name not in known:
            raise UnknownIdError(f"no plugin brings {name!r}", nearest(name, known))
    return rows.as_tables(known[name] for name in wanted)
