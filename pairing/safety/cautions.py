"""Cautions of a recipe: allergens, ethanol, intake limits, concentrates, time, sharing. Never a green light.

Nothing here is legal, medical or dietary advice: local codes and licensed practice come first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from pairing.model.caution import NONE_KNOWN, PROFESSIONAL, SEVERITIES, Caution, worded
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.allergens import clash, must_declare
from pairing.nutrition.composition import allergens_of
from pairing.nutrition.factors import check_jurisdiction
from pairing.nutrition.maximum import first_version, maximum_of
from pairing.nutrition.serving import Serving
from pairing.nutrition.serving import serving as make_serving
from pairing.quantities.drops import is_liquid
from pairing.safety.avoidance import forbidden, not_understood
from pairing.safety.drinking import ethanol_caution, intake_cautions, label_cautions

if TYPE_CHECKING:
    from pairing.model.flavouring import Flavouring

__all__ = ["NONE_KNOWN", "Caution", "cautions", "forbidden", "worded"]

_FULL = 1.0 + 1e-9
"""Share of a maximum dose from which it is passed."""
_MEDICAL = ("meal-replacement", "meal replacement", "medical", "enteral", "infant", "diabetic", "ketogenic", "renal")
_STRONG = ("drop", "extract", "oil", "essence", "concentrate", "tincture", "dilution")


def cautions(
    recipe: Recipe,
    shelf: Shelf,
    tasters: Sequence[str | Taster] = (),
    serving: Serving | None = None,
    jurisdiction: str | None = None,
    servings_per_day: float = 1,
) -> tuple[Caution, ...]:
    """Return every caution known to this tool, gravest first.

    Parameters
    ----------
    recipe : Recipe
        Numeric doses, unless ``serving`` is given.
    shelf : Shelf
    tasters : sequence of str or Taster
        Everyone present; ids that the shelf does not know are said to be unknown.
    serving : Serving, optional
        What one serving comes to; worked out when not given.
    jurisdiction : {"EU", "US"}, optional
        Default the shelf's.
    servings_per_day : float
        Above 0, at most 100.

    Returns
    -------
    tuple of Caution
        Empty means none known to this tool: see `worded`.

    Examples
    --------
    >>> from pairing.model.base import Base
    >>> milk = Base(base_id="milk", name="Milk", allergens="milk")
    >>> cautions(Recipe("milk"), Shelf.of([milk], []))[0].text
    'contains milk (milk)'
    """
    jurisdiction = check_jurisdiction(shelf.jurisdiction if jurisdiction is None else jurisdiction)
    found = serving or make_serving(recipe, shelf, jurisdiction=jurisdiction)
    people = [t if isinstance(t, Taster) else shelf.tasters.get(t, t) for t in tasters]
    flavourings = [shelf.flavouring(i) for i in recipe.flavouring_ids]
    out = [
        *_for_people(recipe, shelf, people),
        *_allergens(recipe, shelf, found, jurisdiction),
        *_over_dose(recipe, flavourings, shelf),
        *_food_use(flavourings),
        ethanol_caution(found, jurisdiction),
        *intake_cautions(found, recipe, shelf, people, jurisdiction, servings_per_day),
        *label_cautions(recipe, shelf, jurisdiction),
        *_not_stated(found),
        *_concentrates(flavourings),
        *_medical(recipe, shelf),
        _time(recipe, shelf, jurisdiction),
        *_sharing(people),
    ]
    return tuple(sorted((c for c in out if c is not None), key=lambda c: SEVERITIES.index(c.severity)))


def _for_people(recipe: Recipe, shelf: Shelf, people: Iterable[Taster | str]) -> Iterator[Caution]:
    for person in people:
        if isinstance(person, str):
            text = f"{person}: allergens and what else to avoid are not known"
            yield Caution(
                text=text,
                kind="person",
                severity="warn",
                source="nothing is stated about this taster",
                jurisdiction="any",
                cannot_know="what was never written down: ask before pouring",
            )
            continue
        if words := not_understood(person, shelf):
            yield Caution(
                text=f"{person.taster} avoids {', '.join(words)}: not a word that tool or shelf knows, so not kept out",
                kind="person",
                severity="warn",
                source=f"what {person.taster} avoids",
                jurisdiction="any",
                cannot_know="what was meant: correct the word, or ask before pouring",
            )
        for reason in forbidden(recipe, shelf, person):
            yield Caution(
                text=f"not for {person.taster}: {reason}",
                kind="person",
                severity="stop",
                source=f"what {person.taster} avoids",
                jurisdiction="any",
                cannot_know="traces, and what a label leaves out",
            )


def _allergens(recipe: Recipe, shelf: Shelf, found: Serving, jurisdiction: str) -> Iterator[Caution]:
    law = "Regulation (EU) 1169/2011, Annex II" if jurisdiction == "EU" else "FALCPA and FASTER Act"
    cannot = f"traces from shared kitchens and lines, changed recipes of a supplier; {PROFESSIONAL}"
    ids = [recipe.base_id, *recipe.flavouring_ids]
    for word in sorted(found.allergens):
        who = [i for i in ids if word in (_declared(i, shelf))] or ids[:1]
        listed = (
            "" if must_declare([word], jurisdiction) else f" (not on the {jurisdiction} list, declared all the same)"
        )
        yield Caution(
            text=f"contains {word} ({', '.join(who)}){listed}",
            kind="allergen",
            severity="warn",
            source=law,
            jurisdiction=jurisdiction,
            cannot_know=cannot,
        )
    if found.allergens_unknown:
        yield Caution(
            text=f"allergens are unknown: {', '.join(dict.fromkeys(found.allergens_unknown))}",
            kind="allergen",
            severity="warn",
            source=law,
            jurisdiction=jurisdiction,
            cannot_know="what the label says: read it, and write none if it declares none",
        )


def _declared(item_id: str, shelf: Shelf) -> frozenset[str]:
    item = shelf.bases.get(item_id) or shelf.flavourings[item_id]
    return allergens_of(item, shelf)[0]


def _over_dose(recipe: Recipe, flavourings: Iterable[Flavouring], shelf: Shelf) -> Iterator[Caution]:
    doses = {f: dose for f, dose in recipe.doses.items() if dose is not None}
    shares: dict[str, dict[str, float]] = {}
    for flavouring in flavourings:
        name, most = flavouring.flavouring_id, maximum_of(flavouring, shelf)
        if name not in doses or most is None:
            continue
        share = doses[name] / most if most > 0 else math.inf if doses[name] > 0 else 0.0
        shares.setdefault(first_version(name, shelf), {})[name] = share
        if share > _FULL:
            yield _above(f"{name}: {doses[name]:.3g} g/kg is above the supplier's maximum of {most:g} g/kg")
    for together in shares.values():
        if max(together.values()) <= _FULL < sum(together.values()):
            yield _above(
                f"{' and '.join(together)} are one flavouring: together {100 * sum(together.values()):.0f} % of the "
                "supplier's maximum"
            )


def _above(text: str) -> Caution:
    return Caution(
        text=text,
        kind="dose",
        severity="stop",
        source="the supplier's maximum use level",
        jurisdiction="any",
        cannot_know=f"the reason for the maximum; ask the supplier, {PROFESSIONAL}",
    )


def _food_use(flavourings: Iterable[Flavouring]) -> Iterator[Caution]:
    for flavouring in flavourings:
        if not flavouring.suggestable:
            yield Caution(
                text=f"{flavouring.flavouring_id} is not known to be meant for food: it may be perfume grade",
                kind="food use",
                severity="stop",
                source="common practice (no source)",
                jurisdiction="any",
                cannot_know="the grade: ask the supplier in writing",
            )


def _not_stated(found: Serving) -> Iterator[Caution]:
    missing = [f"{word} ({', '.join(ids)})" for word in ("caffeine", "sodium") if (ids := found.lacking(word))]
    if missing:
        yield Caution(
            text=f"not stated, so not counted: {', '.join(missing)}",
            kind="unknown",
            severity="note",
            source="the tables leave it empty",
            jurisdiction="any",
            cannot_know="whether there is any: read the label, and write 0 if there is none",
        )


def _concentrates(flavourings: Iterable[Flavouring]) -> Iterator[Caution]:
    strong = [f for f in flavourings if any(w in (f.form or "").casefold() for w in _STRONG) and is_liquid(f)]
    if strong:
        yield Caution(
            text=f"undiluted {', '.join(f.flavouring_id for f in strong)}: keep off skin and eyes, away from flames, "
            "children and pets, and never taste it neat",
            kind="concentrate",
            severity="note",
            source="common practice (no source)",
            jurisdiction="any",
            cannot_know="the safety data sheet: ask the supplier for it",
        )


def _medical(recipe: Recipe, shelf: Shelf) -> Iterator[Caution]:
    base = shelf.base(recipe.base_id)
    if clash(base.tags or (), _MEDICAL) or any(w in base.name.casefold() for w in _MEDICAL):
        yield Caution(
            text="used on medical advice, for children or in pregnancy: ask a professional before changing it",
            kind="person",
            severity="warn",
            source="common practice (no source)",
            jurisdiction="any",
            cannot_know="the diet that was prescribed, and what it goes with",
        )


def _time(recipe: Recipe, shelf: Shelf, jurisdiction: str) -> Caution | None:
    base = shelf.base(recipe.base_id)
    if frozenset(base.tags or ()) & {"shelf-stable", "not perishable"}:
        return None
    service = "; in food service 4 h, then discard (FDA Food Code 3-501.19)" if jurisdiction == "US" else ""
    return Caution(
        text=f"out of the fridge at most 2 h, 1 h above 32 °C{service}",
        kind="time",
        severity="note",
        source="USDA, home handling of perishable food",
        jurisdiction="US" if jurisdiction == "US" else "any",
        cannot_know=f"how warm it was and for how long; {PROFESSIONAL}",
    )


def _sharing(people: Sequence[Taster | str]) -> Iterator[Caution]:
    if len(people) > 1:
        yield Caution(
            text="pour separate portions: never a shared cup or spoon",
            kind="sharing",
            severity="note",
            source="common practice (no source)",
            jurisdiction="any",
            cannot_know="who has a cold",
        )
