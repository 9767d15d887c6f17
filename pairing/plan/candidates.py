"""Candidates: every base with every combination that the brief allows, limits applied before anything is scored."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import BriefError, UnknownIdError, nearest, or_else
from pairing.model.brief import Brief
from pairing.model.recipes import Recipes
from pairing.model.shelf import lineage
from pairing.plan.figures import ease, within
from pairing.plan.limits import item_limits, not_stopped
from pairing.plan.pool import Pool, with_doses
from pairing.plan.wanted import limited
from pairing.safety.avoidance import check_allergens

if TYPE_CHECKING:
    from pairing.learning.answers import Answers
    from pairing.model.shelf import Shelf

__all__ = ["candidates", "check_tasters", "checked", "combinations", "with_ids"]

MOST = 10_000
"""Combinations that are scored in full; a larger space is narrowed by how good a base and a flavouring may be."""
MOST_ASKED = 500
"""Suggestions that may be asked for at once."""
_BEAM = 240
_PARTNERS = 16


def checked(model: Answers, brief: Brief | None, n: int) -> Brief:
    """Return the brief, an open one for None; refuse one that cannot be answered, and a number that is none.

    Raises
    ------
    BriefError
        When it is no brief, or ``n`` is not 1 to 500.
    UnknownIdError
        When it names what nobody knows.
    """
    if isinstance(n, bool) or not isinstance(n, (int, np.integer)) or not 1 <= n <= MOST_ASKED:
        raise BriefError(f"n is {n!r}, allowed is 1 to {MOST_ASKED}", "ask for as many trials as an evening holds")
    return with_ids(model, Brief() if brief is None else brief)


def with_ids(model: Answers, brief: Brief) -> Brief:
    """Return a brief with ids where it has names; refuse one that names what nobody knows.

    Raises
    ------
    BriefError
        When it is no brief.
    UnknownIdError
        With the nearest names.
    """
    if not isinstance(brief, Brief):
        raise BriefError(f"{brief!r} is no brief", "write Brief(max_added_kcal=20, …), or leave it out")
    shelf = model.shelf
    meant: dict[str, Any] = {}
    if brief.bases:
        meant["bases"] = tuple(shelf.base(one).base_id for one in brief.bases)
    for name in ("must_have", "never", "on_hand"):
        if given := getattr(brief, name):
            meant[name] = tuple(shelf.flavouring(one).flavouring_id for one in given)
    if any(getattr(brief, name) != ids for name, ids in meant.items()):
        brief = replace(brief, **meant)
    check_tasters(model, brief.tasters or ())
    must = brief.must_have or ()
    first = _first_versions(shelf)[[shelf.flavouring_places[f] for f in must]]
    if len(np.unique(first)) < len(must):
        raise BriefError(
            f"must_have names two versions of one flavouring: {', '.join(must)}",
            "a cup holds one of them: leave one out",
        )
    check_allergens(brief.avoid_allergens or (), shelf)
    if brief.target_id is not None and brief.target_id not in model.log.targets:
        hint = nearest(brief.target_id, model.log.targets)
        raise UnknownIdError(f"no likeness to target {brief.target_id!r} was logged yet", hint)
    return brief


def check_tasters(model: Answers, tasters: Iterable[str]) -> None:
    """Refuse a taster whom neither shelf nor log knows, with the nearest names."""
    known = {*model.shelf.tasters, *model.log.tasters, "new"}
    for taster in tasters:
        if taster not in known:
            raise UnknownIdError(f"no taster {taster!r}", or_else(nearest(taster, known), "a guest is 'new'"))


def candidates(model: Answers, brief: Brief) -> Pool:
    """Return the candidates of a brief with doses, all limits kept; may be empty.

    Singles and pairs are enumerated as far as ``MOST`` goes; triples and beyond extend the most promising smaller
    ones. Where a limit on energy, cost or alcohol would rule a recipe out by a little, the flavouring that takes most
    of it is lowered to an accent and the rest stay: the model charges what that loses. Seasonings (sweetener, salt,
    acid) are only in a cup where the brief says so, and do not count as flavourings.
    """
    shelf = model.shelf
    limits = item_limits(model, brief).values()
    bases = np.flatnonzero(np.logical_and.reduce([limit.base for limit in limits]))
    allowed = np.flatnonzero(np.logical_and.reduce([limit.flavouring for limit in limits]))
    must = np.array([shelf.flavouring_places[f] for f in brief.must_have or ()], dtype=int)
    if not len(bases) or not np.isin(must, allowed).all():
        return _dosed(model, brief, combinations(shelf, bases[:0], allowed, must, 1))
    seasonings = np.flatnonzero([f.role == "seasoning" for f in shelf.flavourings.values()])
    free = brief.max_flavourings - len(np.setdiff1d(must, seasonings))
    rest = np.setdiff1d(allowed, np.union1d(must, seasonings))
    smallest = combinations(shelf, bases, rest, must, min(free, 1))
    found = [smallest]
    if free >= 2:
        found.append(_pairs(model, bases, rest, must, smallest))
    pool = _dosed(model, brief, Pool.stack(found))
    for size in range(len(must) + 3, len(must) + free + 1):
        more = _extended(model, pool, rest, size)
        if not len(more):
            break
        pool = Pool.stack([pool, _dosed(model, brief, more)])
    return pool


def combinations(shelf: Shelf, bases: np.ndarray, rest: np.ndarray, must: np.ndarray, extra: int) -> Pool:
    """Every base with the must-haves and up to ``extra`` (0–2) more flavourings; never a plain base."""
    sets = [np.sort(must)[None, :]] if len(must) else []
    if extra >= 1:
        sets.append(np.column_stack([np.tile(must, (len(rest), 1)), rest]))
    if extra >= 2:
        first, second = np.triu_indices(len(rest), 1)
        sets.append(np.column_stack([np.tile(must, (len(first), 1)), rest[first], rest[second]]))
    return Pool.stack([_on(shelf, bases, one) for one in sets])


def _on(shelf: Shelf, bases: np.ndarray, sets: np.ndarray) -> Pool:
    slots = _ordered(np.tile(sets, (len(bases), 1)).astype(int))
    return Pool.of(shelf, Recipes.at(np.repeat(bases, len(sets)), slots))


def _ordered(slots: np.ndarray) -> np.ndarray:
    """Sort each row's flavourings, empty slots last."""
    big = np.where(slots < 0, np.iinfo(int).max, slots)
    big.sort(axis=1)
    return np.where(big == np.iinfo(int).max, -1, big)


