"""Whether tasters repeat themselves, and whether they agree with one another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pairing.errors import LogError

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

__all__ = ["Agreement", "friedman", "friedman_of_rank_sums", "r_index", "repeatability"]


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
    import numpy as np

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
    import numpy as np

    sums = np.asarray(rank_sums, float)
    if tasters < 2 or len(sums) < 2 or abs(sums.sum() - tasters * len(sums) * (len(sums) + 1) / 2) > 1e-9:
        raise LogError(
            f"rank sums {list(rank_sums)!r} of {tasters} tasters cannot be",
            f"they add up to {tasters * len(sums) * (len(sums) + 1) / 2:g} when every taster ranks every cup",
        )
    return _of_rank_sums(sums, tasters, 0.0)


def _of_rank_sums(sums: np.ndarray, tasters: int, ties: float) -> Agreement:
    from scipy.special import chdtrc

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


def r_index(signal: Sequence[float], noise: Sequence[float]) -> float:
    """Return the chance that a cup of one kind is ranked above one of the other; a tie counts one half.

    References
    ----------
    Brown, J. (1974). Recognition assessed by rating and ranking. British Journal of Psychology 65, 13–22.

    Examples
    --------
    >>> r_index([3, 2], [2, 1])
    0.875
    """
    if not signal or not noise:
        raise LogError("one of the two kinds has no cup", "serve both")
    won = sum(float(s > n) + 0.5 * float(s == n) for s in signal for n in noise)
    return won / (len(signal) * len(noise))


def repeatability(readings: pd.DataFrame) -> pd.DataFrame:
    """Return how well each taster repeats a liking on cups of the same recipe.

    Parameters
    ----------
    readings : DataFrame
        A readings table; the last liking of each cup counts. Doses are compared in steps of 2 %.

    Returns
    -------
    DataFrame
        ``taster, cups, recipes, liking_sd, low, high``: within-recipe standard deviation in liking points with its 95 %
        interval; tasters without a replicate have NaN.
    """
    import numpy as np
    import pandas as pd
    from scipy.special import chdtri

    cups = _cups(readings)
    rows = []
    for taster, group in cups.groupby("taster", sort=True):
        sizes = group.groupby("recipe")["liking"].transform("size")
        again = group[sizes > 1]
        freedom = len(again) - again["recipe"].nunique()
        sd = low = high = math.nan
        if freedom:
            squares = float(((again["liking"] - again.groupby("recipe")["liking"].transform("mean")) ** 2).sum())
            sd = math.sqrt(squares / freedom)
            low, high = (float(np.sqrt(squares / chdtri(freedom, tail))) for tail in (0.025, 0.975))
        rows.append((taster, len(again), again["recipe"].nunique(), sd, low, high))
    return pd.DataFrame(rows, columns=["taster", "cups", "recipes", "liking_sd", "low", "high"])


def _cups(readings: pd.DataFrame) -> pd.DataFrame:
    """One row per taster and cup: what was in it at the last judged moment, and how it was liked."""
    import numpy as np

    judged = readings.dropna(subset=["liking"]).copy()
    keys = ["trial_id", "taster"]
    judged = judged[judged["reading"] == judged.groupby(keys)["reading"].transform("max")]
    dose = judged["dose_g_per_kg"].fillna(0.0)
    step = np.round(np.log(dose.where(dose > 0)) / 0.02).fillna(-np.inf)
    judged["part"] = judged["flavouring_id"].fillna("").astype(str) + "=" + step.astype(str)
    grouped = judged.sort_values("part").groupby(keys, sort=False)
    out = grouped.agg(base_id=("base_id", "first"), parts=("part", ";".join), liking=("liking", "first")).reset_index()
    out["recipe"] = out["base_id"] + "|" + out["parts"]
    return out


def _ranks(row: np.ndarray) -> np.ndarray:
    """Ranks from 1, ties shared."""
    import numpy as np

    _, inverse, counts = np.unique(row, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    return (last - (counts - 1) / 2)[inverse]
