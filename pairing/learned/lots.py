"""What the log says of lots: how strong each reads beside the one before."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import ndtr

from pairing.learned.told_apart import told_apart
from pairing.learning import columns as col
from pairing.learning.block import Entries
from pairing.model.arrays import Ints
from pairing.model.constants import Z80

if TYPE_CHECKING:
    from pairing.learning.answers import Answers

__all__ = ["lot_strength"]


def lot_strength(model: Answers) -> pd.DataFrame:
    """Tabulate how strong lots read; see `pairing.learned.learned.Learned.lot_strength`."""
    lots, judged, strength = _lots(model), _judged(model), model.strength
    pairs = np.array(_one_after_another(lots), np.int64).reshape(-1, 2)
    one, before = pairs.T
    n = np.arange(len(pairs))
    beside = Entries.of(np.append(n, n), np.append(one, before), np.repeat([-1.0, 1.0], len(n)))  # strong: needs less
    rows = strength.columns.encode({"lot": beside}, len(n), strength.variances)
    mean, sd = col.mean(strength.posterior, rows), np.sqrt(col.variance(strength.posterior, rows))
    table = pd.DataFrame(
        {
            "flavouring_id": [lots[k][0] for k in one.tolist()],
            "lot": pd.Series([lots[k][1] for k in one.tolist()], dtype=object),
            "before": pd.Series([lots[k][1] for k in before.tolist()], dtype=object),
            "times": np.exp(mean),
            "low": np.exp(mean - Z80 * sd),
            "high": np.exp(mean + Z80 * sd),
            "p_stronger": ndtr(mean / sd),
            "readings": judged[one],
            "readings_before": judged[before],
        }
    )
    return table.assign(found=told_apart(table["p_stronger"], (judged[one] > 0) & (judged[before] > 0)))


def _lots(model: Answers) -> dict[int, tuple[str, str | None]]:
    """Return the lots by number: those of the log, then those that are in use and were never judged."""
    new = zip(model.strength.traits.lot_in_use.tolist(), model.shelf.flavourings, strict=True)
    known = dict(enumerate(model.log.lots))
    return known | {k: (name, model.shelf.lot_in_use[name]) for k, name in new if k >= len(known)}


def _one_after_another(lots: Mapping[int, tuple[str, str | None]]) -> list[tuple[int, int]]:
    """Pair every lot with the one of the same flavouring that came before it."""
    last: dict[str, int] = {}
    pairs = []
    for number, (flavouring_id, _) in lots.items():
        if flavouring_id in last:
            pairs.append((number, last[flavouring_id]))
        last[flavouring_id] = number
    return pairs


def _judged(model: Answers) -> Ints:
    """Count the strengths of every lot."""
    log = model.log
    lot = log.recipes.told_lot[~np.isnan(log.strength)]
    return np.bincount(lot[lot >= 0], minlength=len(log.lots) + len(model.shelf.flavourings))
