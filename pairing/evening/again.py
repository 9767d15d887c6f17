"""What is to be tasted again, and why: kept recipes whose evidence is thin or old, and cups that stand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from pairing.model.constants import IN_RANGE_LOG
from pairing.model.kept_recipe import recipe_kept
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.dilutions import dilution_of
from pairing.stock.dates import past_dates
from pairing.stock.lots import moment
from pairing.stock.reckon import Held

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.cup import Cup

__all__ = ["AFTER_MINUTES", "ENOUGH_CUPS", "OLD_DAYS", "Due", "kept_due", "standing_due"]

ENOUGH_CUPS = 3
"""Cups poured straight to their doses below which evidence is thin (our choice)."""
OLD_DAYS = 90.0
"""Days after which evidence is old: tongues and seasons change (our choice)."""
AFTER_MINUTES = (2.0, 15.0, 24 * 60.0, 72 * 60.0)
"""When a cup is tasted again: mixed in, thickened, and after a day and three (our choice); never later."""
_STAGES = ("trying", "kept")
_GRACE_MIN = 60.0
_LEAST_G = 20.0
"""A cup that holds less is not worth keeping for a taste (our choice)."""


@dataclass(frozen=True, kw_only=True)
class Due:
    """One cup to taste again.

    Attributes
    ----------
    recipe : Recipe
    why : tuple of str
        ``thin``, ``old``, ``lot`` (another bottle is in use since), ``base`` or ``flavouring`` (there is a newer
        version), ``taster`` (somebody who is there never tasted it); of a standing cup ``time``.
    name : str or None
        Kept name, with its version.
    trial_id : str or None
        The cup that stands.
    cups : int
        Poured straight to these doses so far.
    items : tuple of str
        What the reasons ``lot``, ``base`` and ``flavouring`` are about.
    tasters : tuple of str
        Who never tasted it.
    last_at : str or None
        When it was tasted last.
    minutes : float or None
        After how many minutes a standing cup is due.
    """

    recipe: Recipe
    why: tuple[str, ...]
    name: str | None = None
    trial_id: str | None = None
    cups: int = 0
    items: tuple[str, ...] = ()
    tasters: tuple[str, ...] = ()
    last_at: str | None = None
    minutes: float | None = None


def kept_due(
    recipes: pd.DataFrame,
    readings: pd.DataFrame,
    shelf: Shelf,
    lots: Sequence[Held] = (),
    tasters: Iterable[str] = (),
    *,
    now: datetime,
) -> tuple[Due, ...]:
    """Return the kept recipes, and those that are being tried, that are to be tasted again; most reasons first.

    What cannot be made is left out: a base or flavouring is gone, or past its use-by.

    Parameters
    ----------
    recipes, readings : DataFrame
        As kept.
    shelf : Shelf
    lots : sequence of Held
    tasters : iterable of str
        Who is there.
    now : datetime
        With its zone.
    """
    past = {item for item, one in past_dates(lots, now).items() if one.which == "use_by"}
    cups = _cups(readings, shelf)
    found = []
    for name, own in recipes.groupby("recipe_id", sort=False):
        last = own.sort_values("version").iloc[-1]
        recipe = recipe_kept(recipes, str(name))
        if last["status"] not in _STAGES or recipe is None:
            continue
        items = (recipe.base_id, *recipe.doses)
        gone = recipe.base_id not in shelf.bases or any(f not in shelf.flavourings for f in recipe.doses)
        if gone or past & set(items):
            continue
        due = _due(recipe, f"{name}@{int(last['version'])}", cups, shelf, lots, tuple(tasters), now)
        if due.why:
            found.append(due)
    return tuple(sorted(found, key=lambda due: -len(due.why)))


@dataclass(frozen=True)
class _Cup:
    """What the log holds of one cup, judged at its last doses."""

    base_id: str
    doses: Mapping[str, float]
    tasters: frozenset[str]
    at: str | None
    fresh: bool


def _cups(readings: pd.DataFrame, shelf: Shelf) -> list[_Cup]:
    from pairing.learning.log import with_doses

    found = []
    columns = ("base_id", "flavouring_id", "dose_g_per_kg", "taster", "reading", "tasted_at", "stepped")
    for _, rows in with_doses(readings, shelf).groupby("trial_id", sort=False):
        base, item, dose, taster, reading, at, stepped = (rows[name].tolist() for name in columns)
        last = max(reading)
        doses = {f: float(d) for f, d, r in zip(item, dose, reading, strict=True) if r == last and isinstance(f, str)}
        times = [t for t in at if isinstance(t, str)]
        fresh = all(s != "yes" for s in stepped)
        found.append(_Cup(base[0], doses, frozenset(taster), max(times, default=None), fresh))
    return found


def _due(
    recipe: Recipe,
    name: str,
    cups: Sequence[_Cup],
    shelf: Shelf,
    lots: Sequence[Held],
    tasters: tuple[str, ...],
    now: datetime,
) -> Due:
    own = [cup for cup in cups if _same(cup, recipe)]
    fresh = sum(cup.fresh for cup in own)
    last = max((cup.at for cup in own if cup.at is not None), default=None)
    why, items = [], []
    if fresh < ENOUGH_CUPS:
        why.append("thin")
    if last is not None and (now - moment(last)).total_seconds() > OLD_DAYS * 86_400:
        why.append("old")
    inside = (recipe.base_id, *recipe.doses)
    newer = [one.lot.item_id for one in lots if one.in_use and last is not None and _since(one, moment(last))]
    for kind, changed in (
        ("lot", [item for item in inside if item in newer]),
        ("base", [b.base_id for b in shelf.bases.values() if b.version_of == recipe.base_id]),
        ("flavouring", [i for i, f in shelf.flavourings.items() if f.version_of in recipe.doses and f.version_of != i]),
    ):
        if own and changed and (kind != "flavouring" or not _thinned(changed, shelf)):
            why.append(kind)
            items += changed
    absent = tuple(t for t in tasters if own and not any(t in cup.tasters for cup in own))
    if absent:
        why.append("taster")
    facts: dict[str, Any] = {"cups": fresh, "items": tuple(items), "tasters": absent, "last_at": last}
    return Due(recipe=recipe, why=tuple(why), name=name, **facts)


def _thinned(item_ids: Iterable[str], shelf: Shelf) -> bool:
    """Whether all of these are pre-dilutions, which change nothing."""
    return all(dilution_of(shelf.flavouring(item)) is not None for item in item_ids)


def _since(one: Held, last: datetime) -> bool:
    begun = one.lot.opened_at or one.lot.made_at or one.lot.bought_at
    return begun is not None and moment(begun) > last


def _same(cup: _Cup, recipe: Recipe) -> bool:
    """Whether a cup holds this recipe, doses within e^±0.2."""
    if cup.base_id != recipe.base_id or set(cup.doses) != set(recipe.doses):
        return False
    pairs = [(cup.doses[name], float(dose or 0.0)) for name, dose in recipe.doses.items()]
    return all(a > 0 and b > 0 and abs(math.log(a / b)) <= IN_RANGE_LOG for a, b in pairs)


def standing_due(cups: Iterable[Cup], lots: Sequence[Held] = (), *, now: datetime) -> tuple[Due, ...]:
    """Return the cups that stand and are to be tasted again now: after 2 and 15 minutes, a day and three, never later.

    A cup that holds less than a taste, that is past its use-by, or of which it is not known when it was mixed, is none
    of them.

    Parameters
    ----------
    cups : iterable of Cup
        Of the last days.
    lots : sequence of Held
    now : datetime
        With its zone.
    """
    past = {item for item, one in past_dates(lots, now).items() if one.which == "use_by"}
    found = []
    for cup in cups:
        mixed = _mixed(cup)
        if mixed is None or cup.content_g < _LEAST_G or past & {cup.base_id, *cup.dose_g_per_kg}:
            continue
        minutes = (now - mixed) / timedelta(minutes=1)
        due = max((after for after in AFTER_MINUTES if after <= minutes), default=None)
        if due is None or minutes > AFTER_MINUTES[-1] + _GRACE_MIN or _judged(cup, mixed) >= 0.8 * due:
            continue
        recipe = Recipe(cup.base_id, dict(cup.dose_g_per_kg))
        found.append(Due(recipe=recipe, why=("time",), trial_id=cup.trial_id, minutes=due))
    return tuple(found)


def _mixed(cup: Cup) -> datetime | None:
    """When the last of it went in: by its steps, else by its first reading."""
    poured = [moment(step.at) for step in cup.steps if step.kind in ("pour", "add") and step.at]
    if poured:
        return max(poured)
    judged = [(r.tasted_at, r.minutes_since_addition or 0.0) for r in cup.readings if r.tasted_at]
    return min((moment(at) - timedelta(minutes=after) for at, after in judged), default=None)


def _judged(cup: Cup, mixed: datetime) -> float:
    """After how many minutes it was judged last."""
    told = [r.minutes_since_addition or 0.0 for r in cup.readings]
    timed = [(moment(r.tasted_at) - mixed) / timedelta(minutes=1) for r in cup.readings if r.tasted_at]
    return max((*told, *timed), default=0.0)
