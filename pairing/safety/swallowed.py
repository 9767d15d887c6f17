"""What tasters swallowed: every sip counts, energy, caffeine, ethanol, sweeteners, and the day's limits."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from pairing.errors import QuantityError, nearest
from pairing.model.caution import Caution, gravest_first
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.cup import Cup
from pairing.model.shelf import Shelf
from pairing.model.weighing import weighed
from pairing.nutrition.content import content
from pairing.nutrition.facts import facts_of, sum_up
from pairing.nutrition.substances import SUBSTANCES
from pairing.safety.intake import against_limits
from pairing.safety.limits import limits
from pairing.safety.people import Person, people_of
from pairing.safety.served import held_in

__all__ = ["Tally", "swallowed_mg", "tally"]


@dataclass(frozen=True, kw_only=True)
class Tally:
    """What one taster swallowed.

    Attributes
    ----------
    taster : str
    drink_g : float
    grams : mapping of item id to float
        Of each base and flavouring.
    kcal, ethanol_g, caffeine_mg : float or None
        None is unknown.
    at_least : mapping of str to float
        Lower bounds of all three.
    substances_mg : mapping of substance to float
        Sweeteners and others with an intake limit (steviol glycosides as steviol equivalents).
    cautions : tuple of Caution
        Where a quarter of a day's limit was reached.
    """

    taster: str
    drink_g: float
    grams: Mapping[str, float]
    kcal: float | None
    ethanol_g: float | None
    caffeine_mg: float | None
    at_least: Mapping[str, float]
    substances_mg: Mapping[str, float]
    cautions: tuple[Caution, ...]

    @property
    def mg(self) -> dict[str, float]:
        """Mg of every substance with a limit, ethanol among them; lower bounds where some of it is not stated."""
        ethanol_g = self.at_least["ethanol_g"] if self.ethanol_g is None else self.ethanol_g
        return {**self.substances_mg, "ethanol": 1000.0 * ethanol_g}


def tally(cups: Iterable[Cup], shelf: Shelf, taster: str = DEFAULT_TASTER, jurisdiction: str | None = None) -> Tally:
    """Add up a taster's sips over the cups of a session (or a day).

    Examples
    --------
    >>> from pairing.model.flavouring import Flavouring
    >>> from pairing.model.base import Base
    >>> shelf = Shelf.of(
    ...     [Base(base_id="oat", name="Oat", energy_kcal_per_100g=40)],
    ...     [Flavouring(flavouring_id="date", name="Date", energy_kcal_per_g=3)],
    ... )
    >>> round(tally([Cup("oat", 90).add("date", g=10).sip(20)], shelf).kcal, 1)
    13.2
    """
    law = shelf.jurisdiction if jurisdiction is None else jurisdiction
    grams: dict[str, float] = {}
    for cup in cups:
        for item, mass in weighed(cup, shelf).swallowed(taster).items():
            name = cup.base_id if item is None else item
            grams[name] = grams.get(name, 0.0) + mass
    items = {i: shelf.bases[i] if i in shelf.bases else shelf.flavouring(i) for i in grams}
    value, bound = sum_up([(facts_of(items[i], shelf, law), g) for i, g in grams.items()])
    return Tally(
        taster=taster,
        drink_g=math.fsum(grams.values()),
        grams=grams,
        kcal=value["kcal"],
        ethanol_g=value["ethanol_g"],
        caffeine_mg=value["caffeine_mg"],
        at_least={name: bound[name] for name in ("kcal", "ethanol_g", "caffeine_mg")},
        substances_mg=content(grams, shelf).mg,
        cautions=_of_the_day(grams, shelf, taster, law),
    )


def _of_the_day(grams: Mapping[str, float], shelf: Shelf, taster: str, law: str) -> tuple[Caution, ...]:
    if not grams:
        return ()
    held, ids = held_in(grams, shelf), tuple(grams)
    return gravest_first(against_limits(held, people_of([taster], shelf), law, {}, lambda _: ids, per=("day",)))


def swallowed_mg(already: Mapping[str, Any] | Tally | None, people: Iterable[Person]) -> dict[str, dict[str, float]]:
    """Return mg of each substance that each person swallowed, from tallies or from amounts by substance.

    Parameters
    ----------
    already : Tally, mapping of taster to Tally or to amounts, amounts, or None
        Amounts are in mg by substance (``caffeine``, or ``caffeine_mg``), or in g where the name says so
        (``ethanol_g``). Amounts alone are everybody's; a tally alone is its taster's.
    people : iterable of Person

    Raises
    ------
    QuantityError
        When it is something else, names no substance with a limit, or an amount is no number of 0 or more.

    Examples
    --------
    >>> swallowed_mg({"ana": {"caffeine": 120, "ethanol_g": 8}}, ())
    {'ana': {'caffeine': 120.0, 'ethanol': 8000.0}}
    """
    if already is None:
        return {}
    given = {already.taster: already} if isinstance(already, Tally) else already
    if not isinstance(given, Mapping):
        raise QuantityError(f"already is {already!r}", _EXAMPLE)
    if given and not any(isinstance(one, Tally | Mapping) for one in given.values()):
        return {person.name: _checked("who drinks", given) for person in people}
    found = {str(name): _checked(str(name), one.mg if isinstance(one, Tally) else one) for name, one in given.items()}
    if found and any(not person.name for person in people):
        found[""] = _most(found.values())
    return found


_EXAMPLE = 'write {"ana": {"caffeine": 120}} in mg, or give tallies'


def _checked(name: str, amounts: Any) -> dict[str, float]:
    if not isinstance(amounts, Mapping):
        raise QuantityError(f"what {name} swallowed is {amounts!r}", _EXAMPLE)
    out = {}
    for key, amount in amounts.items():
        if (
            isinstance(amount, bool)
            or not isinstance(amount, int | float)
            or not (math.isfinite(amount) and amount >= 0)
        ):
            raise QuantityError(f"{name} swallowed {amount!r} of {key}", "give a number of 0 or more")
        substance, unit = next(
            ((str(key).removesuffix(u), u) for u in ("_mg", "_g") if str(key).endswith(u)), (key, "")
        )
        if substance not in _known():
            raise QuantityError(f"{name} swallowed {key!r}, for which no limit is known", nearest(substance, _known()))
        out[str(substance)] = float(amount) * (1000.0 if unit == "_g" else 1.0)
    return out


def _known() -> frozenset[str]:
    return frozenset(SUBSTANCES) | {limit.substance for limit in limits()}


def _most(found: Iterable[Mapping[str, float]]) -> dict[str, float]:
    """Return the most that any of some people swallowed, where it is not said who drinks."""
    out: dict[str, float] = {}
    for one in found:
        for substance, mg in one.items():
            out[substance] = max(out.get(substance, 0.0), mg)
    return out
