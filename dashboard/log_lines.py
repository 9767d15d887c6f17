"""Logged cups as lines: what went in, how it was liked, when, by whom, in names and in amounts as a hand measures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import streamlit as st

from pairing.errors import PairingError
from pairing.model.doses import grams
from pairing.model.fields import is_missing
from pairing.model.recipe import Recipe
from pairing.quantities.amounts import amount_to_g, parse_amount
from pairing_dashboard.wording import UNKNOWN, amount, joined, number

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["LoggedCup", "line", "lines", "local", "measured", "recipe_of", "sips"]


@dataclass(frozen=True)
class LoggedCup:
    """One cup of the log.

    Attributes
    ----------
    trial_id, base, what, who : str
        In names.
    liking : float or None
        Mean over its tasters.
    when : str
        In local time.
    ended : str
    """

    trial_id: str
    base: str
    what: str
    who: str
    liking: float | None
    when: str
    ended: str


def local(text: object) -> str:
    """Write a time that was kept, in the zone of whoever looks; a time without a zone is left as it is.

    Examples
    --------
    >>> local("2025-03-04T18:37:00"), local("2025-03-04"), local(None)
    ('4 Mar 2025, 18:37', '4 Mar 2025', '')
    """
    if is_missing(text):
        return ""
    try:
        at = datetime.fromisoformat(str(text))
    except ValueError:
        return str(text)
    if at.tzinfo is not None:
        at = at.astimezone(ZoneInfo(st.context.timezone) if st.context.timezone else None)
    return f"{at.day} {at:%b %Y}" + (f", {at:%H:%M}" if len(str(text)) > len("2025-03-04") else "")


def lines(rows: pd.DataFrame, shelf: Shelf) -> Iterator[LoggedCup]:
    """Put each cup of a few rows of the log on one line, the latest first."""
    for trial_id, mine in reversed(list(rows.groupby("trial_id", sort=False))):
        yield line(str(trial_id), mine, shelf)


def line(trial_id: str, mine: pd.DataFrame, shelf: Shelf) -> LoggedCup:
    """Put the rows of one cup on one line."""
    base = str(mine["base_id"].iloc[0])
    inside = [shelf.flavourings[i].name if i in shelf.flavourings else str(i) for i in _inside(mine)]
    likings = mine.drop_duplicates(["taster", "reading"])["liking"].dropna()
    ended = mine["ended"].dropna()
    return LoggedCup(
        trial_id=trial_id,
        base=shelf.bases[base].name if base in shelf.bases else base,
        what=joined(inside) or "Plain",
        who=joined(dict.fromkeys(map(str, mine["taster"].dropna()))),
        liking=None if likings.empty else float(likings.mean()),
        when=local(mine["tasted_at"].iloc[-1]),
        ended=str(ended.iloc[-1]) if len(ended) else "",
    )


def _inside(mine: pd.DataFrame) -> list[str]:
    return list(dict.fromkeys(mine["flavouring_id"].dropna()))


def recipe_of(mine: pd.DataFrame, shelf: Shelf) -> Recipe | None:
    """Return the recipe that a cup ended at; None where something of it has left the shelf."""
    doses: dict[str, float | None] = {}
    for i in _inside(mine):
        last = mine[mine["flavouring_id"] == i].iloc[-1]
        doses[i] = _dose(last, mine, shelf)
    base = str(mine["base_id"].iloc[0])
    if base not in shelf.bases or any(i not in shelf.flavourings for i in doses):
        return None
    return Recipe(base, doses)


def _dose(row: Any, mine: pd.DataFrame, shelf: Shelf) -> float | None:
    """Return g/kg of one flavouring at one reading; None where the amount of base is not known."""
    if not is_missing(row["dose_g_per_kg"]):
        return float(row["dose_g_per_kg"])
    together = mine[(mine["taster"] == row["taster"]) & (mine["reading"] == row["reading"])]
    in_cup = [_grams(other, shelf) for _, other in together.iterrows()]
    mine_g, base_g = _grams(row, shelf), row["base_g"]
    if is_missing(base_g) or mine_g is None or None in in_cup:
        return None
    return 1000 * mine_g / (float(base_g) + sum(g for g in in_cup if g is not None))


def _grams(row: Any, shelf: Shelf) -> float | None:
    """Return g of one flavouring at one reading, as far as they can be known."""
    flavouring = shelf.flavourings.get(row["flavouring_id"])
    if not is_missing(row["amount"]):
        try:
            return amount_to_g(parse_amount(str(row["amount"])), flavouring)
        except PairingError:
            return None
    if is_missing(row["dose_g_per_kg"]) or is_missing(row["base_g"]):
        return None
    dose = float(row["dose_g_per_kg"])
    return grams(float(row["base_g"]), {"": dose})[""]


def measured(
    row: Any, mine: pd.DataFrame, shelf: Shelf, scale_g: float, so_far: Mapping[str, float] = MappingProxyType({})
) -> str:
    """Write how much of a flavouring was in a cup: as a hand measures it, and as a dose.

    Where it is known what had gone in ``so_far`` (g), that: a share of it was sipped away with the drink since.
    """
    known, much = row["flavouring_id"] in shelf.flavourings, so_far.get(row["flavouring_id"]) or _grams(row, shelf)
    dose = _dose(row, mine, shelf)
    if not known or much is None:
        return UNKNOWN if dose is None else amount(dose, "g/kg")
    portion = shelf.portion(row["flavouring_id"], much, scale_g)
    return f"{portion}{'' if dose is None else f', {number(dose)} g/kg'}"


def sips(mine: pd.DataFrame, shelf: Shelf) -> list[tuple[int, str, float, int]]:
    """Return number, flavouring, dose (g/kg) and word of every judgement of strength in a cup."""
    found = []
    for _, row in mine[mine["strength"].notna() & mine["flavouring_id"].notna()].iterrows():
        dose = _dose(row, mine, shelf)
        if dose is not None:
            name = shelf.flavourings[row["flavouring_id"]].name if row["flavouring_id"] in shelf.flavourings else ""
            found.append((int(row["reading"]), name or str(row["flavouring_id"]), dose, int(row["strength"])))
    return found