def _first_versions(shelf: Shelf) -> np.ndarray:
    """Place of the flavouring that each one is a version or a dilution of, in the end."""
    place = shelf.flavouring_places
    return np.array([place[lineage(name, shelf.flavourings)[-1]] for name in place], dtype=int)


def _dosed(model: Answers, brief: Brief, pool: Pool) -> Pool:
    first = np.append(_first_versions(pool.shelf), -1)[pool.recipes.flavouring]
    ordered = np.sort(first, axis=1)
    pool = pool.take(~((ordered[:, 1:] == ordered[:, :-1]) & (ordered[:, 1:] >= 0)).any(axis=1))
    dosed = ease(with_doses(pool, model, brief.tasters), brief)
    passing = [within(dosed, brief), *not_stopped(model, dosed, brief).values(), *limited(model, dosed).values()]
    return dosed.take(np.logical_and.reduce(passing))


def _promise(model: Answers, pool: Pool) -> np.ndarray:
    """How good a candidate may be: mean + sd at its best dose."""
    mean, sd = model.response.predict_encoded(model.response.encode_recipes(pool.recipes.open()))
    return np.asarray(mean) + np.asarray(sd)


def _pairs(model: Answers, bases: np.ndarray, rest: np.ndarray, must: np.ndarray, smallest: Pool) -> Pool:
    """All pairs, or, on a large shelf, per base those of its most promising flavourings and the known good pairs."""
    n, shelf = len(rest), smallest.shelf
    if len(bases) * n * (n - 1) // 2 <= MOST:
        return _only(combinations(shelf, bases, rest, must, 2), len(must) + 2)
    keep = int((1 + np.sqrt(1 + 8 * MOST / len(bases))) / 2)
    promise = _promise(model, smallest)
    width = len(must) + 1
    parts = []
    for base in bases:
        here = (smallest.recipes.base == base) & (smallest.recipes.count == width)
        slots = smallest.recipes.flavouring[here]
        added = np.where(np.isin(slots, must), -1, slots).max(axis=1)  # the one flavouring beyond the must-haves
        best = added[np.argsort(-promise[here], kind="stable")[: max(keep, 2)]]
        parts.append(_only(combinations(shelf, np.array([base]), np.sort(best), must, 2), len(must) + 2))
    return Pool.stack(parts)


def _only(pool: Pool, size: int) -> Pool:
    return pool.take(pool.recipes.count == size)


def _extended(model: Answers, pool: Pool, rest: np.ndarray, size: int) -> Pool:
    """Extend the most promising candidates of one flavouring less by the most promising partners."""
    if not len(pool):
        return pool
    count = pool.recipes.count
    smaller = pool.take(count == size - 1)
    if not len(smaller):
        return smaller
    best = smaller.take(np.argsort(-_promise(model, smaller), kind="stable")[:_BEAM])
    partners = _partners(model, pool, rest)
    rows, added = np.repeat(np.arange(len(best)), len(partners)), np.tile(partners, len(best))
    old = best.recipes.flavouring[rows][:, : size - 1]
    fresh = ~(old == added[:, None]).any(axis=1)
    slots = _ordered(np.column_stack([old, added])[fresh])
    table = np.unique(np.column_stack([best.recipes.base[rows][fresh], slots]), axis=0)
    return Pool.of(pool.shelf, Recipes.at(table[:, 0], table[:, 1:]))


def _partners(model: Answers, pool: Pool, rest: np.ndarray) -> np.ndarray:
    """Flavourings that do best in the pool so far."""
    promise = _promise(model, pool)
    best = np.array([promise[(pool.recipes.flavouring == f).any(axis=1)].max(initial=-np.inf) for f in rest])
    return rest[np.argsort(-best, kind="stable")[:_PARTNERS]]
