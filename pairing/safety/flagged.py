"""What was drunk although a caution stops it: kept like every other cup, and flagged.

The question comes before pouring; here it is too late for it, and nothing that was drunk may be lost.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import PairingError
from pairing.model.arrays import Floats, Ints
from pairing.model.caution import Caution, together
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.cup import Cup
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.model.weighing import weighed
from pairing.safety.cautions import cautions
from pairing.safety.people import people_of
from pairing.safety.stops import declared_no_food, stops

if TYPE_CHECKING:
    from pairing.api import RuleLike

__all__ = ["Flag", "flags", "flags_of", "in_words", "warn_of"]

_LOG = logging.getLogger("pairing")

_AT_ONCE = 20_000
"""Readings that are looked at together, so that little room is taken (our choice)."""


@dataclass(frozen=True)
class Flag:
    """Something that was drunk although a caution stops it.

    Attributes
    ----------
    trial_id, taster : str
    recipe : Recipe
        As it was in the cup, g/kg.
    base_g : float
        g of base that were drunk, or that one serving has where nobody says how much.
    why : tuple of str
        The kinds of what stops it: ``intake``, ``dose``, ``person`` and others, see `pairing.safety.stops`. That nobody
        says whether something is food is asked once per file, and does not flag every cup.
    """

    trial_id: str
    taster: str
    recipe: Recipe
    base_g: float
    why: tuple[str, ...]

    def cautions(self, shelf: Shelf, rules: Sequence[RuleLike] = ()) -> tuple[Caution, ...]:
        """Return the cautions that stop it."""
        found = cautions(self.recipe, shelf, [self.taster], serving_g=self.base_g, rules=rules)
        return tuple(c for c in found if c.severity == "stop" and (c.kind != "food use" or "food use" in self.why))


def flags(
    shelf: Shelf,
    recipes: Recipes,
    base_g: Floats,
    trials: tuple[Sequence[str], Ints],
    tasters: tuple[Sequence[str], Ints],
    rules: Sequence[RuleLike] = (),
) -> tuple[Flag, ...]:
    """Return what of n readings was drunk although a caution stops it: one flag per cup and taster, the first reading.

    Parameters
    ----------
    shelf : Shelf
    recipes : Recipes
        What was in the cup at each reading.
    base_g : array, shape (n,)
        g of base poured; NaN where that is not known. Of more than a serving one serving was drunk.
    trials, tasters : (names, int array of shape (n,))
        Which cup, and who drank of it.
    rules : sequence of RuleLike
    """
    servings = np.array([base.serving() for base in shelf.bases.values()])[recipes.base]
    drunk_g = np.fmin(base_g, servings)
    found: dict[tuple[int, int], Flag] = {}
    for rows in _alike(shelf, tasters):
        people = people_of([tasters[0][tasters[1][rows[0]]]], shelf)
        for part in np.array_split(rows, -(-len(rows) // _AT_ONCE)):
            cups = recipes.take(part)
            why = {**stops(shelf, cups, drunk_g[part], people, rules=rules), "food use": declared_no_food(shelf, cups)}
            for i in np.flatnonzero(np.logical_or.reduce(list(why.values()))):
                row = int(part[i])
                key = int(trials[1][row]), int(tasters[1][row])
                kinds = tuple(kind for kind, mask in why.items() if mask[i])
                if key not in found:
                    names = trials[0][key[0]], tasters[0][key[1]]
                    found[key] = Flag(*names, _recipe(shelf, recipes, row), float(drunk_g[row]), kinds)
    return tuple(found[key] for key in sorted(found))


def flags_of(cup: Cup, shelf: Shelf, taster: str | None = None, rules: Sequence[RuleLike] = ()) -> tuple[Flag, ...]:
    """Return what of one cup was drunk although a caution stops it.

    Parameters
    ----------
    cup : Cup
    shelf : Shelf
    taster : str, optional
        Who tasted, where the readings do not say.
    rules : sequence of RuleLike
    """
    moments = [(one.taster, dict(one.dose_g_per_kg)) for one in cup.readings]
    moments.append((taster or (cup.readings[-1].taster if cup.readings else DEFAULT_TASTER), dict(cup.dose_g_per_kg)))
    who = [taster if taster and name == DEFAULT_TASTER else name for name, _ in moments]
    names = list(dict.fromkeys(who))
    recipes = Recipes.of(shelf, [Recipe(cup.base_id, doses) for _, doses in moments])
    base_g = np.array([_drunk_g(cup, name, taster) for name in who])
    codes = np.array([names.index(name) for name in who])
    return flags(shelf, recipes, base_g, ([cup.trial_id], np.zeros(len(moments), np.int64)), (names, codes), rules)


def warn_of(cup: Cup, shelf: Shelf, taster: str | None, rules: Sequence[RuleLike], trial_id: str) -> None:
    """Warn of what was drunk in a cup that is kept already: whatever comes of that, it stays kept."""
    try:
        for flag in flags_of(weighed(cup, shelf), shelf, taster, rules):
            _LOG.warning("%s", in_words(replace(flag, trial_id=trial_id), shelf, rules))
    except PairingError as error:
        _LOG.warning("trial %r is kept, but its cautions could not be told: %s", trial_id, error)


def in_words(flag: Flag, shelf: Shelf, rules: Sequence[RuleLike] = ()) -> str:
    """Say what stops a cup that was drunk."""
    said = "; ".join(together([c], shelf.names) for c in flag.cautions(shelf, rules)) or ", ".join(flag.why)
    return f"trial {flag.trial_id!r} of {flag.taster} is kept, and flagged: {said}"


def _drunk_g(cup: Cup, name: str, taster: str | None) -> float:
    """Return g of base that somebody swallowed; all of the cup where no sip of theirs is written down."""
    mine = {name, *((DEFAULT_TASTER, None) if name in (taster, DEFAULT_TASTER) else ())}
    sips = [step.amount_g or 0.0 for step in cup.steps if step.kind == "sip" and step.taster in mine]
    if not sips:
        return float(cup.base_g)
    return float(sum(sips)) * (1.0 - sum(cup.dose_g_per_kg.values()) / 1000.0)


def _alike(shelf: Shelf, tasters: tuple[Sequence[str], Ints]) -> Iterator[Ints]:
    """Return the rows of those tasters together for whom the same holds."""
    unknown = Taster(taster="-")
    about: dict[Taster, list[int]] = {}
    for code, name in enumerate(tasters[0]):
        about.setdefault(replace(shelf.tasters.get(name, unknown), taster="-"), []).append(code)
    for codes in about.values():
        rows = np.flatnonzero(np.isin(tasters[1], codes))
        if len(rows):
            yield rows


def _recipe(shelf: Shelf, recipes: Recipes, row: int) -> Recipe:
    ids, places = list(shelf.flavourings), recipes.flavouring[row]
    doses = recipes.dose_g_per_kg[row]
    inside = {ids[place]: float(dose) for place, dose in zip(places, doses, strict=True) if place >= 0}
    return Recipe(list(shelf.bases)[recipes.base[row]], inside)
