"""What must never reach one taster's cup. Unknown counts as present, and so does what a name alone suggests."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache

from pairing.errors import UnknownIdError, nearest, nearest_item
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf, lineage
from pairing.model.taster import Taster
from pairing.nutrition.allergens import canonical, check_known, clash, meanings, not_read
from pairing.nutrition.composition import allergens_of, compose
from pairing.nutrition.content import substances_of
from pairing.nutrition.energy import named_ethanol_g_per_g
from pairing.nutrition.factors import carrier_named
from pairing.nutrition.names import EVERYBODY, allergens_suggested, hints, is_answered, meant_by, never_for, table
from pairing.nutrition.parts import made_of
from pairing.nutrition.substances import INTENSE_SWEETENERS, is_understood, substances_named
from pairing.nutrition.word_list import folded
from pairing.quantities.drops import carrier_drop
from pairing.safety.people import person_of, tastes_as_child

__all__ = [
    "Barred",
    "avoided",
    "check_allergens",
    "clashes",
    "forbidden",
    "keeps_out",
    "lost",
    "not_understood",
    "words_on",
]

_INTENSE = "intense sweeteners"
_NOT_FOR_CHILDREN = frozenset({"ethanol", "caffeine", _INTENSE})
"""What no cup for a child as a taster has in it (common practice, no source)."""
_LITTLE_PROTEIN_G_PER_100G = 0.5
"""What low-protein diets count as next to nothing (common practice, no source)."""
_SAID_OF = {
    "infant": "what is not for infants",
    "child": "what is not for children",
    "under 18": "what is not for minors",
    "asking": "what pregnancy or medicines do not bear",
}
_SUGARS = frozenset({"fructose", "sugar"})
"""No column tells one sugar from another, so that any counts where no tag says ``fructose-free`` or ``sugar-free``."""


@dataclass(frozen=True, order=True)
class Barred:
    """Why an item must not reach a taster.

    Attributes
    ----------
    item_id : str
    word : str
        What the taster avoids, as the taster wrote it.
    why : str
        What about the item: ``contains whey``.
    source : str
        Where that is known from; empty: what the taster avoids is enough.
    """

    item_id: str
    word: str
    why: str
    source: str = ""

    def __str__(self) -> str:
        return f"{self.item_id} {self.why}"


def forbidden(recipe_or_ids: Recipe | Iterable[str], shelf: Shelf, taster: Taster | str) -> tuple[Barred, ...]:
    """Return why a recipe, or any of some bases and flavourings, must not reach a taster; empty when nothing is known.

    Parameters
    ----------
    recipe_or_ids : Recipe or iterable of str
        Ids of bases and flavourings.
    shelf : Shelf
    taster : Taster or str
        ``avoid_allergens`` clash by meaning (dairy, whey), and with every item without a declaration or whose name
        suggests one that it does not declare; ``avoid`` takes ids (and their versions and dilutions), tags, words of
        names, ``ethanol``, ``caffeine``, allergens, sweeteners and carriers. Parts of a base, and the flavouring and
        the diluent of a pre-dilution, count as the whole does. A word that nobody can place bars everything.

    Raises
    ------
    UnknownIdError
        When the shelf lacks the taster or an item.

    Examples
    --------
    >>> tea = Flavouring(flavouring_id="tea", name="Tea", caffeine_mg_per_g=20)
    >>> [str(b) for b in forbidden(["tea"], Shelf.of([], [tea]), Taster(taster="ana", avoid="caffeine"))]
    ['tea contains caffeine']
    """
    person = _person(taster, shelf)
    ids = _ids(recipe_or_ids)
    return (*lost(ids, not_understood(person, shelf)), *clashes(ids, shelf, person))


def avoided(person: Taster) -> frozenset[str]:
    """Return all that must not reach a taster: by what is written down, or by age."""
    return frozenset(person.avoid or ()).union(person.avoid_allergens or (), _kept_from_children(person))


@cache
def _groups() -> tuple[str, ...]:
    """Return for whom some names are never, beside everybody."""
    return tuple(dict.fromkeys(who for hint in table().values() for who in hint.never_for if who != EVERYBODY))


def _groups_of(taster: Taster) -> tuple[str, ...]:
    person = person_of(taster)
    return tuple(who for who in _groups() if person.is_one_of(who))


def keeps_out(person: Taster) -> frozenset[str]:
    """Return all that keeps something from a taster: what is avoided, and whom some names are never for."""
    return avoided(person).union(map(_SAID_OF.__getitem__, _groups_of(person)))


def lost(ids: Iterable[str], words: Iterable[str]) -> list[Barred]:
    """Return that items may be what nobody can place."""
    return [Barred(i, word, f"may be {word!r}, which nobody here can place") for word in words for i in ids]


def clashes(recipe_or_ids: Recipe | Iterable[str], shelf: Shelf, person: Taster) -> tuple[Barred, ...]:
    """Return the same without the words that nobody can place."""
    ids = _ids(recipe_or_ids)
    return tuple(why for i in ids for item in _items(i, shelf) for why in _reasons(i, item, shelf, person))


def _ids(recipe_or_ids: Recipe | Iterable[str]) -> tuple[str, ...]:
    if isinstance(recipe_or_ids, Recipe):
        return recipe_or_ids.base_id, *recipe_or_ids.flavouring_ids
    return (recipe_or_ids,) if isinstance(recipe_or_ids, str) else tuple(recipe_or_ids)


def check_allergens(words: Iterable[str], shelf: Shelf) -> None:
    """Refuse allergens that could keep nothing out: neither a word that is understood, nor declared on the shelf.

    Raises
    ------
    UnknownIdError
        With the nearest words.
    """
    remedy = "otherwise name the bases to use, and the flavourings to leave out in never"
    check_known(words, _declared(shelf), "the allergen", remedy)


def not_understood(person: Taster, shelf: Shelf) -> tuple[str, ...]:
    """Return what a taster avoids that could keep nothing out: no such allergen, substance, carrier, id, tag or name.

    Examples
    --------
    >>> not_understood(Taster(taster="ana", avoid_allergens="milk;mlik"), Shelf.of([], []))
    ('mlik',)
    """
    allergens = {w for w in set(not_read(person.avoid_allergens or ())) - _declared(shelf) if not _is_substance(w)}
    others = {w for w in person.avoid or () if not _is_substance(w) and not_read((w,))}
    if others:
        known = words_on(shelf)
        others = {w for w in others if folded(w) not in known and not meant_by(w) and not _in_a_name(w, shelf)}
    return tuple(sorted(allergens | others))


def _is_substance(word: str) -> bool:
    return carrier_named(word) is not None or bool(substances_named(word))


def words_on(shelf: Shelf) -> frozenset[str]:
    """Return the ids, tags, families, sweeteners, carriers and declared words of a shelf, without accents."""
    items: list[Base | Flavouring] = [*shelf.bases.values(), *shelf.flavourings.values()]
    stated = ("tags", "sweeteners", "carrier", "allergens")
    held = {w for item in items for name in stated for w in getattr(item, name, None) or ()}
    held |= {family for f in shelf.flavourings.values() if (family := f.family)}
    return frozenset(map(folded, (*held, *shelf.bases, *shelf.flavourings)))


def _declared(shelf: Shelf) -> frozenset[str]:
    items: list[Base | Flavouring] = [*shelf.bases.values(), *shelf.flavourings.values()]
    return frozenset(word for item in items for word in item.allergens or ())


def _in_a_name(word: str, shelf: Shelf) -> bool:
    items: list[Base | Flavouring] = [*shelf.bases.values(), *shelf.flavourings.values()]
    return any(_names(item, word) for item in items)


def _names(item: Base | Flavouring, word: str) -> bool:
    """Tell whether an item's name holds a word, such as ``mint``."""
    return re.search(rf"\b{re.escape(folded(word))}\b", folded(item.name)) is not None


