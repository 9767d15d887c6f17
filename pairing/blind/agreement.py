"""Whether tasters repeat themselves, and whether they agree with one another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import chdtrc, chdtri

from pairing.blind.judged import last_judged, recipe_keys
from pairing.errors import LogError

if TYPE_CHECKING:
    from pairing.learning.log import Log

__all__ = ["Agreement", "friedman", "friedman_of_rank_sums", "judged_by_all", "repeatability"]


@dataclass(frozen=True)
class Agreement:
    """Friedman's test and Kendall's coefficient on the same ranks.

    Attributes
    ----------
    rank_sums : tuple of float
        By cup.
    statistic, p_value : float
        Friedman's, corrected for ties; large-sample χ².
    w : float
        Kendall's coefficient of concordance: 0 no agreement, 1 all rank alike.
    lsd : float
        Rank sums that differ by more than this differ at 5 % (cup by cup, uncorrected for many comparisons).
    tasters, cups : int
    """

    rank_sums: tuple[float, ...]
    statistic: float
    p_value: float
    w: float
    lsd: float
    tasters: int
    cups: int


def friedman(scores: Sequence[Sequence[float]]) -> Agreement:
    """Compare cups that every taster has judged.

    Parameters
    ----------
    scores : sequence of rows, shape (tasters, cups)
        Scores or ranks; ties are shared.

    Raises
    ------
    LogError
        With fewer than two tasters or cups, a missing score, or no taster who tells any two cups apart.

    References
    ----------
    Friedman, M. (1937). Journal of the American Statistical Association 32, 675–701; ISO 8587 (ranking).

    Examples
    --------
    >>> found = friedman([[3, 1, 2, 4]] * 5)
    >>> round(found.statistic, 6), round(found.w, 6)
    (15.0, 1.0)
    """
    table = np.asarray(scores, float)
    if table.ndim != 2 or min(table.shape) < 2 or np.isnan(table).any():
        raise LogError(
            f"scores of shape {table.shape} cannot be compared",
            "give one row per taster and one column per cup, at least two each, without gaps",
        )
    tasters = len(table)
    ranks = np.array([_ranks(row) for row in table])
    ties = sum(float((c**3 - c).sum()) for c in (np.unique(row, return_counts=True)[1] for row in table))
    return _of_rank_sums(ranks.sum(axis=0), tasters, ties)


def friedman_of_rank_sums(rank_sums: Sequence[float], tasters: int) -> Agreement:
    """Compare cups of which only the rank sums are at hand; no taster may have tied any.

    Examples
    --------
    >>> round(friedman_of_rank_sums([5, 10, 15, 20], tasters=5).w, 6)
    1.0
    """
    sums = np.asarray(rank_sums, float)
    if tasters < 2 or len(sums) < 2 or abs(sums.sum() - tasters * len(sums) * (len(sums) + 1) / 2) > 1e-9:
        raise LogError(
            f"rank sums {list(rank_sums)!r} of {tasters} tasters cannot be",
            f"they add up to {tasters * len(sums) * (len(sums) + 1) / 2:g} when every taster ranks every cup",
        )
    return _of_rank_sums(sums, tasters, 0.0)


def _of_rank_sums(sums: np.ndarray, tasters: int, ties: float) -> Agreement:
    cups = len(sums)
    scale = tasters * cups * (cups + 1) / 12 - ties / (12 * (cups - 1))
    if scale <= 0:
        raise LogError("every taster gave all cups the same score", "serve cups that differ, or ask for a ranking")
    statistic = float(((sums - sums.mean()) ** 2).sum()) / scale
    return Agreement(
        tuple(map(float, sums)),
        statistic,
        float(chdtrc(cups - 1, statistic)),
        statistic / (tasters * (cups - 1)),
        1.959964 * math.sqrt(tasters * cups * (cups + 1) / 6),
        tasters,
        cups,
    )


def repeatability(log: Log) -> pd.DataFrame:
    """Return how well each taster repeats a liking on cups of the same recipe.

    Parameters
    ----------
    log : Log
        The last liking of each cup counts. Doses are compared in steps of 2 %.

    Returns
    -------
    DataFrame
        ``taster, cups, recipes, liking_sd, low, high``: within-recipe standard deviation in liking points with its 95 %
        interval; tasters without a replicate have NaN.
    """
    rows = last_judged(log)
    cups = pd.DataFrame({"recipe": recipe_keys(log.recipes.take(rows)), "liking": log.liking[rows]})
    cups["recipe"] = pd.factorize(cups["recipe"])[0]
    out = []
    for code, taster in sorted(enumerate(log.tasters), key=lambda pair: pair[1]):
        mine = cups[log.taster[rows] == code]
        again = mine[mine.groupby("recipe")["liking"].transform("size") > 1]
        freedom = len(again) - again["recipe"].nunique()
        sd = low = high = math.nan
        if freedom:
            squares = float(((again["liking"] - again.groupby("recipe")["liking"].transform("mean")) ** 2).sum())
            sd = math.sqrt(squares / freedom)
            low, high = (float(np.sqrt(squares / chdtri(freedom, tail))) for tail in (0.025, 0.975))
        out.append((taster, len(again), again["recipe"].nunique(), sd, low, high))
    return pd.DataFrame(out, columns=["taster", "cups", "recipes", "liking_sd", "low", "high"])


def judged_by_all(log: Log) -> Agreement | None:
    """Compare the recipes that every taster has judged; None when they are fewer than two, or one taster."""
    rows = last_judged(log)
    if len(log.tasters) < 2 or not len(rows):
        return None
    recipe = pd.factorize(pd.Series(recipe_keys(log.recipes.take(rows))))[0]
    cups = pd.DataFrame({"taster": log.taster[rows], "recipe": recipe, "liking": log.liking[rows]})
    table = cups.pivot_table(index="taster", columns="recipe", values="liking", aggfunc="mean").dropna(axis=1)
    return friedman(table.to_numpy().tolist()) if table.shape[0] > 1 and table.shape[1] > 1 else None


def _ranks(row: np.ndarray) -> np.ndarray:
    """Ranks from 1, ties shared."""
    _, inverse, counts = np.unique(row, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    return (last - (counts - 1) / 2)[inverse]
