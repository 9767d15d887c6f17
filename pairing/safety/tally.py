"""What a taster swallowed in a session: every sip counts, energy, caffeine, ethanol, sweeteners."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pairing.model.caution import SEVERITIES, Caution
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.cup import Cup
from pairing.model.shelf import Shelf
from pairing.model.weighing import weighed
from pairing.nutrition.content import content
from pairing.nutrition.facts import facts_of, sum_up
from pairing.nutrition.intake import CUSTOMARY_BODY_MASS_KG
from pairing.safety.drinking import against_limits

__all__ = ["Tally", "tally"]


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
    held = content(grams, shelf)
    person = shelf.tasters.get(taster)
    body = person.body_mass_kg if person is not None else None
    said = "" if body is not None else " assumed"
    found = against_limits(held, body or CUSTOMARY_BODY_MASS_KG, law, 1, said)
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
        substances_mg=held.mg,
        cautions=tuple(sorted(found, key=lambda c: SEVERITIES.index(c.severity))),
    )
