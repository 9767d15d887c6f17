"""Grams behind the amounts that a log gives: drops and millilitres by what the shelf says today."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import TableError
from pairing.model.base import DEFAULT_DENSITY_G_PER_ML

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["grams_of", "grams_of_base"]


def grams_of(amount: Any, flavouring: Any, shelf: Shelf) -> tuple[Any, list[str]]:
    """Turn amounts (``11 drops``) of flavourings, given by place on the shelf, into grams, NaN where empty."""
    from pairing.drops import drop_mass
    from pairing.units import amount_to_g, parse_amount

    known = list(shelf.flavourings.values())
    kept: dict[tuple[Any, int], float] = {}
    uncalibrated = set()
    out = np.full(len(amount), np.nan)
    for i, key in enumerate(zip(amount, flavouring.tolist(), strict=True)):
        text, place = key
        if not isinstance(text, str):
            continue
        if key not in kept:
            parsed = parse_amount(text)
            kept[key] = amount_to_g(parsed, known[place])
            if parsed.unit == "drop" and not drop_mass(known[place]).calibrated:
                uncalibrated.add(known[place].flavouring_id)
        out[i] = kept[key]
    notes = (
        [f"drops of {', '.join(sorted(uncalibrated))} were counted with an uncalibrated drop"] if uncalibrated else []
    )
    return out, notes


def grams_of_base(table: pd.DataFrame, shelf: Shelf, base: Any) -> tuple[Any, list[str]]:
    """Grams of base poured per row: as weighed, or from millilitres and the density (1.03 g/ml where unknown)."""
    empty = np.full(len(table), np.nan)

    def numbers(name: str) -> Any:
        return table[name].to_numpy(dtype=np.float64, na_value=np.nan) if name in table.columns else empty

    grams, ml = numbers("base_g"), numbers("base_ml")
    density = np.array([b.density_g_per_ml or DEFAULT_DENSITY_G_PER_ML for b in shelf.bases.values()])
    if (base < 0).any():
        raise TableError("a reading has no base", "give base_id on every row")
    return np.where(np.isnan(grams), ml * density[base], grams), []
