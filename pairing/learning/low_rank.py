"""Large logs: a low-rank part for large tables of cells."""

from __future__ import annotations

from typing import Any, cast

import numpy as np

from pairing.learning.block import Entries
from pairing.learning.columns import places
from pairing.learning.factors import Cells, fit_factors
from pairing.learning.liking import Liking
from pairing.learning.parts import HeldParts
from pairing.model.arrays import Floats

__all__ = ["low_rank_means"]


MANY_CELLS = 1000
"""Cells from which on a low-rank part is looked for (our choice); a bench log has fewer."""


def low_rank_means(fitted: Liking, entries: dict[str, Entries], x: Any, y: Floats) -> dict[str, Any]:
    """Find low-rank prior means for large blocks, from what the other columns leave over."""
    known = fitted.columns.keys
    tables = {block.name: block.table for block in fitted.columns.blocks if block.table and block.name in entries}
    large = {name: t for name, t in tables.items() if len(known.get(name, entries[name].key)) >= MANY_CELLS}
    if not large:
        return {}
    traits = fitted.traits
    sizes = {"taster": fitted.n_tasters, "base": traits.n_bases, "flavouring": traits.n_flavourings}
    left = y - x @ fitted.posterior.mean
    means: dict[str, Any] = {}
    for name, (rows, columns) in large.items():
        found, own_columns = entries[name], known.get(name, np.zeros(0, np.int64))
        key, place = np.unique(found.key, return_inverse=True)
        column = places(own_columns, key)
        own = np.where(column >= 0, np.append(_weights(fitted, name), 0.0)[column], 0.0)
        count = np.bincount(place)
        value = np.bincount(place, left[found.row]) / count + own
        spread = fitted.noise_sd**2 / count + np.where(column >= 0, fitted.variances[name], 0.0)
        weight = fitted.noise_sd**2 / spread
        shape = sizes[rows], sizes[columns]
        cells = Cells(*np.divmod(key, shape[1]), value, weight, shape, symmetric=rows == columns)
        parts = fit_factors(HeldParts((cells,)), fitted.noise_sd)
        if parts is not None:
            factors = cast(HeldParts, parts).parts[0]
            means[name] = factors.cells
            alone = np.where(column >= 0, 0.0, factors.cells(key))
            left = left - np.bincount(found.row, alone[place], minlength=len(left))
    return means


def _weights(fitted: Liking, name: str) -> Floats:
    columns = fitted.columns
    return fitted.posterior.mean[columns.slice(name)] if name in columns.keys else np.zeros(0)
