"""What being off the right strength costs in liking: too weak and too strong are kept apart, never pooled."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from pairing.blind.judged import last_judged
from pairing.errors import LogError

if TYPE_CHECKING:
    from pairing.learning.log import Log
    from pairing.model.shelf import Shelf

__all__ = ["Penalties", "Penalty", "penalties", "penalty_table"]

FEW_CUPS = 4
"""A side with fewer cups than this is flagged (our choice for one kitchen; no source)."""
SMALL_SHARE = 0.2
"""A side with less than 20 % of the cups is flagged (trade practice after ASTM MNL63; from memory)."""


@dataclass(frozen=True)
class Penalty:
    """One group of cups.

    Attributes
    ----------
    side : {"not detected", "too weak", "just right", "too strong"}
    cups : int
    share : float
        Of the cups whose strength was on the just-about-right scale; of all cups for *not detected*.
    liking : float
        Mean liking, points.
    drop, drop_low, drop_high : float
        Mean liking of the cups that were just right minus this one, with its 95 % interval; NaN where unknown.
    weighted : float
        Drop × share: what this side costs the average cup.
    small : bool
        Too few cups to lean on.
    """

    side: str
    cups: int
    share: float
    liking: float
    drop: float
    drop_low: float
    drop_high: float
    weighted: float
    small: bool


@dataclass(frozen=True)
class Penalties:
    """Groups in the order of the scale, and what to keep in mind."""

    groups: tuple[Penalty, ...]
    notes: tuple[str, ...]

    def side(self, name: str) -> Penalty | None:
        """Return one group, or None when no cup was in it."""
        return next((group for group in self.groups if group.side == name), None)


_SIDES = (("not detected", (0,)), ("too weak", (1, 2)), ("just right", (3,)), ("too strong", (4, 5)))


def penalties(strength: Sequence[float], liking: Sequence[float]) -> Penalties:
    """Analyse liking by strength.

    Parameters
    ----------
    strength : sequence of float
        0 not detected, 1 much too weak … 3 just right … 5 much too strong; NaN cells are left out.
    liking : sequence of float
        1 to 9, in the same order.

    Raises
    ------
    LogError
        When no cup was just right: there is nothing to compare with.

    References
    ----------
    Rothman, L., & Parker, M. J. (2009). Just-About-Right (JAR) Scales: Design, Usage, Benefits, and Risks. ASTM MNL63.

    Examples
    --------
    >>> found = penalties([2] * 5 + [3] * 5 + [5] * 5, [5] * 5 + [7] * 5 + [4] * 5)
    >>> [(group.side, group.drop) for group in found.groups]
    [('too weak', 2.0), ('just right', 0.0), ('too strong', 3.0)]
    """
    s, y = np.asarray(strength, float), np.asarray(liking, float)
    if s.shape != y.shape:
        raise LogError(f"{len(s)} strengths and {len(y)} likings do not match", "give both for each cup")
    known = ~(np.isnan(s) | np.isnan(y))
    s, y = s[known], y[known]
    if not (s == 3).any():
        raise LogError(f"none of {len(s)} cups was just right", "reach the right strength once, then ask again")
    groups = tuple(_group(name, values, s, y) for name, values in _SIDES if np.isin(s, values).any())
    return Penalties(groups, tuple(_notes(groups)))


def penalty_table(log: Log, shelf: Shelf) -> pd.DataFrame:
    """Analyse each flavouring of a log: one row per flavouring and side.

    Only cups with one flavouring count, at their last reading with both judgements: in a blend the liking cannot be
    laid at the door of one strength.
    """
    rows = last_judged(log)
    rows = rows[log.recipes.count[rows] == 1]
    slot = np.argmax(log.recipes.flavouring[rows] >= 0, axis=1) if len(rows) else np.empty(0, int)
    item, strength = log.recipes.flavouring[rows, slot], log.strength[rows, slot]
    out = []
    for place, flavouring_id in sorted(enumerate(shelf.flavourings), key=lambda pair: pair[1]):
        here = item == place
        if (strength[here] == 3).any():
            found = penalties(strength[here].tolist(), log.liking[rows][here].tolist())
            out += [{"flavouring_id": flavouring_id, **vars(side)} for side in found.groups]
    return pd.DataFrame(out, columns=["flavouring_id", *Penalty.__dataclass_fields__])


def _group(name: str, values: tuple[int, ...], s: object, y: object) -> Penalty:
    s, y = np.asarray(s), np.asarray(y)
    here, right = y[np.isin(s, values)], y[s == 3]
    of = len(s) if name == "not detected" else int((s > 0).sum())
    share = len(here) / of
    drop = 0.0 if name == "just right" else float(right.mean() - here.mean())
    half = math.nan
    freedom = len(here) + len(right) - 2
    if name != "just right" and len(here) > 1 and len(right) > 1:
        pooled = (((here - here.mean()) ** 2).sum() + ((right - right.mean()) ** 2).sum()) / freedom
        half = float(stdtrit(freedom, 0.975) * math.sqrt(pooled * (1 / len(here) + 1 / len(right))))
    small = len(here) < FEW_CUPS or (share < SMALL_SHARE and name != "just right")
    return Penalty(name, len(here), share, float(here.mean()), drop, drop - half, drop + half, drop * share, small)


def _notes(groups: tuple[Penalty, ...]) -> list[str]:
    by = {group.side: group for group in groups}
    notes = [f"{g.side}: only {g.cups} cups ({g.share:.0%}), too few to lean on" for g in groups if g.small]
    weak, strong = by.get("too weak"), by.get("too strong")
    if weak and strong and not weak.small and not strong.small:
        notes.append("cups are too weak and too strong in turn: tasters differ, or the dose does; look at each apart")
    if "not detected" in by:
        notes.append("not detected stands outside the scale: those cups say what the plain base is liked")
    return notes
