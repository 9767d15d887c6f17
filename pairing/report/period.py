"""The cups of a period, one record each: what went in, how it ended, who liked it how much, sighted or under a code."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from pairing.blind.judged import last_judged, last_moments, recipe_at
from pairing.errors import LogError
from pairing.learning.log import Log, read_log
from pairing.model.recipe import Recipe

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["CupRecord", "cups_tried", "in_period", "log_of"]

_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True)
class CupRecord:
    """One cup.

    Attributes
    ----------
    trial_id, day : str
        Day as ISO date; empty when it is not known.
    recipe : Recipe
        Doses at the end, g/kg.
    ended : str
    likings : tuple of (taster, float)
        Last liking of each taster.
    coded : bool
        Whether every liking was given under a code.
    """

    trial_id: str
    day: str
    recipe: Recipe
    ended: str
    likings: tuple[tuple[str, float], ...]
    coded: bool

    @property
    def liking(self) -> float:
        """Mean of the tasters; NaN without any."""
        return sum(score for _, score in self.likings) / len(self.likings) if self.likings else math.nan


def _is_day(text: str) -> bool:
    try:
        return bool(_DATE.fullmatch(text)) and date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def in_period(readings: pd.DataFrame, since: str | None, until: str | None) -> pd.DataFrame:
    """Return the readings of cups tasted from ``since`` to ``until``, both days included.

    Cups without a time are in only when no period is asked for.

    Raises
    ------
    LogError
        When a date is not YYYY-MM-DD, the period ends before it begins, or holds no cup.
    """
    for name, day in (("since", since), ("until", until)):
        if day is not None and not _is_day(day):
            raise LogError(f"{name} {day!r} is not a date", "write YYYY-MM-DD")
    if since is not None and until is not None and until < since:
        raise LogError(f"the period ends on {until}, before it begins on {since}", "swap the two dates")
    if readings.empty:
        raise LogError("the log has no cup yet", "log one first")
    if since is None and until is None:
        return readings
    days = readings["tasted_at"].astype(object).map(lambda t: str(t)[:10] if isinstance(t, str) else "")
    days = days.groupby(readings["trial_id"]).transform("max")
    found = readings[(days != "") & (days >= (since or "")) & (days <= (until or "9999-12-31"))]
    if found.empty:
        known = sorted(day for day in days.unique() if day)
        span = f"cups with a date go from {known[0]} to {known[-1]}" if known else "no cup has a date"
        raise LogError(f"no cup was tasted from {since or 'the beginning'} to {until or 'now'}", span)
    return found


def log_of(shelf: Shelf, readings: pd.DataFrame) -> tuple[Log, pd.DataFrame]:
    """Return readings as a log, and the table that its ``source`` points into."""
    table = readings.reset_index(drop=True)
    return read_log(shelf, table), table


def cups_tried(shelf: Shelf, readings: pd.DataFrame) -> list[CupRecord]:
    """Return a record for each cup, first to last."""
    log, table = log_of(shelf, readings)
    times = table["tasted_at"] if "tasted_at" in table.columns else None
    judged: dict[int, list[int]] = {}
    for row in last_judged(log):
        judged.setdefault(int(log.cup[row]), []).append(int(row))
    out = []
    for cup, row in sorted(last_moments(log).items(), key=lambda pair: int(log.order[pair[1]])):
        at = None if times is None else times.iloc[int(log.source[row])]
        rows = judged.get(cup, [])
        out.append(
            CupRecord(
                log.trials[cup],
                at[:10] if isinstance(at, str) else "",
                recipe_at(log, shelf, row),
                log.ended.get(cup, ""),
                tuple((log.tasters[int(log.taster[r])], float(log.liking[r])) for r in rows),
                bool(rows) and bool(log.coded[rows].all()),
            )
        )
    return out
