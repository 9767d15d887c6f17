"""Allergens that must be declared in the EU and the US, the words that people use for them, and clashes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType

__all__ = ["ALLERGENS", "ALLERGEN_WORDS", "canonical", "clash", "must_declare", "not_read"]

ALLERGENS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "EU": (
            *("gluten", "crustaceans", "egg", "fish", "peanut", "soy", "milk", "nuts", "celery", "mustard", "sesame"),
            *("sulphites", "lupin", "molluscs"),
        ),
        "US": ("milk", "egg", "fish", "crustaceans", "nuts", "peanut", "wheat", "soy", "sesame"),
    }
)
"""EU: Regulation (EU) 1169/2011, Annex II (sulphites above 10 mg/kg or mg/l). US: FALCPA, and sesame since
1 January 2023 (FASTER Act)."""

_WORDS: Mapping[str, tuple[str, ...]] = {
    "gluten": (
        "gluten",
        "cereal",
        "cereals",
        "wheat",
        "barley",
        "rye",
        "oat",
        "oats",
        "spelt",
        "malt",
        "kamut",
        "semolina",
    ),
    "wheat": ("wheat", "spelt", "kamut", "semolina", "durum"),
    "crustaceans": ("crustacean", "crustaceans", "shellfish", "shrimp", "prawn", "crab", "lobster"),
    "egg": ("egg", "eggs", "albumen"),
    "fish": ("fish",),
    "peanut": ("peanut", "peanuts", "groundnut", "groundnuts"),
    "soy": ("soy", "soya", "soybean", "soybeans", "tofu"),
    "milk": ("milk", "dairy", "lactose", "casein", "caseinate", "whey", "butter", "cream", "cheese"),
    "nuts": (
        *("nut", "nuts", "almond", "almonds", "hazelnut", "hazelnuts", "walnut", "walnuts", "cashew", "cashews"),
        *("pecan", "pecans", "brazil", "pistachio", "pistachios", "macadamia", "macadamias"),
    ),
    "celery": ("celery", "celeriac"),
    "mustard": ("mustard",),
    "sesame": ("sesame", "tahini"),
    "sulphites": ("sulphite", "sulphites", "sulfite", "sulfites", "sulphur", "sulfur", "so2"),
    "lupin": ("lupin", "lupine", "lupins"),
    "molluscs": ("mollusc", "molluscs", "mollusk", "mollusks", "shellfish", "mussel", "oyster", "squid"),
}
ALLERGEN_WORDS = frozenset(word for words in _WORDS.values() for word in words)
"""Words that are understood as a declarable allergen; any other meets only the same word."""
_NOT_NUTS = ("coconut", "nutmeg", "pine nut")


def canonical(word: str) -> frozenset[str]:
    """Return the declarable allergens that a word may mean; ``may contain milk`` counts as milk.

    Examples
    --------
    >>> sorted(canonical("Wheat flour")), sorted(canonical("may contain hazelnuts")), sorted(canonical("plum"))
    (['gluten', 'wheat'], ['nuts'], [])
    """
    plain = word.casefold()
    for other in _NOT_NUTS:
        plain = plain.replace(other, " ")
    plain = plain.replace("ground nut", "groundnut nut")  # a peanut, or nuts that were ground
    tokens = set(re.split(r"[^a-z0-9]+", plain))
    return frozenset(name for name, words in _WORDS.items() if tokens & set(words))


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
    groups = frozenset().union(*(canonical(w) for w in wanted)) if wanted else frozenset()
    return frozenset(w for w in declared if w.casefold().strip() in wanted or canonical(w) & groups)


def not_read(declared: Iterable[str]) -> tuple[str, ...]:
    """Return which declared words may mean anything: ``Milch``, ``yes``, an allergen that is on no list.

    Such a word meets only itself. What else it stands for is not known, so a declaration with one is incomplete.

    Examples
    --------
    >>> not_read({"milk", "coconut oil", "yes", "contains soya"})
    ('yes',)
    """
    harmless = rf"\b(?:{'|'.join(_NOT_NUTS)})s?\b"
    return tuple(sorted(w for w in declared if not canonical(w) and not re.search(harmless, w.casefold())))


def must_declare(words: Iterable[str], jurisdiction: str) -> frozenset[str]:
    """Return the allergens of a jurisdiction's list that words may mean.

    Examples
    --------
    >>> sorted(must_declare({"barley"}, "EU")), sorted(must_declare({"barley"}, "US"))
    (['gluten'], [])
    """
    return frozenset().union(*(canonical(w) for w in words)) & frozenset(ALLERGENS[jurisdiction])
