"""From a shelf and a log to a learned model."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import LogError
from pairing.learning.design import Traits
from pairing.learning.liking_fit import fit_liking
from pairing.learning.log import Log
from pairing.learning.paired import read_comparisons
from pairing.learning.rules import RuleColumns
from pairing.learning.strength import fit_strength

if TYPE_CHECKING:
    import pandas as pd

    from pairing.learned import Learned
    from pairing.model.shelf import Shelf

__all__ = ["fit"]

SMALL = 20_000
"""Readings up to which one thread does the linear algebra: on matrices of this size more of them only wait."""


def fit(
    shelf: Shelf,
    log: Log,
    comparisons: pd.DataFrame | None = None,
    *,
    rules: Sequence[Any] = (),
    revision: int | None = None,
    start: Learned | None = None,
) -> Learned:
    """Learn needed doses, then liking, then likeness to each target.

    Comparisons that ask which cup is closer do not name the target: they count where the log knows only one.
    ``start`` is an earlier model of the same shelf: its variances are kept where the evidence has not moved from them.

    Raises
    ------
    LogError
        When the shelf has no base or no flavouring.
    """
    from threadpoolctl import threadpool_limits

    from pairing.learned import Learned

    if not shelf.bases or not shelf.flavourings:
        what = "base" if not shelf.bases else "flavouring"
        raise LogError(f"the shelf has no {what}", f"load at least one {what} first")
    with threadpool_limits(limits=1 if len(log) <= SMALL else None, user_api="blas"):
        traits = Traits.of(shelf)
        rule_columns = RuleColumns.of(shelf, rules)
        stronger = read_comparisons(shelf, log, comparisons, "stronger")
        preferred = read_comparisons(shelf, log, comparisons, "prefer")
        before = start.strength if start else None
        strength = fit_strength(log, traits, paired=stronger, rules=rule_columns, start=before)
        earlier = start.liking if start else None
        liking = fit_liking(log, traits, strength, paired=preferred, rules=rule_columns, start=earlier)
        closer = read_comparisons(shelf, log, comparisons, "closer") if len(log.targets) == 1 else None
        likenesses = {
            target: fit_liking(log, traits, strength, scores=_likeness(log, place), paired=closer, rules=None)
            for place, target in enumerate(log.targets)
            if not np.isnan(_likeness(log, place)).all()
        }
    return Learned(
        shelf=shelf,
        log=log,
        strength=strength,
        liking=liking,
        likenesses=likenesses,
        rules=tuple(rules),
        rule_columns=rule_columns,
        revision=revision,
        afresh_n=len(log) if start is None else start.afresh_n,
    )


def _likeness(log: Log, place: int) -> Any:
    return np.where(log.target == place, log.likeness, np.nan)
