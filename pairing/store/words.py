"""Words of free text that have a meaning here: what is unknown gets a note, what keeps nothing out is refused."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import first_few, nearest, or_else
from pairing.model.fields import MAX_ID, NOT_STATED, amounts, words
from pairing.nutrition.allergens import meanings, misspelt, nearest_to, not_read
from pairing.nutrition.factors import CARRIERS, carrier_named
from pairing.nutrition.names import poisons_called
from pairing.nutrition.substances import SUBSTANCES, is_understood, misspelt_substance
from pairing.quantities.drops import carrier_drop, is_known_form
from pairing.store.problems import Problems

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["PLACED", "note_meanings", "note_unknown_words", "refuse_long_words", "refuse_unplaced"]

_NAMED = 5
PLACED = ("allergens", "tags", "sweeteners", "carrier")
"""Columns whose words have to be placed."""


def note_unknown_words(data: Mapping[str, np.ndarray], problems: Problems) -> None:
    """Note forms, carriers and sweeteners that no default or limit is known for.

    Parameters
    ----------
    data : mapping of column to array
        Text as read, None where missing.
    problems : Problems
        Takes the notes.
    """
    carriers = sorted({word for carrier in CARRIERS for word in carrier.words})
    _note(data, "form", lambda cell: [cell], is_known_form, "has no default for drops and spoons", (), problems)
    _note_poisons(data, problems)
    _note(data, "carrier", _names, _known_carrier, "has no default for drop mass or energy", carriers, problems)
    sweet = sorted({*SUBSTANCES, *carriers})
    lacks = "has neither an intake limit nor an energy here"
    _note(data, "sweeteners", _names, is_understood, lacks, sweet, problems)
    note_meanings(data, "allergens", problems)


def note_meanings(data: Mapping[str, np.ndarray], column: str, problems: Problems) -> None:
    """Note what words of allergens are understood as, where that is no part of the word itself."""
    said = dict.fromkeys(word for cell in dict.fromkeys(data[column]) if cell for word in _words(cell))
    read = {word: meanings(word) for word in said}
    other = [
        f"{word!r} as {' and '.join(sorted(found))}"
        for word, found in read.items()
        if not all(one in word.casefold() for one in found)
    ]
    if other:
        problems.note(f"read {first_few(other)}", column)


def refuse_unplaced(table: pd.DataFrame, at: Iterable[int], problems: Problems) -> None:
    """Refuse allergens that nobody can place, slips of words that are known, and more sweetener or carrier than fits.

    Tags are free words otherwise, and ``milk;?`` is an incomplete declaration. So is one with such a word that is kept
    already, or that an export brings back: neither is asked again.

    Parameters
    ----------
    table : DataFrame
        A clean table of bases or flavourings.
    at : iterable of int
        Positions of the rows that are looked at.
    problems : Problems
        Takes the refusals.
    """
    allergens, tags = table["allergens"].tolist(), table["tags"].tolist()
    in_parts = {column: table[column].tolist() for column in ("sweeteners", "carrier") if column in table}
    for i in at:
        for column, cells in in_parts.items():
            cell = cells[i]
            held = sum(a for a in (amounts(cell) or {}).values() if a) if cell else 0.0
            most, unit = (1.0, "g in 1 g") if column == "carrier" else _SWEET["base_id" in table]
            if held > 1.05 * most:  # labels round
                reason = f"{column} adds up to {held:g} {unit}, at most {most:g} fit"
                problems.refuse([i], column, cell, reason, "check the unit and the decimal point")
            for name in _names(cell) if cell else ():
                if meant := misspelt_substance(name):
                    reason = f"{name!r} is {meant!r} but for a slip, and would count as none of it"
                    problems.refuse([i], column, cell, reason, f"did you mean {meant}?")
        for word in sorted(set(not_read(words(allergens[i]) or ())) - NOT_STATED):
            reason = f"{word!r} is no allergen that is known: it would keep nobody away"
            problems.refuse([i], "allergens", allergens[i], reason, or_else(nearest_to(word), _UNPLACED))
        for word in _words(tags[i] or ""):
            if meant := misspelt(word):
                reason = f"tag {word!r} is {meant!r} but for a slip, and would keep nobody away from it"
                problems.refuse([i], "tags", tags[i], reason, f"write {meant} there and in allergens, or another tag")


_SWEET = {True: (100_000.0, "mg in 100 g"), False: (1000.0, "mg in 1 g")}
"""What fits of sweeteners into a base, and into a flavouring, and in which unit."""
_UNPLACED = "what is no allergen belongs in tags; none is written after reading the label, and an empty cell is unknown"


def refuse_long_words(data: Mapping[str, np.ndarray], columns: Iterable[str], problems: Problems) -> None:
    """Refuse lists with a word that is no word: nothing would ever match it."""
    for column in columns:
        for i, cell in enumerate(data.get(column, ())):
            if long := next((w for w in (_words(cell) if cell else ()) if len(w) > MAX_ID), None):
                reason = f"{column} has a word of {len(long)} characters, at most {MAX_ID} are kept: {long[:40]!r}…"
                remedy = "write short words with ; between them, and sentences in source or note"
                problems.refuse([i], column, cell, reason, remedy)


def _note(
    data: Mapping[str, np.ndarray],
    column: str,
    parts: Callable[[str], list[str]],
    known: Callable[[str], object],
    what: str,
    offered: tuple[str, ...] | list[str],
    problems: Problems,
) -> None:
    cells = dict.fromkeys(cell for cell in data.get(column, ()) if cell)
    odd = list(dict.fromkeys(word for cell in cells for word in parts(cell) if not known(word)))
    for word in odd[:_NAMED]:
        hint = f": {nearest(word, offered)}" if offered else ""
        problems.note(f"{column} {word!r} is not a word that is known: it is kept and {what}{hint}")
    if len(odd) > _NAMED:
        problems.note(f"{len(odd) - _NAMED} more words that are not known", column)


def _note_poisons(data: Mapping[str, np.ndarray], problems: Problems) -> None:
    """Note carriers that are for nobody to drink."""
    cells = dict.fromkeys(cell for cell in data.get("carrier", ()) if cell)
    for name in dict.fromkeys(name for cell in cells for name in _names(cell) if poisons_called(name)):
        problems.note(
            f"{name!r} is not for drinks: what it carries is never suggested, and stops wherever it is poured",
            "carrier",
        )


def _known_carrier(name: str) -> bool:
    return carrier_named(name) is not None or carrier_drop(name) is not None or bool(poisons_called(name))


def _names(cell: str) -> list[str]:
    return list(amounts(cell) or {})


def _words(cell: str) -> list[str]:
    return sorted(words(cell) or ())