def _person(taster: Taster | str, shelf: Shelf) -> Taster:
    if isinstance(taster, Taster):
        return taster
    if taster not in shelf.tasters:
        raise UnknownIdError(f"no taster {taster!r}", nearest(taster, shelf.tasters))
    return shelf.tasters[taster]


def _items(item_id: str, shelf: Shelf) -> list[Base | Flavouring]:
    found: list[Base | Flavouring] = []
    if item_id in shelf.bases:
        found.append(compose(shelf.bases[item_id], shelf))
    if item_id in shelf.flavourings:
        found.append(shelf.flavourings[item_id])
    if not found:
        known = [*shelf.bases, *shelf.flavourings]
        raise UnknownIdError(f"no base or flavouring {item_id!r}", nearest_item(item_id, known))
    return found


def _reasons(item_id: str, item: Base | Flavouring, shelf: Shelf, person: Taster) -> Iterator[Barred]:
    measured = (word for word in person.avoid_allergens or () if _is_substance(word) or meanings(word) & _SUGARS)
    avoid = frozenset(person.avoid or ()).union(measured) | _kept_from_children(person)
    allergens = frozenset(person.avoid_allergens or ()) | {word for word in avoid if canonical(word)}
    yield from _never(item_id, item, shelf, person)
    yield from _by_allergens(item_id, item, shelf, allergens, avoid)
    inside = made_of(item, shelf)
    own = lineage(_name(item), shelf.bases if isinstance(item, Base) else shelf.flavourings)
    versions = [name.casefold() for name in own]
    for word in sorted(avoid):
        if word in versions:
            yield Barred(item_id, word, "is avoided" if word == versions[0] else f"is a version of {word}")
        elif part := next((_name(p) for p in inside if word == _name(p).casefold()), None):
            yield Barred(item_id, word, f"is made with {part}")
        elif word in (item.tags or ()):
            yield Barred(item_id, word, f"is tagged {word}")
        elif part := next((_name(p) for p in inside if word in (p.tags or ())), None):
            yield Barred(item_id, word, f"is made with {part}, tagged {word}")
        elif found := _content(word, item, inside, shelf):
            yield Barred(item_id, word, found)
        elif not canonical(word) and any(_called(word, part) for part in (item, *inside)):
            yield Barred(item_id, word, f"is {word} by its name or family, or is made with it")


