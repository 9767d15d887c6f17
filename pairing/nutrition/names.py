"""What names suggest: restricted and toxic substances, allergens, stimulants, feeds. A question, never a verdict.

The words are in ``names.csv``, in several languages and each with its source. A name is answered once per bottle: with
the tag ``label-read``, and the supplier's maximum where there is one; but nothing answers for a poison.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources

from pairing.model.base import Base
from pairing.model.cache import IdentityCache
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.allergens import named_in
from pairing.nutrition.composition import composed_or_stated
from pairing.nutrition.content import substances_of
from pairing.nutrition.energy import ethanol_g_per_g, named_ethanol_g_per_g
from pairing.nutrition.maximum import maximum_of
from pairing.nutrition.parts import made_of, parts_of
from pairing.nutrition.word_list import WordList

__all__ = [
    "EVERYBODY",
    "KINDS",
    "LABEL_READ",
    "Hint",
    "allergens_suggested",
    "hints",
    "is_answered",
    "is_diet",
    "is_neat_essential_oil",
    "may_be_suggested",
    "meant_by",
    "never_for",
    "poisons_called",
    "stated_mg_per_g",
    "suspected",
    "words_of_hints",
]

LABEL_READ = "label-read"
"""Tag of a flavouring or base whose label somebody has held against what its name suggests."""
KINDS = (
    *(
        "restricted",
        "toxic",
        "medicine",
        "stimulant",
        "caffeine",
        "colour",
        "poison",
        "not food",
        "salt",
        "acid",
        "spoon",
    ),
    *("spoon", "pathogen", "infant", "feed", "honey", "neat oil", "ferment", "vapour", "laxative", "alcohol"),
)
EVERYBODY = "all"
"""Whom a poison, and what is not made for drinking, is never for."""
_THINNED = 0.5
"""Share of carriers from which on an essential oil is not neat (our choice)."""
_COLUMNS = ("caffeine_mg", "sodium_mg", "ethanol_g", "acids_g")
"""Columns that state an amount of what a name stands for."""
_LIMITED = ("caffeine", "alcohol", "ferment")
"""Kinds of which a stated amount is held against limits instead."""
_READABLE = ("restricted", "spoon")
"""Kinds of which a read label answers for what the name stands for: bitter almond may be free of prussic acid."""
_SPOONED = ("sodium", "potassium", "iron", "acids", "hydrocyanic acid", "nutmeg")
"""What a whole drink never is: salted caramel milk is no salt."""


@dataclass(frozen=True, slots=True)
class Hint:
    """One row of the table: what words suggest, and what is known about that.

    Attributes
    ----------
    about : str
        What the name suggests.
    kind : str
    substance : str
        Empty where it stands for none; a stated amount of it answers the hint.
    never_for : tuple of str
        Who must not have it: ``all``, or as in `pairing.safety.people.Person.is_one_of`.
    mg_per_g : float
        The substance in what is called so, at most; counted where nobody states it. 0: not counted.
    words, but_not, limited : str
        What is looked for, what is left aside, and where it is limited or what it does.
    source : str
    year : int
    checked : str
        As in `pairing.safety.limits.Limit`.
    """

    about: str
    kind: str
    substance: str
    never_for: tuple[str, ...]
    mg_per_g: float
    words: str
    but_not: str
    limited: str
    source: str
    year: int
    checked: str

    @property
    def cited(self) -> str:
        """The source, and where it was not seen there, that it was not."""
        return (
            self.source if self.checked == "published" or "no source" in self.source else f"{self.source} (from memory)"
        )


@cache
def table() -> dict[str, Hint]:
    """Return every row by what it is about."""
    text = resources.files(__package__).joinpath("names.csv").read_text("utf-8")
    return {row["about"]: _hint(row) for row in csv.DictReader(text.splitlines())}


def _hint(row: dict[str, str]) -> Hint:
    whom = tuple(word.strip() for word in row["never_for"].split(";") if word)
    numbers = {"mg_per_g": float(row["mg_per_g"] or 0), "year": int(row["year"])}
    return Hint(**{**row, **numbers, "never_for": whom})  # type: ignore[arg-type]


@cache
def _words() -> WordList:
    rows = table()
    return WordList({a: hint.words for a, hint in rows.items()}, {a: h.but_not for a, h in rows.items() if h.but_not})


def hints(item: Base | Flavouring) -> tuple[Hint, ...]:
    """Return what an item's name, id, family, form and tags suggest.

    Examples
    --------
    >>> [h.about for h in hints(Flavouring(flavouring_id="x", name="Oil of wintergreen"))]
    ['methyl salicylate (wintergreen, sweet birch)', 'a neat essential oil']
    """
    return tuple(table()[about] for about in _words().named(_said(item)))


def meant_by(word: str) -> frozenset[str]:
    """Return what a word that somebody avoids may stand for in the table: ``lakritz`` is liquorice.

    A diet is nothing that a cup holds: who writes ``pku`` has to say what that diet leaves out.
    """
    return frozenset(about for about in _words().found(word) if table()[about].kind != "feed")


def is_diet(word: str) -> bool:
    """Tell whether a word is about a medical diet, and not about what to avoid."""
    return any(table()[about].kind == "feed" for about in _words().found(word)) and not meant_by(word)


def words_of_hints() -> frozenset[str]:
    """Return every word of the table, as far as it is always written the same."""
    return _words().words


def _said(item: Base | Flavouring) -> str:
    own = item.base_id if isinstance(item, Base) else item.flavouring_id
    more = () if isinstance(item, Base) else (item.family or "", item.form or "")
    return " ; ".join((item.name, own, *more, *sorted(item.tags or ())))


def is_answered(item: Base | Flavouring) -> bool:
    """Tell whether somebody has read the label for what the name suggests."""
    return LABEL_READ in (item.tags or ())


def allergens_suggested(item: Base | Flavouring) -> frozenset[str]:
    """Return the allergens that an item's name, tags and carriers suggest, whether declared or not.

    Examples
    --------
    >>> sorted(allergens_suggested(Flavouring(flavouring_id="x", name="Hazelnut praline", carrier="white wine:0.8")))
    ['nuts', 'sulphites']
    """
    return named_in(" ; ".join((_said(item), *(getattr(item, "carrier", None) or ()))))


def stated_mg_per_g(item: Base | Flavouring, substance: str, shelf: Shelf) -> float | None:
    """Return mg of a substance in 1 g of an item as a column, carrier or sweetener states it; None unknown.

    Examples
    --------
    >>> rum = Flavouring(flavouring_id="rum", name="Rum", carrier="ethanol:0.3")
    >>> stated_mg_per_g(rum, "ethanol", Shelf.of([], [rum])), stated_mg_per_g(rum, "acids", Shelf.of([], [rum]))
    (300.0, None)
    """
    column = next((name for name in _COLUMNS if name.startswith(f"{substance}_")), None)
    item = composed_or_stated(item, shelf) if isinstance(item, Base) else item
    if column is None:
        return substances_of(item, shelf).get(substance)
    if isinstance(item, Base):
        stated, per = getattr(item, f"{column}_per_100g"), 0.01
    else:
        stated, per = ethanol_g_per_g(item) if substance == "ethanol" else getattr(item, f"{column}_per_g"), 1.0
    return None if stated is None else per * (1000.0 if column.endswith("_g") else 1.0) * stated


def suspected(item: Base | Flavouring, shelf: Shelf) -> dict[str, float]:
    """Return substances that the name of an item, or of a part of it, stands for and nobody states, mg/g at most.

    Examples
    --------
    >>> pure = Flavouring(flavouring_id="x", name="Caffeine anhydrous")
    >>> suspected(pure, Shelf.of([], [pure]))
    {'caffeine': 1000.0}
    """
    return _suspected(item, shelf, ())


def _suspected(item: Base | Flavouring, shelf: Shelf, within: tuple[str, ...]) -> dict[str, float]:
    parts = [(part, share) for part, share in parts_of(item, shelf) if _id(part) not in within]
    found: dict[str, float] = {}
    for part, share in parts:
        for substance, mg in _suspected(part, shelf, (*within, _id(item))).items():
            found[substance] = found.get(substance, 0.0) + share * mg
    thinned = any(part for part, _ in parts if isinstance(item, Flavouring) and isinstance(part, Flavouring))
    whole = isinstance(item, Base) and not within
    room_mg = 1000.0 * (1.0 - min(1.0, math.fsum(g or 0.0 for g in (getattr(item, "carrier", None) or {}).values())))
    for hint in () if thinned else hints(item):
        read = hint.kind in _READABLE and is_answered(item)
        if hint.mg_per_g and not read and not (whole and hint.substance in _SPOONED):
            found[hint.substance] = max(min(hint.mg_per_g, room_mg), found.get(hint.substance, 0.0))
    return {s: mg for s, mg in found.items() if stated_mg_per_g(item, s, shelf) is None}


def _id(item: Base | Flavouring) -> str:
    return item.base_id if isinstance(item, Base) else item.flavouring_id


_NEVER: IdentityCache[dict[str, tuple[Hint, ...]]] = IdentityCache()


def never_for(item: Base | Flavouring, shelf: Shelf) -> dict[str, tuple[Hint, ...]]:
    """Return what is written about an item or a part of it that makes it nothing for somebody, by whom.

    Its name, id, family, form and tags are read, of poisons and of alcohol also its carriers. A read label answers for
    what may be meant for drinking after all, a stated amount for what it is an amount of; nothing answers for a poison.

    Examples
    --------
    >>> drops = Flavouring(flavouring_id="x", name="Drops", carrier="isopropanol:0.9", tags="label-read")
    >>> [hint.kind for hint in never_for(drops, Shelf.of([], [drops]))["all"]]
    ['poison']
    """
    return _NEVER.of((item, shelf), lambda: _never_for(item, shelf))


def _never_for(item: Base | Flavouring, shelf: Shelf) -> dict[str, tuple[Hint, ...]]:
    found: dict[str, dict[Hint, None]] = {}
    for part in (item, *made_of(item, shelf)):
        for hint in (*hints(part), *_in_carriers(part)):
            if hint.never_for and not _settled(hint, (item, part), shelf):
                for who in hint.never_for:
                    found.setdefault(who, {})[hint] = None
    return {who: tuple(asked) for who, asked in found.items()}


def _settled(hint: Hint, items: Iterable[Base | Flavouring], shelf: Shelf) -> bool:
    if hint.kind == "not food":
        return any(map(is_answered, items))
    if hint.kind == "poison" or not hint.substance:
        return False
    stated = [stated_mg_per_g(item, hint.substance, shelf) for item in items]
    return any(mg is not None and (mg == 0 or hint.kind in _LIMITED) for mg in stated)


def poisons_called(name: str) -> tuple[Hint, ...]:
    """Return the poisons that the name of a carrier or a sweetener tells of.

    Examples
    --------
    >>> [hint.kind for hint in poisons_called("isopropanol")], poisons_called("water")
    (['poison'], ())
    """
    return tuple(table()[about] for about in _words().found(name) if table()[about].kind == "poison")


def _in_carriers(item: Base | Flavouring) -> Iterator[Hint]:
    """Return the poisons that its carriers and sweeteners are, and alcohol where a carrier of it lacks its amount."""
    for name in (*(getattr(item, "carrier", None) or ()), *(item.sweeteners or ())):
        yield from poisons_called(name)
    if isinstance(item, Flavouring) and None in named_ethanol_g_per_g(item):
        yield from (hint for hint in table().values() if hint.kind == "alcohol")


def may_be_suggested(item: Flavouring, shelf: Shelf) -> bool:
    """Tell whether a flavouring may be suggested to anybody: declared for food use, and no poison by its name.

    Examples
    --------
    >>> plum = Flavouring(flavouring_id="x", name="Plum drops", food_use="yes")
    >>> yew = Flavouring(flavouring_id="y", name="Yew drops", food_use="yes")
    >>> [may_be_suggested(one, Shelf.of([], [one])) for one in (plum, yew)]
    [True, False]
    """
    return item.suggestable and EVERYBODY not in never_for(item, shelf)


def is_neat_essential_oil(item: Base | Flavouring, shelf: Shelf) -> bool:
    """Tell whether a flavouring is an essential oil by its name, without a maximum dose or half of it a carrier.

    Examples
    --------
    >>> is_neat_essential_oil(Flavouring(flavouring_id="x", name="Clove essential oil"), Shelf.of([], []))
    True
    """
    if isinstance(item, Base) or maximum_of(item, shelf) is not None:
        return False
    shares = (item.carrier or {}).values()
    if shares and sum(1.0 if share is None else share for share in shares) >= _THINNED:
        return False
    return any(hint.kind == "neat oil" for hint in hints(item))
