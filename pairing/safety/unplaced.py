"""What a taster avoids and nobody can place, and who cannot be: refused before it is kept."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from pairing.errors import nearest, or_else
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster
from pairing.nutrition.allergens import allergen_words
from pairing.nutrition.factors import CARRIERS
from pairing.nutrition.names import is_diet, words_of_hints
from pairing.nutrition.substances import SUBSTANCES
from pairing.nutrition.word_list import folded
from pairing.safety.avoidance import not_understood, words_on
from pairing.safety.people import REMEDY, impossible

__all__ = ["NO_COLUMN", "Unplaced", "unplaced"]


@dataclass(frozen=True)
class Unplaced:
    """What is refused: the column it is in, the word, what to do, and what is wrong."""

    column: str
    word: str
    remedy: str
    reason: str


NO_COLUMN = "how much potassium, phosphate or vitamin K a food holds stands nowhere here"
_KIDNEYS = ("potassium", "kalium", "potasi", "potassio", "phosph", "fosf", "kidney", "niere", "renal")
"""In words for which the nearest that is known, a salt of potassium, would keep out next to nothing."""


def unplaced(taster: Taster, shelf: Shelf) -> Iterator[Unplaced]:
    """Return the words of a taster that could keep nothing out, each with the nearest that could; and who cannot be.

    Examples
    --------
    >>> [(one.word, one.remedy.split("?")[0]) for one in unplaced(Taster(taster="bo", avoid="mlik"), Shelf.of([], []))]
    [('mlik', 'did you mean mlek or milk or melk')]
    """
    if wrong := impossible(taster):
        yield Unplaced("body_mass_kg", f"{taster.body_mass_kg:g}", REMEDY, wrong)
    for word in not_understood(taster, shelf):
        column = "avoid" if word in (taster.avoid or ()) else "avoid_allergens"
        known = set(allergen_words())
        if is_diet(word) or any(said in folded(word) for said in _KIDNEYS):
            remedy = (
                f"write what that diet leaves out, such as phenylalanine, and yes to asks_professional; {NO_COLUMN}"
            )
            why = "names a diet, or what no column tells of, which says nothing of what is in a cup"
            yield Unplaced(column, word, remedy, f"{word!r} {why}")
            continue
        then = "write it as the label does, or one of its other names"
        if column == "avoid":
            known |= {*SUBSTANCES, *(w for c in CARRIERS for w in c.words), *words_on(shelf), *words_of_hints()}
            names = [*(b.name for b in shelf.bases.values()), *(f.name for f in shelf.flavourings.values())]
            known |= {w for name in names for w in _words(name)}
            then = "a tag or an id has to be on the shelf: load bases and flavourings first"
        reason = f"{word!r} is no allergen, substance, carrier, tag, id or name that is known: it keeps nothing out"
        yield Unplaced(column, word, or_else(nearest(word, known), then), reason)


def _words(name: str) -> list[str]:
    return re.findall(r"\w{3,}", name.casefold())
