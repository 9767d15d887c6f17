"""Grams behind the amounts that a log gives: drops and millilitres by what the shelf says today."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import TableError
from pairing.quantities.amounts import amount_to_g, parse_amount
from pairing.quantities.constants import DEFAULT_DENSITY_G_PER_ML
from pairing.quantities.drops import drop_mass

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["grams_of", "grams_of_base"]


def grams_of(amount: Any, flavouring: Any, lot: Any, shelf: Shelf) -> tuple[Any, Any, list[str]]:
    """Turn amounts (``11 drops``) of flavourings, given by place on the shelf, and lots into grams, NaN where empty.

    Also returns where only a volume is known: millilitres of a flavouring without a density.
    """
    ids = list(shelf.flavourings)
    kept: dict[tuple[Any, int, Any], tuple[float, bool]] = {}
    uncalibrated = set()
    out, volume = np.full(len(amount), np.nan), np.zeros(len(amount), dtype=bool)
    for i, key in enumerate(zip(amount, flavouring.tolist(), lot, strict=True)):
        text, place, bottle = key
        if not isinstance(text, str):
            continue
        if key not in kept:
            parsed = parse_amount(text)
            item = shelf.flavouring(ids[place], bottle)
            kept[key] = amount_to_g(parsed, item), parsed.unit == "ml" and item.density_g_per_ml is None
            if parsed.unit == "drop" and not drop_mass(item).calibrated:
                uncalibrated.add(item.flavouring_id)
        out[i], volume[i] = kept[key]
    notes = (
        [f"drops of {', '.join(sorted(uncalibrated))} were counted with an uncalibrated drop"] if uncalibrated else []
    )
    return out, volume, notes


def grams_of_base(table: pd.DataFrame, shelf: Shelf, base: Any, volume: Any) -> Any:
    """Grams of base poured per row: as weighed, or from millilitres and the density.

    Where that is unknown, 1.03 g/ml; 1.00 g/ml beside a flavouring of which, too, only the ``volume`` is known.
    """
    empty = np.full(len(table), np.nan)

    def numbers(name: str) -> Any:
        return table[name].to_numpy(dtype=np.float64, na_value=np.nan) if name in table.columns else empty

    grams, ml = numbers("base_g"), numbers("base_ml")
    if (base < 0).any():
        raise TableError("a reading has no base", "give base_id on every row")
    stated = np.array([b.density_g_per_ml or np.nan for b in shelf.bases.values()])[base]
    density = np.where(np.isnan(stated), np.where(volume, 1.0, DEFAULT_DENSITY_G_PER_ML), stated)
    return np.where(np.isnan(grams), ml * density, grams)
