"""A base that was poured by volume where a mass is asked for: '200 ml' in a column of g."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import QuantityError
from pairing.quantities.amounts import parse_amount
from pairing.store.headings import SourceColumn
from pairing.store.raw import distinct, is_blank, objects

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["volumes_apart"]

_NONE = np.array(None, dtype=object)
_UNIT = re.compile(r"\d.*[^\W\d_]", re.DOTALL)


def volumes_apart(
    frame: pd.DataFrame, found: Mapping[str, SourceColumn]
) -> tuple[pd.DataFrame, Mapping[str, SourceColumn]]:
    """Move volumes from ``base_g`` to ``base_ml``, which the density of the base weighs, where that is empty."""
    if "base_g" not in found:
        return frame, found
    source = found["base_g"].source
    cells = objects(frame[source])
    codes, unique = distinct(cells)
    volume = np.array([*map(_is_volume, unique), False], dtype=bool)[codes]
    if "base_ml" in found:
        volume &= is_blank(objects(frame[found["base_ml"].source]))
    if not volume.any():
        return frame, found
    ml = found.get("base_ml", SourceColumn("base_ml"))
    there = objects(frame[ml.source]) if ml.source in frame.columns else np.full(len(cells), None, dtype=object)
    moved = frame.copy(deep=False)
    moved[source] = _where(volume, _NONE, cells)
    moved[ml.source] = _where(volume, cells, there)
    moved.attrs = frame.attrs
    return moved, {**found, "base_ml": ml}


def _where(mask: np.ndarray, ours: np.ndarray, others: np.ndarray) -> np.ndarray:
    return np.asarray(np.where(mask, ours, others))


def _is_volume(cell: object) -> bool:
    if not (isinstance(cell, str) and _UNIT.search(cell)):
        return False
    try:
        return parse_amount(cell).unit == "ml"
    except QuantityError:
        return False
