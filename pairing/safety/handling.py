"""Cautions about the person, and about handling: whom it is for, concentrates, time, raw food, sharing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from pairing.model.base import Base
from pairing.model.caution import Caution
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.names import hints
from pairing.quantities.drops import is_liquid
from pairing.safety.avoidance import clashes, not_understood
from pairing.safety.people import Person
from pairing.safety.statements import Content
from pairing.safety.unplaced import NO_COLUMN

__all__ = ["concentrates", "feeds", "for_people", "sharing", "time"]

_STRONG = ("drop", "extract", "oil", "essence", "concentrate", "tincture", "dilution")
_FOR_AN_ADULT_KG = 40.0
_PRACTICE = "common practice (no source)"
_ADVICE = f"the advice given; {NO_COLUMN}"


def for_people(recipe: Recipe, shelf: Shelf, people: Iterable[Person]) -> Iterator[Caution]:
    """Return what each drinker must not have, and who is to ask somebody else."""
    for person in people:
        if not person.name:
            continue
        if person.taster is None:
            yield _of_person(
                person,
                "warn",
                "{people}: allergens, body mass and what else to avoid are not known",
                "nothing is stated about this taster",
                "what was never written down: ask before pouring",
            )
            continue
        for word in not_understood(person.taster, shelf):
            yield Caution(
                kind="person",
                severity="stop",
                words=f"not for {{people}}, who avoids {word!r}: nobody here can place that word",
                people=(person.name,),
                source=f"what {person.name} avoids",
                cannot_know="what was meant: correct the word in the tasters table",
            )
        for barred in clashes(recipe, shelf, person.taster):
            yield Caution(
                kind="person",
                severity="stop",
                words=f"not for {{people}}: {{items}} {barred.why}",
                items=(barred.item_id,),
                people=(person.name,),
                source=barred.source or f"{person.name} avoids {barred.word}",
                cannot_know="traces, and what a label leaves out",
            )
        if person.asks_professional:
            why = "pregnancy, a medical diet or medicines"
            words = f"{{people}} asks a professional first ({why}): what is said here does not replace that advice"
            yield _of_person(person, "warn", words, "what is stated about this taster", _ADVICE)
        if person.infant:
            words = "{people} may be an infant: nothing is added to a feed without professional advice"
            yield _of_person(person, "warn", words, _PRACTICE, "age and health", name=str(person))
        if person.age_years is None and person.stated and person.body_mass_kg < _FOR_AN_ADULT_KG:
            words = "{people} may be a child: limits for adults do not hold, ask a professional"
            yield _of_person(person, "warn", words, _PRACTICE, "age and health", name=str(person))


def _of_person(person: Person, severity: str, words: str, source: str, cannot: str, name: str = "") -> Caution:
    return Caution(
        kind="person",
        severity=severity,
        words=words,
        people=(name or person.name,),
        source=source,
        cannot_know=cannot,
    )


def concentrates(flavourings: Iterable[Flavouring]) -> Iterator[Caution]:
    """Say how undiluted flavourings are handled."""
    strong = [f for f in flavourings if any(w in (f.form or "").casefold() for w in _STRONG) and is_liquid(f)]
    if strong:
        yield Caution(
            kind="concentrate",
            severity="note",
            words="undiluted {items}: keep off skin and eyes, away from flames, children and pets, and never taste it "
            "neat",
            items=tuple(f.flavouring_id for f in strong),
            source=_PRACTICE,
            cannot_know="the safety data sheet: ask the supplier for it",
            general=True,
        )


def feeds(content: Content, people: Sequence[Person]) -> Iterator[Caution]:
    """Return what is said of infant and medical feeds, of raw milk and egg, and of honey for an infant."""
    base_id = next(iter(content.items))
    kinds = {i: {h.kind for x in found for h in hints(x)} for i, found in content.inside.items()}
    infant = "infant" in kinds[base_id] or any(p.infant for p in people)
    if {"infant", "feed"} & kinds[base_id]:
        yield Caution(
            kind="person",
            severity="warn",
            words="{items} is used on medical advice, for children or in pregnancy: ask a professional before "
            "changing it",
            items=(base_id,),
            source=_PRACTICE,
            cannot_know="the diet that was prescribed, and what it goes with",
        )
    raw = [i for i, found in kinds.items() if "pathogen" in found]
    if raw:
        yield Caution(
            kind="person",
            severity="warn",
            words="{items} is raw milk or egg by its name: germs, not for children, in pregnancy, for old or ill "
            "people",
            items=tuple(raw),
            source=_PRACTICE,
            cannot_know="whether it was heated, and who drinks it",
        )
    honey = [i for i, found in kinds.items() if "honey" in found]
    if infant and honey:
        yield Caution(
            kind="person",
            severity="stop",
            words="{items} is honey by its name: never for an infant under 12 months (infant botulism)",
            items=tuple(honey),
            source="WHO and CDC: no honey before 12 months (from memory)",
            cannot_know="how old the drinker is, where no age is stated",
        )


def time(base: Base, content: Content, jurisdiction: str) -> Iterator[Caution]:
    """Say how long a drink may stand; what keeps unopened does not keep once it is open."""
    tags = frozenset(base.tags or ())
    if "not perishable" in tags:
        return
    kinds = {h.kind for found in content.inside.values() for x in found for h in hints(x)}
    if {"infant", "pathogen"} & kinds:
        words = "raw or for an infant: make it fresh, drink it at once and throw the rest away"
    else:
        words = "out of the fridge at most 2 h, 1 h above 32 °C"
        words = f"once opened {words}" if "shelf-stable" in tags else words
        words += "; in food service 4 h, then discard (FDA Food Code 3-501.19)" if jurisdiction == "US" else ""
    yield Caution(
        kind="time",
        severity="note",
        words=words,
        source="USDA, home handling of perishable food",
        jurisdiction="US" if jurisdiction == "US" else "any",
        cannot_know="how warm it was and for how long",
        general=True,
    )


_PAST = {
    "use_by": (
        "stop",
        "{items} was to be used by {day}: past that day food counts as unsafe, throw it away",
        "Regulation (EU) No 1169/2011, Article 24",
    ),
    "made_at": (
        "warn",
        "{items} was mixed on {day} and says no use-by: it keeps 3 to 4 days in the fridge, throw it away after that",
        "USDA, leftovers (from memory)",
    ),
    "best_before": (
        "note",
        "{items} was best before {day}: look, smell and taste a drop first",
        "Regulation (EU) No 1169/2011, Article 2(2)(r)",
    ),
}


def past_days(recipe: Recipe, shelf: Shelf) -> Iterator[Caution]:
    """Say which bottle or bag that would be used is past its day."""
    for item in (recipe.base_id, *recipe.flavouring_ids):
        if item in shelf.past:
            which, day = shelf.past[item]
            severity, words, source = _PAST[which]
            yield Caution(
                kind="time",
                severity=severity,
                words=words.replace("{day}", day),
                items=(item,),
                source=source,
                cannot_know="how it was kept, and whether the days of its lot are right",
            )


def sharing(people: Sequence[Person]) -> Iterator[Caution]:
    """Ask for portions of their own where there are several."""
    if len(people) > 1:
        yield Caution(
            kind="sharing",
            severity="note",
            words="pour separate portions: never a shared cup or spoon",
            source=_PRACTICE,
            cannot_know="who has a cold",
            general=True,
        )
