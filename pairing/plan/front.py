"""What more liking costs: the recipes that nothing beats in both liking and energy, or liking and money."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import BriefError
from pairing.model.brief import Brief
from pairing.plan.candidates import candidates, check_ids
from pairing.plan.figures import figures
from pairing.plan.left_out import nothing_left
from pairing.plan.objective import Objective

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["front", "undominated"]

_BY = ("added_kcal", "total_kcal", "added_cost")
_Z80 = 1.2815515655446004


def front(model: Any, brief: Brief | None = None, by: str = "added_kcal") -> pd.DataFrame:
    """Return the front of expected liking against what a serving costs in energy or money.

    Parameters
    ----------
    model : Learned
    brief : Brief, optional
    by : {"added_kcal", "total_kcal", "added_cost"}
        Per serving; recipes for which it is unknown are left out.

    Returns
    -------
    DataFrame
        ``recipe, base_id, flavouring_ids, liking, liking_low, liking_high`` (80 %) and ``by``, cheapest first; each row
        is liked better than every cheaper recipe.
    """
    import pandas as pd

    if by not in _BY:
        raise BriefError(f"by is {by!r}", f"use one of: {', '.join(_BY)}")
    brief = brief or Brief()
    check_ids(model, brief)
    pool = candidates(model, brief)
    if not len(pool):
        raise nothing_left(model, brief)
    price = figures(pool, brief)[by]
    known = np.flatnonzero(np.isfinite(price))
    if not len(known):
        raise BriefError(f"{by} is unknown for every recipe", "fill in energy or cost of bases and flavourings")
    mean, sd = Objective.of(model, brief).predict(pool)
    rows = known[undominated(price[known], mean[known])]
    high = 10.0 if brief.goal == "likeness" else 9.0
    low = 0.0 if brief.goal == "likeness" else 1.0
    return pd.DataFrame(
        {
            "recipe": [pool.recipe(i) for i in rows],
            "base_id": [pool.base_ids[i] for i in rows],
            "flavouring_ids": [pool.flavouring_ids[i] for i in rows],
            "liking": np.clip(mean[rows], low, high),
            "liking_low": np.clip(mean[rows] - _Z80 * sd[rows], low, high),
            "liking_high": np.clip(mean[rows] + _Z80 * sd[rows], low, high),
            by: price[rows],
        }
    )


def undominated(price: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Return the rows that no other row beats in both, cheapest first.

    Examples
    --------
    >>> undominated(np.array([1.0, 2.0, 3.0]), np.array([5.0, 4.0, 6.0])).tolist()
    [0, 2]
    """
    order = np.lexsort((-value, price))
    best = np.maximum.accumulate(np.concatenate([[-np.inf], value[order][:-1]]))
    return order[value[order] > best]
