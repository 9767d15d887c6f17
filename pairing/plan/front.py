"""What more liking costs: the recipes that nothing beats in both liking and energy, or liking and money."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pairing.errors import BriefError
from pairing.learning.answers import Answers
from pairing.model.brief import Brief
from pairing.plan.candidates import candidates, with_ids
from pairing.plan.figures import figures
from pairing.plan.left_out import nothing_left
from pairing.plan.objective import Objective

__all__ = ["front", "undominated"]

_BY = ("added_kcal", "total_kcal", "added_cost")


def front(model: Answers, brief: Brief | None = None, by: str = "added_kcal") -> pd.DataFrame:
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
        is liked better than every cheaper recipe. With ``goal="likeness"`` the three are ``likeness…``, 0–10.
    """
    if by not in _BY:
        raise BriefError(f"by is {by!r}", f"use one of: {', '.join(_BY)}")
    brief = with_ids(model, brief or Brief())
    pool = candidates(model, brief)
    if not len(pool):
        raise nothing_left(model, brief)
    price = figures(pool, brief)[by]
    known = np.flatnonzero(np.isfinite(price))
    if not len(known):
        raise BriefError(f"{by} is unknown for every recipe", "fill in energy or cost of bases and flavourings")
    value, low, high = Objective.of(model, brief).on_scale(pool)
    rows = known[undominated(price[known], value[known])]
    return pd.DataFrame(
        {
            "recipe": [pool.recipe(i) for i in rows],
            "base_id": [pool.base_ids[i] for i in rows],
            "flavouring_ids": [pool.flavouring_ids[i] for i in rows],
            brief.goal: value[rows],
            f"{brief.goal}_low": low[rows],
            f"{brief.goal}_high": high[rows],
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
