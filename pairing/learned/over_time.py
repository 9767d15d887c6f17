"""What time does to a drink, where the log can tell: flavourings that fade or bloom, bases that thicken."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import ndtr

from pairing.learned.told_apart import told_apart
from pairing.learning import columns as col
from pairing.learning.block import Entries
from pairing.learning.scene import LATER_MIN, MINUTES_PER_DAY
from pairing.model.arrays import Floats, Ints
from pairing.model.constants import IN_RANGE_LOG, Z80

if TYPE_CHECKING:
    from pairing.learning.answers import Answers

__all__ = ["MAX_DAYS", "over_time"]

MAX_DAYS = 3.0
"""Nothing is said of later: a perishable drink is not kept longer (our choice; 3 to 4 days, USDA, from memory)."""


def over_time(model: Answers) -> pd.DataFrame:
    """Tabulate what the log says of time; see `pairing.learned.learned.Learned.over_time`."""
    later = _later(model)
    kinds = ("flavouring", "fading", list(model.shelf.flavourings)), ("base", "thickening", list(model.shelf.bases))
    rows = pd.concat([_rows(model, kind, block, ids, later[kind]) for kind, block, ids in kinds], ignore_index=True)
    return rows.assign(found=told_apart(rows["p_less"], rows["later"] > 0))


def _rows(model: Answers, kind: str, block: str, ids: list[str], later: Ints) -> pd.DataFrame:
    n = np.arange(len(ids))
    strength = model.strength
    if block in {b.name for b in strength.columns.blocks}:
        rows = strength.columns.encode({block: Entries.of(n, n)}, len(ids), strength.variances)
        mean, sd = col.mean(strength.posterior, rows), np.sqrt(col.variance(strength.posterior, rows))
    else:  # one base: what it does is what time does
        mean, sd = np.zeros(len(ids)), np.full(len(ids), np.nan)
    per_day = kind == "flavouring"
    step = 1.0 if per_day else math.log1p(MINUTES_PER_DAY) - math.log1p(LATER_MIN)
    left, low, high = (np.exp(-step * (mean + z * sd)) for z in (0.0, Z80, -Z80))
    return pd.DataFrame(
        {
            "kind": kind,
            "item_id": ids,
            "left": left,
            "low": low,
            "high": high,
            "p_less": ndtr(mean / sd),
            "later": later,
            "half_life_days": np.where(mean > 0, math.log(2) / np.maximum(mean, 1e-12), np.nan) if per_day else np.nan,
            "holds_days": _holds(mean, sd, later) if per_day else np.nan,
        }
    )


def _holds(mean: Floats, sd: Floats, later: Ints) -> Floats:
    """Days until it may be out of range, by the worse end of its 80 % interval; NaN where nobody tasted it later."""
    worst = np.maximum(np.abs(mean - Z80 * sd), np.abs(mean + Z80 * sd))
    return np.where(later > 0, np.minimum(MAX_DAYS, IN_RANGE_LOG / np.maximum(worst, 1e-9)), np.nan)


def _later(model: Answers) -> dict[str, Ints]:
    """Count strengths that were judged an hour or more after mixing, of each flavouring and in each base."""
    log = model.log
    judged = (log.minutes >= LATER_MIN)[:, None] & ~np.isnan(log.strength)
    items = log.recipes.flavouring[judged]
    bases = np.broadcast_to(log.recipes.base[:, None], judged.shape)[judged]
    return {
        "flavouring": np.bincount(items, minlength=len(model.shelf.flavourings)),
        "base": np.bincount(bases, minlength=len(model.shelf.bases)),
    }
