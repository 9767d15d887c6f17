"""Who looks at rows that come in beyond their form: whether words keep anything out, and what was drunk."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf
    from pairing.store.notes import Note

__all__ = ["Watch"]


class Watch(Protocol):
    """Who looks at rows that come in beyond their form."""

    def unplaced(self, tasters: pd.DataFrame, shelf: Shelf) -> Iterable[tuple[int, Any]]:
        """Return positions of tasters to refuse, each with ``column, reason, remedy``."""

    def drunk(self, readings: pd.DataFrame, shelf: Shelf) -> list[Note]:
        """Return notes of readings that are kept though a caution stops what was drunk."""

    def judged(self, readings: pd.DataFrame) -> list[Note]:
        """Return notes of words for cups that no plugin offers."""
