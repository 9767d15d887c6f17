"""Suggestions put into evenings and in order, and cups that are made once and split."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pairing.evening.agenda import CUPS_PER_EVENING
from pairing.evening.order import Impact, impact
from pairing.evening.planning import between

if TYPE_CHECKING:
    from pairing.evening.agenda import Between
    from pairing.model.answers import Suggestion
    from pairing.model.shelf import Shelf

__all__ = ["PORTION_G", "OrderedCup", "StockCup", "needed_of", "serving_order", "stock_cups"]

PORTION_G = 40.0
"""Portion for screening, g: two or three sips (common practice, no source)."""
_SAME_DOSE = 1.15
"""Ratio of doses up to which one stock serves several cups: stricter than *in range* (our choice)."""


@dataclass(frozen=True)
class OrderedCup:
    """One cup in its place: session and position count from 1; ``before`` is what comes before tasting it."""

    session: int
    position: int
    suggestion: Suggestion
    before: Between


@dataclass(frozen=True)
class StockCup:
    """One cup made once and split, to screen partners for a flavouring with less base.

    Attributes
    ----------
    base_id, flavouring_id : str
    dose_g_per_kg : float
    partners : tuple of str
        Flavouring to add to each portion.
    base_g : float
        Base for all portions.
    saved_g : float
        Base saved against one serving per partner.
    """

    base_id: str
    flavouring_id: str
    dose_g_per_kg: float
    partners: tuple[str, ...]
    base_g: float
    saved_g: float


def needed_of(one: Suggestion) -> dict[str, float]:
    """Return the dose that reads 'just right' of each flavouring: the middle of its interval, g/kg."""
    return {name: (one.dose_low[name] * one.dose_high[name]) ** 0.5 for name in one.recipe.doses}


def serving_order(
    suggestions: Sequence[Suggestion],
    shelf: Shelf,
    cups_per_session: int = CUPS_PER_EVENING,
    tasters: Sequence[str] = (),
) -> list[OrderedCup]:
    """Put suggestions into sessions and in order.

    Similar cups (same base, then shared flavourings) are spread over the sessions; within one, weak cups come before
    strong ones, by dose ÷ needed dose, and what lingers last.

    Parameters
    ----------
    suggestions : sequence of Suggestion
    shelf : Shelf
    cups_per_session : int
        At least 1.
    tasters : sequence of str
        Who is there: nobody who avoids wheat is handed a cracker.
    """
    n_sessions = -(-len(suggestions) // max(1, cups_per_session)) if suggestions else 0
    sessions: list[list[Suggestion]] = [[] for _ in range(n_sessions)]
    for one in suggestions:
        free = [s for s in sessions if len(s) < cups_per_session]
        min(free, key=lambda s: (sum(_similarity(one, other) for other in s), len(s))).append(one)
    served = []
    for number, cups in enumerate(sessions, start=1):
        felt = [(impact(s.recipe, needed_of(s), shelf), s) for s in cups]
        last: Impact | None = None
        for position, (now, one) in enumerate(sorted(felt, key=lambda pair: pair[0].rank), start=1):
            served.append(OrderedCup(number, position, one, between(tasters, shelf, last, first=position == 1)))
            last = now
    return served


def _similarity(a: Suggestion, b: Suggestion) -> float:
    shared = len(set(a.recipe.doses) & set(b.recipe.doses))
    return float(a.recipe.base_id == b.recipe.base_id) + shared


def stock_cups(suggestions: Sequence[Suggestion], shelf: Shelf, portion_g: float = PORTION_G) -> list[StockCup]:
    """Find cups to make once and split: suggestions that share a base and a flavouring at nearly one dose."""
    groups: dict[tuple[str, str], list[Suggestion]] = {}
    for one in suggestions:
        if len(one.recipe.doses) > 1:
            for flavouring_id in one.recipe.doses:
                groups.setdefault((one.recipe.base_id, flavouring_id), []).append(one)
    found: list[StockCup] = []
    used: set[int] = set()
    for (base_id, flavouring_id), group in sorted(groups.items(), key=lambda g: (-len(g[1]), g[0])):
        members = [m for m in group if id(m) not in used]
        doses = [float(m.recipe.doses[flavouring_id] or 0.0) for m in members]
        if len(members) < 2 or max(doses) > _SAME_DOSE * min(doses):
            continue
        used |= {id(m) for m in members}
        partners = tuple("+".join(f for f in m.recipe.doses if f != flavouring_id) for m in members)
        base_g = portion_g * len(members)
        serving_g = shelf.base(base_id).serving()
        dose = (max(doses) * min(doses)) ** 0.5
        found.append(StockCup(base_id, flavouring_id, dose, partners, base_g, serving_g * len(members) - base_g))
    return found