def _never(item_id: str, item: Base | Flavouring, shelf: Shelf, person: Taster) -> Iterator[Barred]:
    """Return what a name suggests that is not for an infant, a minor, or who may be pregnant or take medicines."""
    found = never_for(item, shelf)
    for who in _groups_of(person) if found else ():
        for hint in found.get(who, ()):
            yield Barred(item_id, _SAID_OF[who], f"suggests {hint.about}: {hint.limited}", hint.cited)


def _kept_from_children(person: Taster) -> frozenset[str]:
    return _NOT_FOR_CHILDREN if tastes_as_child(person) else frozenset()


def _called(word: str, item: Base | Flavouring) -> bool:
    """Tell whether an item's name says that it is something, in any language that is known here."""
    if folded(word) == folded(getattr(item, "family", None) or "") or _names(item, word):
        return True
    asked = frozenset(h.about for h in hints(item)) | meanings(item.name, name=True)
    return not asked.isdisjoint(meant_by(word) | meanings(word))


def _by_allergens(
    item_id: str, item: Base | Flavouring, shelf: Shelf, allergens: frozenset[str], avoid: frozenset[str]
) -> Iterator[Barred]:
    known, unknown = allergens_of(item, shelf)
    clashing = clash(known, allergens | (avoid & known))
    for word in sorted(clashing):
        meant = sorted(a for a in allergens | avoid if clash({word}, {a}))
        yield Barred(item_id, ", ".join(meant) or word, f"contains {word}")
    if not allergens:
        return
    if unknown:
        state = "unknown" if item.allergens is None else "not all known"
        yield Barred(item_id, ", ".join(sorted(allergens)), f"has allergens that are {state}")
    for part in (item, *made_of(item, shelf)):
        named = frozenset() if is_answered(part) else allergens_suggested(part) | meanings(part.name, name=True)
        meant = sorted(a for a in allergens if meanings(a) & named and not any(clash({k}, {a}) for k in known))
        if meant and not unknown:
            groups = named & frozenset().union(*map(meanings, meant))
            words = f"declares no {', '.join(sorted(groups))}, but its name suggests it: read the label"
            yield Barred(item_id, ", ".join(meant), words)


