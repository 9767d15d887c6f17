"""Allergens that must be declared in the EU and the US, the words that labels use for them, and clashes."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType

from pairing.errors import UnknownIdError, nearest, or_else
from pairing.nutrition.word_list import WordList, folded, slip_of

__all__ = [
    "ALLERGENS",
    "ALLERGEN_SOURCES",
    "allergen_words",
    "canonical",
    "check_known",
    "clash",
    "meanings",
    "misspelt",
    "must_declare",
    "named_in",
    "nearest_to",
    "not_read",
]

ALLERGENS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "EU": (
            *("gluten", "crustaceans", "egg", "fish", "peanut", "soy", "milk", "nuts", "celery", "mustard", "sesame"),
            *("sulphites", "lupin", "molluscs"),
        ),
        "US": ("milk", "egg", "fish", "crustaceans", "nuts", "peanut", "wheat", "soy", "sesame"),
    }
)
ALLERGEN_SOURCES: Mapping[str, str] = MappingProxyType(
    {
        "EU": "Regulation (EU) No 1169/2011, Annex II (sulphites above 10 mg/kg or mg/l)",
        "US": "FALCPA (2004) and FASTER Act (2021); tree nuts as in FDA, Questions and Answers Regarding Food "
        "Allergens, Edition 5 (January 2025)",
    }
)
"""Which edition each list is of. Edition 5 has twelve tree nuts, pine nuts among them and coconut no longer."""
_FILE = "allergen_words.csv"
"""Words of each allergen in fifteen languages of the EU, as labels have them (Annex II in those languages; the words
are from memory). ``lists`` says whose list has it: nobody's for what people also avoid, ``not`` for what is no such
thing."""
_PART_OF = {"pine nuts": "nuts"}
"""On the US list only, but nobody who avoids nuts is to be offered them."""


@cache
def _read() -> tuple[WordList, WordList, Mapping[str, frozenset[str]]]:
    """Return the words of the lists, those that people avoid beside them, and whose list each allergen is on."""
    on_lists: dict[str, str] = {}
    others: dict[str, str] = {}
    exceptions: dict[str, str] = {}
    laws: dict[str, frozenset[str]] = {}
    text = resources.files(__package__).joinpath(_FILE).read_text("utf-8")
    for row in csv.DictReader(text.splitlines()):
        name, lists = row["allergen"], row["lists"]
        into = exceptions if lists == "not" else on_lists if lists else others
        into[name] = f"{into.get(name, '')};{row['words']}"
        if lists not in ("", "not"):
            laws[name] = laws.get(name, frozenset()) | frozenset(lists.split())
    return WordList(on_lists, exceptions), WordList(others), MappingProxyType(laws)


def allergen_words() -> frozenset[str]:
    """Return every word that is understood, as far as it is always written the same."""
    listed, others, _ = _read()
    return listed.words | others.words


def canonical(word: str) -> frozenset[str]:
    """Return the allergens on the lists that a word may mean; ``may contain milk`` counts as milk.

    Examples
    --------
    >>> sorted(canonical("Wheat flour")), sorted(canonical("may contain hazelnuts")), sorted(canonical("plum"))
    (['gluten', 'wheat'], ['nuts'], [])
    >>> sorted(canonical("Nüsse")), sorted(canonical("orzeszki ziemne")), sorted(canonical("lysozyme"))
    (['nuts'], ['peanut'], ['egg'])
    """
    return frozenset(_PART_OF.get(name, name) for name in _read()[0].found(word))


def named_in(name: str) -> frozenset[str]:
    """Return the allergens that a product's name suggests; what it is free of is left aside.

    Examples
    --------
    >>> sorted(named_in("Hazelnut praline")), sorted(named_in("Nutmeg, dairy-free"))
    (['nuts'], [])
    """
    return frozenset(_PART_OF.get(found, found) for found in _read()[0].named(name))


def clash(declared: Iterable[str], avoided: Iterable[str]) -> frozenset[str]:
    """Return which declared words are to be avoided.

    Words match by what they may mean (``dairy`` meets ``whey``), else as written. One nut or cereal stands for its
    whole group, to be on the safe side.

    Examples
    --------
    >>> sorted(clash({"milk", "soy"}, {"dairy"}))
    ['milk']
    """
    wanted = {w.casefold().strip() for w in avoided}
    groups = frozenset().union(*(meanings(w) for w in wanted)) if wanted else frozenset()
    return frozenset(w for w in declared if w.casefold().strip() in wanted or meanings(w) & groups)


def meanings(text: str, *, name: bool = False) -> frozenset[str]:
    """Return the allergens, on a list or not, that a word may mean; of a ``name`` what it suggests.

    Examples
    --------
    >>> sorted(meanings("Erdbeeren")), sorted(meanings("Strawberry drops", name=True))
    (['strawberry'], ['strawberry'])
    """
    listed, others, _ = _read()
    found = (*listed.named(text), *others.named(text)) if name else (*listed.found(text), *others.found(text))
    return frozenset(_PART_OF.get(one, one) for one in found)


def not_read(declared: Iterable[str]) -> tuple[str, ...]:
    """Return which words are no allergen that is known here, on a list or not: ``yes``, ``xyz``.

    What such a word stands for is not known, so a declaration with one is incomplete.

    Examples
    --------
    >>> not_read({"Milch", "coconut oil", "yes", "contains soya", "kiwi"})
    ('yes',)
    """
    return tuple(sorted(w for w in declared if not meanings(w)))


def check_known(words: Iterable[str], known: Iterable[str], what: str, remedy: str) -> None:
    """Refuse words that are neither an allergen known here nor among ``known``.

    Raises
    ------
    UnknownIdError
        With the nearest words.
    """
    also = frozenset(known)
    for word in sorted(set(not_read(words)) - also):
        raise UnknownIdError(f"{what} {word!r} is no allergen that is known", or_else(nearest_to(word, also), remedy))


def nearest_to(word: str, known: Iterable[str] = ()) -> str:
    """Say which known allergen comes nearest to a word."""
    return nearest(word, allergen_words() | frozenset(known))


def must_declare(words: Iterable[str], jurisdiction: str) -> frozenset[str]:
    """Return the allergens of a jurisdiction's list that words may mean.

    Examples
    --------
    >>> sorted(must_declare({"barley"}, "EU")), sorted(must_declare({"barley"}, "US"))
    (['gluten'], [])
    >>> sorted(must_declare({"pine nuts"}, "EU")), sorted(must_declare({"pine nuts"}, "US"))
    ([], ['nuts'])
    """
    listed, _, laws = _read()
    found = {name for word in words for name in listed.found(word)}
    return frozenset(_PART_OF.get(name, name) for name in found if jurisdiction in laws[name])


def misspelt(text: str) -> str | None:
    """Return the word of an allergen on the lists from which a word of a text is one slip away, if there is one.

    Examples
    --------
    >>> misspelt("mlik"), misspelt("with hazelnit"), misspelt("peanut"), misspelt("bitter")
    ('milk', 'hazelnut', None, None)
    """
    tokens = (token for token in re.findall(r"[^\W\d_]+", folded(text)) if not meanings(token))
    return next((meant for token in tokens if (meant := slip_of(token, _long_words()))), None)


@cache
def _long_words() -> frozenset[str]:
    return frozenset(word for word in _read()[0].words if word.isalpha())
