"""What each cup took from which bottle: read off the steps and readings that count now.

So a correction or an undo gives back by itself. A portion that was split off carries the steps of the cup that it came
from: these are taken once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pairing.model.fields import is_missing
from pairing.nutrition.dilutions import dilution_of

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["READINGS_READ", "STEPS_READ", "Draw", "drawing_on", "draws"]

_DEEPEST = 8
"""How often a pre-dilution or a mixed base may be made of another one: more is a circle (our choice)."""

STEPS_READ = ("trial_id", "step", "kind", "item_id", "lot", "amount_g", "at", "parent_trial_id")
READINGS_READ = ("trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "base_g", "base_ml", "lot", "tasted_at")
"""The columns that tell what a cup took."""


@dataclass(frozen=True, slots=True)
class Draw:
    """So much of an item taken from one of its lots.

    Attributes
    ----------
    item_id : str
    g : float or None
        None is unknown: a reading that does not say how much base there was.
    lot, at : str or None
        Where it was said; ``at`` is the time of the step, else of the cup.
    """

    item_id: str
    g: float | None
    lot: str | None = None
    at: str | None = None


def draws(steps: pd.DataFrame, readings: pd.DataFrame, shelf: Shelf, stocked: Collection[str]) -> list[Draw]:
    """Return what all cups took of the ``stocked`` items, in the order in which they are kept.

    A cup with steps took what its steps say. One that only has readings took the highest dose of each flavouring of
    the base that it holds. A pre-dilution or a mixed base without lots took of what it is made of.

    Parameters
    ----------
    steps, readings : DataFrame
        As kept.
    shelf : Shelf
    stocked : collection of str
        Items that have lots.
    """
    tasted = readings.drop_duplicates("trial_id")
    times = dict(zip(tasted["trial_id"], tasted["tasted_at"], strict=True))
    found = [*_of_steps(steps, times), *_of_readings(readings, set(steps["trial_id"]), shelf, times)]
    return [part for one in found for part in _made_of(one, shelf, stocked)]


def drawing_on(shelf: Shelf, stocked: Collection[str]) -> set[str]:
    """Return the items whose pouring takes of ``stocked`` ones: these, and what is made of them."""
    items = (*shelf.bases, *shelf.flavourings)
    return {*stocked, *(item for item in items if any(True for _ in _made_of(Draw(item, None), shelf, stocked)))}


def _of_steps(steps: pd.DataFrame, times: dict[str, str | None]) -> Iterator[Draw]:
    rows = list(zip(*(steps[name].tolist() for name in STEPS_READ), strict=True))
    by_trial: dict[str, list[tuple[object, ...]]] = {}
    for row in rows:
        by_trial.setdefault(str(row[0]), []).append(row)
    taken: dict[tuple[str, object], Draw] = {}
    own: set[tuple[str, object]] = set()
    for trial, of_trial in by_trial.items():
        owner = trial
        for _, step, kind, item, lot, grams, at, parent in sorted(of_trial, key=lambda row: -float(str(row[1]))):
            if kind == "split" and parent is not None:
                owner = str(parent)  # whose the steps before this one are
            if kind not in ("pour", "add") or item is None or is_missing(grams):
                continue
            key = (owner, step)
            if key in own or (key in taken and owner != trial) or (owner != trial and owner in by_trial):
                continue
            when = at or times.get(owner) or times.get(trial)
            taken[key] = Draw(str(item), float(str(grams)), _text(lot), _text(when))
            if owner == trial:
                own.add(key)
    yield from taken.values()


def _of_readings(readings: pd.DataFrame, told: set[str], shelf: Shelf, times: dict[str, str | None]) -> Iterator[Draw]:
    rows = readings[~readings["trial_id"].isin(told)]
    if rows.empty:
        return
    density = rows["base_id"].map({b: base.density_g_per_ml for b, base in shelf.bases.items()}).astype(float)
    poured = rows["base_g"].fillna(rows["base_ml"] * density.fillna(1.0))
    cups = rows.assign(poured=poured).groupby("trial_id", sort=False).agg({"base_id": "first", "poured": "max"})
    parts = rows[rows["flavouring_id"].notna()].sort_values("dose_g_per_kg", kind="stable")
    parts = parts.drop_duplicates(["trial_id", "flavouring_id"], keep="last")
    share = parts.groupby("trial_id")["dose_g_per_kg"].sum() / 1000
    for trial, base, grams in zip(cups.index, cups["base_id"], cups["poured"], strict=True):
        yield Draw(str(base), _known(grams), None, _text(times.get(str(trial))))
    finished = cups["poured"] / (1 - share.reindex(cups.index).fillna(0.0))
    taken = parts["trial_id"].map(finished) * parts["dose_g_per_kg"] / 1000
    columns = (parts[name].tolist() for name in ("trial_id", "flavouring_id", "lot"))
    for trial, item, lot, grams in zip(*columns, taken, strict=True):
        yield Draw(str(item), _known(grams), _text(lot), _text(times.get(trial)))


def _made_of(one: Draw, shelf: Shelf, stocked: Collection[str], deep: int = 0) -> Iterator[Draw]:
    """Give a draw as draws of what has lots: itself, or what it was made of."""
    if one.item_id in stocked:
        yield one
        return
    for item, share in _parts(one.item_id, shelf).items() if deep < _DEEPEST else ():
        part = replace(one, item_id=item, lot=None, g=None if one.g is None else one.g * share)
        yield from _made_of(part, shelf, stocked, deep + 1)


def _parts(item_id: str, shelf: Shelf) -> dict[str, float]:
    """Return g of each part in 1 g of a pre-dilution or of a mixed base; nothing of any other."""
    if item_id in shelf.flavourings:
        thin = dilution_of(shelf.flavourings[item_id])
        if thin is None:
            return {}
        rest = {thin.diluent_id: 1.0 - thin.share} if thin.diluent_id else {}
        return {thin.flavouring_id: thin.share, **rest}
    base = shelf.bases.get(item_id)
    parts = {name: g for name, g in (base.made_from or {}).items() if g} if base is not None else {}
    total = sum(parts.values())
    return {name: g / total for name, g in parts.items()}


def _known(grams: float) -> float | None:
    return None if np.isnan(grams) else float(grams)


def _text(value: object) -> str | None:
    return None if is_missing(value) else str(value)