def _name(item: Base | Flavouring) -> str:
    return item.base_id if isinstance(item, Base) else item.flavouring_id


def _content(word: str, item: Base | Flavouring, inside: list[Base | Flavouring], shelf: Shelf) -> str | None:
    if sugars := meanings(word) & _SUGARS:
        return _sugar(sorted(sugars)[0], item)
    carrier, substances = carrier_named(word), INTENSE_SWEETENERS if word == _INTENSE else tuple(substances_named(word))
    if folded(word).startswith("phenylalanin") and isinstance(item, Base) and (found := _protein(item)):
        return found
    if carrier is not None and carrier.name == "ethanol":
        return _amount(_ethanol(item), "ethanol")
    if not substances and carrier is None:
        return None
    held = substances_of(item, shelf) if substances else {}
    if amounts := [held[s] for s in substances if s in held]:
        known = max((a for a in amounts if a is not None), default=0.0)
        return _amount(None if known == 0 and None in amounts else known, word)
    every = [item, *inside]
    named = [n for x in every for n in (*(x.sweeteners or ()), *(getattr(x, "carrier", None) or ()))]
    if carrier is not None and any(carrier_named(n) is carrier for n in named):
        return f"contains {word}"
    stated = item.sweeteners is not None and all(x.carrier is not None for x in every if isinstance(x, Flavouring))
    if odd := next((n for n in named if not is_understood(n) and carrier_drop(n) is None), None):
        return f"may contain {word}: nobody here knows what {odd!r} is"
    return None if stated else f"may contain {word}: its sweeteners or carrier are not stated"


def _protein(base: Base) -> str | None:
    """Tell why phenylalanine may be in a base: all protein holds some, and aspartame is not its only source."""
    grams = base.protein_g_per_100g
    if grams is None:
        return "may contain phenylalanine: its protein is not stated"
    return "contains protein, which holds phenylalanine" if grams > _LITTLE_PROTEIN_G_PER_100G else None


def _sugar(avoided: str, item: Base | Flavouring) -> str | None:
    """Tell why a sugar may be in an item; who cannot take fructose cannot take sorbitol, so that polyols count, too."""
    if f"{avoided}-free" in (item.tags or ()):
        return None
    for name in ("sugars", "polyols") if avoided == "fructose" else ("sugars",):
        grams = getattr(item, f"{name}_g_per_100g" if isinstance(item, Base) else f"{name}_g_per_g")
        if grams is None:
            return f"may contain {avoided}: its {name} are not stated"
        if grams > 0:
            return f"contains {name}, and no tag says {avoided}-free"
    return None


def _ethanol(item: Base | Flavouring) -> float | None:
    if isinstance(item, Base):
        return item.ethanol_g_per_100g
    if any(g is None or g > 0 for g in named_ethanol_g_per_g(item)):
        return 1.0
    return item.ethanol_g_per_g


def _amount(value: float | None, word: str) -> str | None:
    if value is None:
        return f"may contain {word}: the amount is unknown"
    return f"contains {word}" if value > 0 else None
