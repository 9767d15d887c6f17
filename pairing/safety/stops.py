"""Which of many recipes a caution stops: the same facts as `cautions`, as arrays, and no words for what nobody sees."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import TableError
from pairing.host.tables import recipe_table_of
from pairing.model.cache import IdentityCache
from pairing.model.recipes import Recipes
from pairing.nutrition.maximum import first_version, maximum_of
from pairing.nutrition.names import EVERYBODY, hints, never_for
from pairing.safety.avoidance import Barred, clashes, keeps_out, lost, not_understood
from pairing.safety.intake import Already, stopped
from pairing.safety.mixing import FULL, extreme_ph
from pairing.safety.people import Person
from pairing.safety.rules import stopped_by_rules
from pairing.safety.served import served
from pairing.safety.statements import parts_inside

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pairing.api import RuleLike
    from pairing.model.flavouring import Flavouring
    from pairing.model.shelf import Shelf
    from pairing.model.taster import Taster

    Bools = NDArray[np.bool_]
    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["barred", "barred_items", "declared_no_food", "no_food_items", "stops"]

_NO_FOOD: IdentityCache[tuple[Bools, Bools]] = IdentityCache()
_BARRED: IdentityCache[tuple[Bools, Bools]] = IdentityCache()
_REASONS: IdentityCache[tuple[Barred, ...]] = IdentityCache()
_HONEY: IdentityCache[tuple[Bools, Bools, Bools]] = IdentityCache()
_MAXIMA: IdentityCache[tuple[Floats, Ints]] = IdentityCache()


def stops(
    shelf: Shelf,
    recipes: Recipes,
    base_g: Floats,
    people: Sequence[Person],
    *,
    jurisdiction: str | None = None,
    rules: Sequence[RuleLike] = (),
    already: Already | None = None,
) -> Mapping[str, Bools]:
    """Return, by why, which of n recipes have a caution that stops.

    Parameters
    ----------
    shelf : Shelf
    recipes : Recipes
        Numeric doses.
    base_g : array, shape (n,)
        g of base in one serving.
    people : sequence of Person
    jurisdiction : {"EU", "US"}, optional
    rules : sequence of RuleLike
    already : mapping, optional
        mg of each substance that each person swallowed today.

    Returns
    -------
    mapping of str to array of bool, shape (n,)
        ``person`` (what somebody avoids), ``food use``, ``no food`` (or a poison), ``dose`` (above a maximum),
        ``intake`` (above a limit),
        ``acid``, ``honey`` (for an infant), ``use by`` (of the bottle in use) and ``rule``.
    """
    held = served(shelf, recipes, base_g)
    law = shelf.jurisdiction if jurisdiction is None else jurisdiction
    found = {
        "person": _any_item(barred_items(shelf, people), recipes),
        "food use": _any_flavouring(lambda f: not f.suggestable, shelf, recipes),
        "no food": _any_item(no_food_items(shelf), recipes),
        "dose": _over_maximum(shelf, recipes),
        "intake": stopped(held, people, law, already or {}),
        "acid": extreme_ph(shelf)[recipes.base],
        "honey": _honey_for_infants(shelf, recipes, people),
    }
    if shelf.past:
        found["use by"] = _any_item(_past_use_by(shelf), recipes)
    if any(rule.acts_on == "caution" for rule in rules):
        found["rule"] = stopped_by_rules(rules, recipe_table_of(shelf, recipes))
    return found


def _past_use_by(shelf: Shelf) -> tuple[Bools, Bools]:
    gone = {item for item, (which, _) in shelf.past.items() if which == "use_by"}
    bases, flavourings = ([i in gone for i in ids] for ids in (shelf.bases, shelf.flavourings))
    return np.array(bases, dtype=bool), np.array(flavourings, dtype=bool)


def barred(shelf: Shelf, taster: Taster) -> tuple[Barred, ...]:
    """Return why each base and flavouring of a shelf must not reach a taster, worked out once."""
    ids = (*shelf.bases, *shelf.flavourings)

    def made() -> tuple[Barred, ...]:
        words = not_understood(taster, shelf)
        return (*lost(ids, words), *(why for i in ids for why in _reasons(i, shelf, taster)))

    return _REASONS.of((shelf, taster), made)


def barred_items(shelf: Shelf, people: Sequence[Person]) -> tuple[Bools, Bools]:
    """Return which bases and which flavourings of a shelf some of these people must not have, in shelf order."""
    tasters = tuple(p.taster for p in people if p.taster is not None and keeps_out(p.taster))

    def made() -> tuple[Bools, Bools]:
        out = {why.item_id for taster in tasters for why in barred(shelf, taster)}
        bases, flavourings = ([i in out for i in ids] for ids in (shelf.bases, shelf.flavourings))
        return np.array(bases, dtype=bool), np.array(flavourings, dtype=bool)

    return _BARRED.of((shelf, *tasters), made) if tasters else made()


def _reasons(item_id: str, shelf: Shelf, taster: Taster) -> tuple[Barred, ...]:
    """Return why an item is barred; one whose parts nobody can tell is, too."""
    if not (words := keeps_out(taster)):
        return ()
    try:
        return clashes(item_id, shelf, taster)
    except TableError as error:
        return (Barred(item_id, ", ".join(sorted(words)), f"is made of what nobody can tell: {error.message}"),)


def declared_no_food(shelf: Shelf, recipes: Recipes) -> Bools:
    """Return which recipes hold what is declared as not for food."""
    return _any_flavouring(lambda f: f.food_use == "no", shelf, recipes)


def no_food_items(shelf: Shelf) -> tuple[Bools, Bools]:
    """Return which bases and flavourings are never for anybody by what is written about them, in shelf order."""

    def made() -> tuple[Bools, Bools]:
        bases = [EVERYBODY in never_for(base, shelf) for base in shelf.bases.values()]
        flavourings = [EVERYBODY in never_for(flavouring, shelf) for flavouring in shelf.flavourings.values()]
        return np.array(bases, dtype=bool), np.array(flavourings, dtype=bool)

    return _NO_FOOD.of((shelf,), made)


def _any_flavouring(wrong: Callable[[Flavouring], bool], shelf: Shelf, recipes: Recipes) -> Bools:
    mask = np.array([wrong(f) for f in shelf.flavourings.values()], dtype=bool)
    return _any_item((np.zeros(len(shelf.bases), dtype=bool), mask), recipes)


def _any_item(masks: tuple[Bools, Bools], recipes: Recipes) -> Bools:
    of_bases, of_flavourings = masks
    found: Bools = of_bases[recipes.base] | np.append(of_flavourings, False)[recipes.flavouring].any(axis=1)
    return found


def _over_maximum(shelf: Shelf, recipes: Recipes) -> Bools:
    """Tell where a dose is above its maximum, or versions of one flavouring are together."""
    most, first = _MAXIMA.of((shelf,), lambda: _maxima(shelf))
    slots, dose = recipes.flavouring, np.nan_to_num(recipes.dose_g_per_kg)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # many times over is over, too
        share = np.where(dose > 0, dose / np.append(most, np.inf)[slots], 0.0)
    family = np.append(first, -1)[slots]
    same = (family[:, :, None] == family[:, None, :]) & recipes.present[:, None, :]
    together = np.where(same, share[:, None, :], 0.0).sum(axis=2)
    found: Bools = (together > FULL).any(axis=1)
    return found


def _maxima(shelf: Shelf) -> tuple[Floats, Ints]:
    stated = [maximum_of(f, shelf) for f in shelf.flavourings.values()]
    codes: dict[str, int] = {}
    first = [codes.setdefault(first_version(name, shelf), len(codes)) for name in shelf.flavourings]
    return np.array([np.inf if m is None else m for m in stated], dtype=float), np.array(first, dtype=np.int64)


def _honey_for_infants(shelf: Shelf, recipes: Recipes, people: Sequence[Person]) -> Bools:
    honey_bases, honey_flavourings, infant_bases = _HONEY.of((shelf,), lambda: _suggested(shelf))
    infant = infant_bases[recipes.base] | any(p.infant for p in people)
    return _any_item((honey_bases, honey_flavourings), recipes) & infant


def _suggested(shelf: Shelf) -> tuple[Bools, Bools, Bools]:
    def of(items: Mapping[str, object], kind: str) -> Bools:
        each = (parts_inside(item, shelf) for item in items.values())  # type: ignore[arg-type]
        return np.array([any(h.kind == kind for part in found for h in hints(part)) for found in each], dtype=bool)

    return of(shelf.bases, "honey"), of(shelf.flavourings, "honey"), of(shelf.bases, "infant")
