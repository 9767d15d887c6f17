"""Statements about what is in a drink: ethanol, allergens, what nobody measured, what labels must say."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from pairing.model.base import Base
from pairing.model.caution import Caution
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.nutrition.allergens import ALLERGEN_SOURCES, must_declare
from pairing.nutrition.composition import allergens_of, compose, composed_or_stated
from pairing.nutrition.content import substances_of, unmeasured_of
from pairing.nutrition.factors import carrier_named
from pairing.nutrition.names import stated_mg_per_g, suspected
from pairing.nutrition.parts import made_of
from pairing.nutrition.serving import Serving
from pairing.nutrition.substances import is_understood
from pairing.safety.limits import limits_in
from pairing.safety.people import Person

__all__ = ["Content", "allergens", "ethanol", "not_stated", "of_labels", "parts_inside", "unmeasured"]

_ETHANOL = {
    "EU": (
        "EU: strength declared above 1.2 %; UK guidance: alcohol-free up to 0.05 %, low-alcohol up to 1.2 %",
        "Regulation (EU) No 1169/2011, Art. 9(1)(k) (from memory); UK Department of Health guidance, 2018",
    ),
    "US": (
        "US: below 0.5 % may be called non-alcoholic, alcohol-free means none",
        "FDA CPG 510.400, 2005",
    ),
}
_ASK = "who abstains, is pregnant, in recovery, takes medicines, is under age, drives or works with machines: ask"


@dataclass(frozen=True)
class Content:
    """A recipe with all that is in it: each item as it is composed, and its parts."""

    shelf: Shelf
    items: dict[str, Base | Flavouring]
    inside: dict[str, list[Base | Flavouring]]

    @classmethod
    def of(cls, recipe: Recipe, shelf: Shelf) -> Content:
        """Look everything up once."""
        items: dict[str, Base | Flavouring] = {recipe.base_id: compose(shelf.base(recipe.base_id), shelf)}
        items |= {i: shelf.flavouring(i) for i in recipe.flavouring_ids}
        return cls(shelf, items, {i: parts_inside(x, shelf) for i, x in items.items()})

    def holding(self, substance: str) -> tuple[str, ...]:
        """Return the ids of what holds a substance, measured or not."""
        found = [i for i, x in self.items.items() if stated_mg_per_g(x, substance, self.shelf)]
        found += [i for i, x in self.items.items() if substance in self.open(x)]
        if not found:
            found = [i for i, x in self.items.items() if isinstance(x, Flavouring)] or list(self.items)
        return tuple(dict.fromkeys(found))

    def open(self, item: Base | Flavouring) -> dict[str, float]:
        """Return what an item names without an amount, or is called, mg/g at most."""
        return suspected(item, self.shelf) | unmeasured_of(item, self.shelf)


def parts_inside(item: Base | Flavouring, shelf: Shelf) -> list[Base | Flavouring]:
    """Return an item, a base with what its parts tell, and every part of it."""
    return [composed_or_stated(item, shelf) if isinstance(item, Base) else item, *made_of(item, shelf)]


def ethanol(found: Serving, jurisdiction: str) -> Iterator[Caution]:
    """Return the ethanol of a serving in g and % v/v: always said unless it is known to be none."""
    if found.ethanol_g == 0:
        return
    words, source = _ETHANOL[jurisdiction]
    made = partial(Caution, kind="ethanol", source=source, jurisdiction=jurisdiction, cannot_know=_ASK)
    if found.ethanol_g is None:
        least = found.at_least.get("ethanol_g", 0.0)
        known = "at least {grams} g ethanol; " if least > 0 else ""
        yield made(
            severity="warn",
            words=f"{known}ethanol is unknown: {{items}}",
            items=tuple(found.lacking("ethanol")),
            figures={"grams": least} if least > 0 else {},
        )
        return
    percent = found.ethanol_pct_vv or 0.0
    yield made(
        severity="warn" if percent >= 0.5 else "note",
        words=f"{{grams}} g ethanol per serving, {{percent}} % by volume ({words})",
        figures={"grams": found.ethanol_g, "percent": percent},
    )


def allergens(content: Content, found: Serving, jurisdiction: str) -> Iterator[Caution]:
    """Return what is declared and by what, and what declares nothing."""
    cannot = "traces from shared kitchens and lines, changed recipes of a supplier"
    made = partial(
        Caution, kind="allergen", severity="warn", source=ALLERGEN_SOURCES[jurisdiction], jurisdiction=jurisdiction
    )
    for word in sorted(found.allergens):
        who = [i for i, x in content.items.items() if word in allergens_of(x, content.shelf)[0]]
        on_list = must_declare([word], jurisdiction)
        listed = "" if on_list else f" (not on the {jurisdiction} list, declared all the same)"
        words = f"contains {word} ({{items}}){listed}"
        yield made(words=words, items=tuple(who or content.items), cannot_know=cannot)
    if found.allergens_unknown:
        yield made(
            words="allergens are unknown: {items}",
            items=tuple(dict.fromkeys(found.allergens_unknown)),
            cannot_know="what the label says: read it, and write none if it declares none",
        )


def not_stated(content: Content, found: Serving) -> Iterator[Caution]:
    """Say which items state no caffeine or no sodium, and are not counted by their name either."""
    for word in ("caffeine", "sodium"):
        if lacking := tuple(i for i in found.lacking(word) if word not in suspected(content.items[i], content.shelf)):
            yield Caution(
                kind="unknown",
                severity="note",
                words=f"{word} is not stated, so not counted: {{items}}",
                items=lacking,
                source="the tables leave it empty",
                cannot_know="whether there is any: read the label, and write 0 if there is none",
            )


def unmeasured(content: Content, people: Sequence[Person], jurisdiction: str) -> Iterator[Caution]:
    """Name what is in an item in an amount that nobody states, where a limit asks for it."""
    found: dict[str, list[str]] = {}
    for item_id, item in content.items.items():
        for substance in unmeasured_of(item, content.shelf):
            found.setdefault(substance, []).append(item_id)
    lightest = min(people, key=lambda p: p.body_mass_kg)
    for limit in limits_in(jurisdiction):
        if limit.substance not in found or limit.per != "day" or limit.basis != "lifetime":
            continue
        note = f"; {limit.note}" if limit.note else ""
        yield Caution(
            kind="intake",
            severity="warn" if limit.from_share < 1 else "note",
            words=f"{limit.substance} in an unknown amount ({{items}}); the limit is {{most}} mg a day for {{people}}"
            f"{note}",
            items=tuple(found[limit.substance]),
            people=(str(lightest),),
            figures={"most": limit.most_mg(lightest.body_mass_kg)},
            source=limit.cited,
            jurisdiction=limit.jurisdiction,
            cannot_know="the amount: ask the supplier",
        )


def of_labels(content: Content, jurisdiction: str) -> Iterator[Caution]:
    """Return statements for whom an ingredient can hurt: phenylketonuria, unknown sweeteners, quinine, dogs."""
    law = "Regulation (EU) No 1169/2011, Annex III" if jurisdiction == "EU" else "21 CFR 172.804"
    aspartame = [i for i, x in content.items.items() if "aspartame" in substances_of(x, content.shelf)]
    if aspartame:
        words = "aspartame ({items}): a source of phenylalanine, not for people with phenylketonuria"
        yield _label(words, aspartame, law, jurisdiction)
    silent = [i for i, x in content.items.items() if x.sweeteners is None and any(map(_is_silent, content.inside[i]))]
    silent += [i for i, x in content.items.items() if not all(map(is_understood, x.sweeteners or ()))]
    if silent:
        words = "sweeteners are unknown ({items}): aspartame, dangerous in phenylketonuria, is not ruled out"
        yield _label(words, silent, law, jurisdiction)
    quinine = [i for i, x in content.items.items() if "quinine" in substances_of(x, content.shelf)]
    if quinine:
        source = "21 CFR 172.575" if jurisdiction == "US" else "Regulation (EU) No 1169/2011, Annex VII"
        yield _label("contains quinine ({items}): to be named on the label", quinine, source, jurisdiction, "note")
    xylitol = [
        i for i, found in content.inside.items() if any(_is_xylitol(n) for x in found for n in x.sweeteners or ())
    ]
    if xylitol:
        yield _label("xylitol ({items}): poisonous to dogs", xylitol, "common practice (no source)", "any")


def _is_silent(item: Base | Flavouring) -> bool:
    return item.sweeteners is None and getattr(item, "sweetened", None) in ("yes", "unknown")


def _is_xylitol(name: str) -> bool:
    found = carrier_named(name)
    return "xylitol" in name.casefold() or (found is not None and found.name == "xylitol")


def _label(words: str, items: Sequence[str], source: str, jurisdiction: str, severity: str = "warn") -> Caution:
    return Caution(
        kind="label",
        severity=severity,
        words=words,
        items=tuple(items),
        source=source,
        jurisdiction=jurisdiction,
        cannot_know="whom it is for: ask before pouring",
    )
