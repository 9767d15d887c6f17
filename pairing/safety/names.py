"""What names suggest: restricted and toxic substances, allergens, stimulants, feeds. A question, never a verdict.

The words are in ``names.csv``, in several languages and each with its source. A name is answered once per bottle: with
the tag ``label-read``, and the supplier's maximum where there is one.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.allergens import named_in
from pairing.nutrition.maximum import maximum_of
from pairing.nutrition.word_list import WordList

__all__ = [
    "LABEL_READ",
    "Hint",
    "allergens_suggested",
    "hints",
    "is_answered",
    "is_neat_essential_oil",
    "meant_by",
    "suspected",
    "words_of_hints",
]

LABEL_READ = "label-read"
"""Tag of a flavouring or base whose label somebody has held against what its name suggests."""
KINDS = (
    *("restricted", "toxic", "medicine", "stimulant", "caffeine", "colour", "not food"),
    *("pathogen", "infant", "feed", "honey", "neat oil", "ferment", "vapour", "laxative", "alcohol"),
)
_ALL_OF_IT = "stimulant"
_THINNED = 0.5
"""Share of carriers from which on an essential oil is not neat (our choice)."""
_ETHANOL_MG_PER_G = {"ferment": 24.0, "alcohol": 1000.0}
"""Ethanol at most where nobody states it: some kombucha has 3 % by volume (from memory), a spirit may be all of it."""


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
    words, limited : str
        What is looked for, and where it is limited or what it does.
    source : str
    year : int
    checked : str
        As in `pairing.safety.limits.Limit`.
    """

    about: str
    kind: str
    substance: str
    words: str
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
    rows = [Hint(**{**row, "year": int(row["year"])}) for row in csv.DictReader(text.splitlines())]  # type: ignore[arg-type]
    return {row.about: row for row in rows}


@cache
def _words() -> WordList:
    return WordList({about: hint.words for about, hint in table().items()})


def hints(item: Base | Flavouring) -> tuple[Hint, ...]:
    """Return what an item's name, id, family, form and tags suggest.

    Examples
    --------
    >>> [h.about for h in hints(Flavouring(flavouring_id="x", name="Oil of wintergreen"))]
    ['methyl salicylate (wintergreen, sweet birch)', 'a neat essential oil']
    """
    return tuple(table()[about] for about in _words().named(_said(item)))


def meant_by(word: str) -> frozenset[str]:
    """Return what a word that somebody avoids may stand for in the table: ``lakritz`` is liquorice."""
    return frozenset(_words().found(word))


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
    """Return the allergens that an item's name and tags suggest, whether declared or not.

    Examples
    --------
    >>> sorted(allergens_suggested(Flavouring(flavouring_id="x", name="Hazelnut praline")))
    ['nuts']
    """
    return named_in(_said(item))


def suspected(item: Base | Flavouring) -> dict[str, float]:
    """Return substances that are acute by the spoon and that an item's own name stands for, mg/g at most.

    A column that states the amount answers it.

    Examples
    --------
    >>> suspected(Flavouring(flavouring_id="x", name="Caffeine anhydrous"))
    {'caffeine': 1000.0}
    """
    asked = hints(item)
    found = {h.substance: 1000.0 for h in asked if h.kind == _ALL_OF_IT}
    caffeine = item.caffeine_mg_per_100g if isinstance(item, Base) else item.caffeine_mg_per_g
    if caffeine is not None:
        found.pop("caffeine", None)
    ethanol = item.ethanol_g_per_100g if isinstance(item, Base) else item.ethanol_g_per_g
    brewed = [_ETHANOL_MG_PER_G[h.kind] for h in asked if h.kind in _ETHANOL_MG_PER_G]
    return found | {"ethanol": max(brewed)} if brewed and ethanol is None else found


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
