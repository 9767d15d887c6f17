"""What is liked less and less over the weeks: time to pour something else for a while."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtr

from pairing.learned.told_apart import told_apart
from pairing.model.arrays import Floats
from pairing.model.constants import IN_RANGE_LOG, Z80

__all__ = ["LATEST", "Falling", "falling"]

LATEST = 5000
"""Rows of the log, the last ones, that are looked at: weeks, not years (our choice)."""
_LEAST_CUPS, _LEAST_WEEKS = 4, 3.0
"""Cups of a recipe, and weeks between the first and the last, from which on anything is told of it (our choice)."""
_OWN_SD, _COMMON_SD = 0.3, 0.05
"""How fast the liking of one recipe, and of all together, may well move: points a week (our choice)."""
_CUP_SD = 0.3
"""How far two cups of one recipe may be apart beyond the noise of a score, points (our choice)."""


@dataclass(frozen=True, kw_only=True)
class Falling:
    """One recipe that is liked less from week to week, beyond what all cups together do.

    Attributes
    ----------
    base_id : str
    flavouring_ids : tuple of str
    cups : int
    weeks : float
        Between the first cup and the last.
    points_per_week, low, high : float
        How liking moves, with 80 % limits; below 0 it falls.
    p_falling : float
        Chance that it falls at all.
    """

    base_id: str
    flavouring_ids: tuple[str, ...]
    cups: int
    weeks: float
    points_per_week: float
    low: float
    high: float
    p_falling: float


def falling(readings: pd.DataFrame, noise_sd: float) -> tuple[Falling, ...]:
    """Return the recipes of which it can be told that they are liked less and less, fastest first.

    Each taster is compared with nobody but himself, a full glass with full glasses, and doses with those *in range*;
    stepped cups and cups without a time are left out. Slopes have normal priors and known noise; 5 % of what is
    returned may be false (`told_apart`).

    Parameters
    ----------
    readings : DataFrame
        As kept.
    noise_sd : float
        Spread of one score around the true liking, points.
    """
    cups = _cups(readings)
    if cups.empty:
        return ()
    week = cups["week"] - cups.groupby(["recipe", "taster", "glass"])["week"].transform("mean")
    moved = cups["liking"] - cups.groupby(["recipe", "taster", "glass"])["liking"].transform("mean")
    own = cups.assign(square=week**2, product=week * moved).groupby("recipe", sort=False)
    table = own.agg(cups=("trial_id", "nunique"), first=("week", "min"), last=("week", "max"),
                    square=("square", "sum"), product=("product", "sum"))  # fmt: skip
    table = table[table["square"] > 0]
    table["weeks"] = table["last"] - table["first"]
    mean, sd = _slopes(table["square"].to_numpy(), table["product"].to_numpy(), noise_sd**2 + _CUP_SD**2)
    tested = (table["cups"] >= _LEAST_CUPS) & (table["weeks"] >= _LEAST_WEEKS)
    chance = ndtr(-mean / sd)
    told = told_apart(chance, tested.to_numpy()) & (mean < 0)
    found = []
    for i in np.flatnonzero(told)[np.argsort(mean[told], kind="stable")]:
        base_id, flavouring_ids = table.index[i]
        one = Falling(
            base_id=base_id,
            flavouring_ids=flavouring_ids,
            cups=int(table["cups"].iloc[i]),
            weeks=float(table["weeks"].iloc[i]),
            points_per_week=float(mean[i]),
            low=float(mean[i] - Z80 * sd[i]),
            high=float(mean[i] + Z80 * sd[i]),
            p_falling=float(chance[i]),
        )
        found.append(one)
    return tuple(found)


def _slopes(square: Floats, product: Floats, variance: float) -> tuple[Floats, Floats]:
    """Return mean and sd of the slope of each recipe beyond the common one: a normal model with known variance."""
    n = len(square)
    precision = np.zeros((n + 1, n + 1))
    precision[0, 0] = square.sum() / variance + _COMMON_SD**-2
    precision[0, 1:] = precision[1:, 0] = square / variance
    precision[1:, 1:] = np.diag(square / variance + _OWN_SD**-2)
    cov = np.linalg.inv(precision)
    mean = cov @ np.append(product.sum(), product) / variance
    return mean[1:], np.sqrt(np.diag(cov)[1:])


def _cups(readings: pd.DataFrame) -> pd.DataFrame:
    """Return one row per taster and fresh cup: its last score, when that was, and which recipe, at doses in range."""
    rows = readings[readings["liking"].notna() & readings["tasted_at"].notna() & (readings["stepped"] != "yes")]
    rows = rows.sort_values("flavouring_id", kind="stable")
    rows = rows[rows["reading"] == rows.groupby(["trial_id", "taster"])["reading"].transform("max")]
    known = rows.dropna(subset="flavouring_id")
    dose = np.log(known["dose_g_per_kg"].astype(float).clip(lower=1e-9))
    groups = known.groupby(["trial_id", "taster"], sort=False)
    cups = groups.agg(base=("base_id", "first"), liking=("liking", "first"), at=("tasted_at", "first"),
                      glass=("glass", "first"), inside=("flavouring_id", tuple)).reset_index()  # fmt: skip
    if cups.empty:
        return cups
    cups["recipe"] = list(zip(cups["base"], cups["inside"], strict=True))
    at = known.assign(dose=dose).merge(cups[["trial_id", "taster", "recipe"]], on=["trial_id", "taster"])
    off = (at["dose"] - at.groupby(["recipe", "flavouring_id"])["dose"].transform("median")).abs()
    far = at.assign(off=off).groupby(["trial_id", "taster"])["off"].max().rename("off").reset_index()
    cups = cups.merge(far, on=["trial_id", "taster"])
    cups = cups[cups["off"] <= IN_RANGE_LOG]
    times = pd.to_datetime(cups["at"], utc=True, format="ISO8601")
    week = (times - times.min()) / pd.Timedelta(weeks=1)
    return cups.assign(week=week, liking=cups["liking"].astype(float), glass=cups["glass"].fillna("sip"))
