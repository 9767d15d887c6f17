"""Serving an evening's suggestions: weak before strong, alcohol and bitter last, rests between, few cups a session."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pairing.model.base import DEFAULT_SERVING_G
from pairing.nutrition.composition import compose

if TYPE_CHECKING:
    from pairing.model.answers import Suggestion
    from pairing.model.shelf import Shelf

__all__ = ["CUPS_PER_SESSION", "PORTION_G", "OrderedCup", "StockCup", "serving_order", "stock_cups"]

CUPS_PER_SESSION = 6
"""Flavoured cups that a palate takes in one session: 4–6 strong or lingering ones (Lawless & Heymann; from memory)."""
PORTION_G = 40.0
"""Portion for screening, g: two or three sips (common practice, no source)."""
_REST = "rinse with water, a plain water cracker, rest 60 s"
_LONG_REST = "rinse with water, a plain water cracker, rest 2 min: alcohol and bitterness linger"
"""What comes between cups: water and crackers are common practice, the seconds our choice."""
_SAME_DOSE = 1.15
"""Ratio of doses up to which one stock serves several cups: stricter than *in range* (our choice)."""
_BITTER = ("bitter", "coffee", "cocoa", "hop", "tea")
"""Words in families and tags that put a cup late (our choice)."""


@dataclass(frozen=True)
class OrderedCup:
    """One cup in its place: session and position count from 1; ``before`` is what to do before tasting it."""

    session: int
    position: int
    suggestion: Suggestion
    before: str


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


def serving_order(
    suggestions: Sequence[Suggestion], shelf: Shelf, cups_per_session: int = CUPS_PER_SESSION
) -> list[OrderedCup]:
    """Put suggestions into sessions and in order.

    Similar cups (same base, then shared flavourings) are spread over the sessions; within one, plain and weak cups come
    before strong ones, those with alcohol or bitterness last.

    Parameters
    ----------
    suggestions : sequence of Suggestion
    shelf : Shelf
    cups_per_session : int
        At least 1.
    """
    n_sessions = -(-len(suggestions) // max(1, cups_per_session)) if suggestions else 0
    sessions: list[list[Suggestion]] = [[] for _ in range(n_sessions)]
    for one in suggestions:
        free = [s for s in sessions if len(s) < cups_per_session]
        min(free, key=lambda s: (sum(_similarity(one, other) for other in s), len(s))).append(one)
    served = []
    for number, cups in enumerate(sessions, start=1):
        ordered = sorted(cups, key=lambda s: _heaviness(s, shelf))
        for position, one in enumerate(ordered, start=1):
            heavy = position > 1 and any(_heaviness(ordered[position - 2], shelf)[:2])
            before = "rinse with water" if position == 1 else _LONG_REST if heavy else _REST
            served.append(OrderedCup(number, position, one, before))
    return served


def _similarity(a: Suggestion, b: Suggestion) -> float:
    shared = len(set(a.recipe.doses) & set(b.recipe.doses))
    return float(a.recipe.base_id == b.recipe.base_id) + shared


def _heaviness(one: Suggestion, shelf: Shelf) -> tuple[bool, bool, int, float]:
    """Alcohol of base or flavourings, bitterness, number of flavourings, their mass: the order in which cups come."""
    flavourings = [shelf.flavouring(f) for f in one.recipe.doses]
    base_ethanol = compose(shelf.base(one.recipe.base_id), shelf).ethanol_g_per_100g or 0.0
    alcohol = base_ethanol > 0 or any(
        (f.ethanol_g_per_g or 0.0) > 0 or "ethanol" in (f.carrier or {}) for f in flavourings
    )
    words = [w.casefold() for f in flavourings for w in (f.family or "", *(f.tags or ()))]
    bitter = any(word in text for text in words for word in _BITTER)
    return alcohol, bitter, len(flavourings), sum(float(d or 0.0) for d in one.recipe.doses.values())


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
        serving_g = shelf.base(base_id).serving_g or DEFAULT_SERVING_G
        dose = (max(doses) * min(doses)) ** 0.5
        found.append(StockCup(base_id, flavouring_id, dose, partners, base_g, serving_g * len(members) - base_g))
    return found
