"""What must never reach one taster's cup. Unknown counts as present."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pairing.errors import UnknownIdError, nearest, or_else
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf, lineage
from pairing.model.taster import Taster
from pairing.nutrition.allergens import ALLERGEN_WORDS, canonical, clash
from pairing.nutrition.composition import allergens_of, compose
from pairing.nutrition.content import substances_of
from pairing.nutrition.energy import named_ethanol_g_per_g
from pairing.nutrition.factors import carrier_named
from pairing.nutrition.intake import substances_named
from pairing.nutrition.parts import made_of

__all__ = ["check_allergens", "forbidden", "not_understood"]


def forbidden(recipe_or_ids: Recipe | Iterable[str], shelf: Shelf, taster: Taster | str) -> tuple[str, ...]:
    """Return why a recipe, or any of some bases and flavourings, must not reach a taster; empty when nothing is known.

    Parameters
    ----------
    recipe_or_ids : Recipe or iterable of str
        Ids of bases and flavourings.
    shelf : Shelf
    taster : Taster or str
        ``avoid_allergens`` clash by meaning (dairy, whey), and with every item without a declaration; ``avoid`` takes
        ids (and their versions and dilutions), tags, ``ethanol``, ``caffeine``, allergens, sweeteners and carriers.
        Parts of a base, and the flavouring and the diluent of a pre-dilution, count as the whole does.

    Raises
    ------
    UnknownIdError
        When the shelf lacks the taster or an item.

    Examples
    --------
    >>> tea = Flavouring(flavouring_id="tea", name="Tea", caffeine_mg_per_g=20)
    >>> forbidden(["tea"], Shelf.of([], [tea]), Taster(taster="ana", avoid="caffeine"))
    ('tea contains caffeine',)
    """
    person = _person(taster, shelf)
    if isinstance(recipe_or_ids, Recipe):
        ids: Iterable[str] = (recipe_or_ids.base_id, *recipe_or_ids.flavouring_ids)
    else:
        ids = [recipe_or_ids] if isinstance(recipe_or_ids, str) else recipe_or_ids
    return tuple(reason for i in ids for item in _items(i, shelf) for reason in _reasons(i, item, shelf, person))


def check_allergens(words: Iterable[str], shelf: Shelf) -> None:
    """Refuse allergens that could keep nothing out: neither a word that is understood, nor declared on the shelf.

    Raises
    ------
    UnknownIdError
        With the nearest words.
    """
    for word in sorted(_undeclared(words, shelf)):
        hint = nearest(word, ALLERGEN_WORDS | _declared(shelf))
        raise UnknownIdError(
            f"{word!r} is no allergen known to this tool, and nothing on the shelf declares it",
            or_else(hint, "otherwise name the bases to use, and the flavourings to leave out in never"),
        )


def not_understood(person: Taster, shelf: Shelf) -> tuple[str, ...]:
    """Return what a taster avoids that could keep nothing out: no such allergen, substance, carrier, id or tag.

    Examples
    --------
    >>> not_understood(Taster(taster="ana", avoid_allergens="milk;mlik"), Shelf.of([], []))
    ('mlik',)
    """
    items: list[Base | Flavouring] = [*shelf.bases.values(), *shelf.flavourings.values()]
    stated = ("tags", "sweeteners", "carrier")
    held = {w.casefold() for item in items for name in stated for w in getattr(item, name, None) or ()}
    held |= {i.casefold() for i in (*shelf.bases, *shelf.flavourings)} | _declared(shelf)
    others = {w for w in person.avoid or () if not (w in held or carrier_named(w) or substances_named(w))}
    return tuple(sorted(_undeclared(person.avoid_allergens or (), shelf) | {w for w in others if not canonical(w)}))


def _declared(shelf: Shelf) -> frozenset[str]:
    items: list[Base | Flavouring] = [*shelf.bases.values(), *shelf.flavourings.values()]
    return frozenset(word for item in items for word in item.allergens or ())


def _undeclared(words: Iterable[str], shelf: Shelf) -> set[str]:
    return {w for w in words if not canonical(w)} - _declared(shelf)


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
        raise UnknownIdError(f"no base or flavouring {item_id!r}", nearest(item_id, [*shelf.bases, *shelf.flavourings]))
    return found


def _reasons(item_id: str, item: Base | Flavouring, shelf: Shelf, person: Taster) -> Iterator[str]:
    avoid = frozenset(person.avoid or ())
    allergens = frozenset(person.avoid_allergens or ()) | {word for word in avoid if canonical(word)}
    known, unknown = allergens_of(item, shelf)
    for word in sorted(clash(known, allergens | (avoid & known))):
        yield f"{item_id} contains {word}"
    if allergens and unknown:
        yield f"allergens of {item_id} are {'unknown' if item.allergens is None else 'not all known'}"
    inside = made_of(item, shelf)
    own = lineage(_name(item), shelf.bases if isinstance(item, Base) else shelf.flavourings)
    versions = [name.casefold() for name in own]
    for word in sorted(avoid):
        if word in versions:
            yield f"{item_id} is avoided" if word == versions[0] else f"{item_id} is a version of {word}"
        elif part := next((_name(p) for p in inside if word == _name(p).casefold()), None):
            yield f"{item_id} is made with {part}"
        elif word in (item.tags or ()):
            yield f"{item_id} is tagged {word}"
        elif part := next((_name(p) for p in inside if word in (p.tags or ())), None):
            yield f"{item_id} is made with {part}, tagged {word}"
        elif found := _content(word, item, inside, shelf):
            yield f"{item_id} {found}"


def _name(item: Base | Flavouring) -> str:
    return item.base_id if isinstance(item, Base) else item.flavouring_id


def _content(word: str, item: Base | Flavouring, inside: list[Base | Flavouring], shelf: Shelf) -> str | None:
    carrier, substances = carrier_named(word), substances_named(word)
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
    return None if stated else f"may contain {word}: its sweeteners or carrier are not stated"


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
