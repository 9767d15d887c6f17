"""How cups were served, or are going to be: what belongs to the occasion and not to the recipe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from pairing.model.arrays import Floats

__all__ = ["SERVED_COLUMNS", "Served"]

SERVED_COLUMNS = ("temperature_c", "minutes_since_addition", "lot_age_days")
"""Number columns of a cup that rules may ask for, too."""


@dataclass(frozen=True, eq=False)
class Served:
    """How n cups were served.

    Attributes
    ----------
    temperature_c, minutes_since_addition : array, shape (n,)
        NaN where it is not known.
    lot_age_days : array, shape (n,)
        Days since the oldest of the bottles that were poured from was opened; NaN where it is not known.
    mixing : object array, shape (n,)
        How they were mixed, in words; None where it is not known.

    Examples
    --------
    >>> Served.known(2, temperature_c=8.0).temperature_c.tolist()
    [8.0, 8.0]
    """

    temperature_c: Floats
    minutes_since_addition: Floats
    lot_age_days: Floats
    mixing: Any

    @classmethod
    def known(cls, n: int, **numbers: float) -> Served:
        """Return n cups of which some numbers are known, all alike."""
        columns = {name: np.full(n, numbers.get(name, np.nan)) for name in SERVED_COLUMNS}
        return cls(**columns, mixing=np.full(n, None, object))

    def take(self, rows: Any) -> Served:
        """Return some of the cups."""
        return Served(*(getattr(self, f.name)[rows] for f in fields(self)))

    @classmethod
    def stack(cls, parts: Sequence[tuple[int, Served | None]]) -> Served | None:
        """Put cups below one another, each part with its length; None where nothing is known of any."""
        if all(served is None for _, served in parts):
            return None
        whole = [cls.known(n) if served is None else served for n, served in parts]
        return cls(*(np.concatenate([getattr(s, f.name) for s in whole]) for f in fields(cls)))
