"""What a bench looks at beyond the form of its tables: words that keep nothing out, and what was drunk all the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import PairingError, first_few
from pairing.host.attributes import strange
from pairing.learning.amounts import grams_of_base
from pairing.learning.log import read_log
from pairing.model.fields import amounts
from pairing.model.shelf import Shelf
from pairing.safety.flagged import Flag, flags, in_words
from pairing.safety.unplaced import Unplaced, unplaced
from pairing.store.notes import Note

if TYPE_CHECKING:
    import pandas as pd

    from pairing.api import Attribute, RuleLike

__all__ = ["Watch", "flags_in"]

_IN_WORDS = 3
"""Flags of a load that are told in words; the others are counted (our choice)."""


class Watch:
    """What is asked of tasters and readings that come in.

    Parameters
    ----------
    rules : sequence of RuleLike
    attributes : sequence of Attribute
        Of plugins.
    """

    def __init__(self, rules: Sequence[RuleLike] = (), attributes: Sequence[Attribute] = ()) -> None:
        self._rules, self._attributes = tuple(rules), tuple(attributes)

    def unplaced(self, tasters: pd.DataFrame, shelf: Shelf) -> Iterator[tuple[int, Unplaced]]:
        """Return the rows of tasters who avoid what nobody can place, each with the first such word."""
        kept = Shelf.from_tables(tasters.iloc[:0], tasters.iloc[:0], tasters).tasters.values()
        for i, taster in enumerate(kept):
            for one in unplaced(taster, shelf):
                yield i, one

    def judged(self, readings: pd.DataFrame) -> list[Note]:
        """Note words for cups that no plugin offers: two spellings of one word are two attributes for ever."""
        said = readings["attributes"].dropna().unique()
        found = strange((word for text in said for word in amounts(text, "attributes") or ()), self._attributes)
        return [Note(f"no plugin offers {word!r}, {hint}", "attributes") for word, hint in found]

    def drunk(self, readings: pd.DataFrame, shelf: Shelf) -> list[Note]:
        """Note which cups hold what a caution stops; they are kept like all others."""
        try:
            found = flags_in(readings, shelf, self._rules)
            told = [Note(in_words(flag, shelf, self._rules)) for flag in found[:_IN_WORDS]]
        except PairingError as error:  # nothing that was drunk is refused for it
            return [Note(f"the cautions of these cups could not be told: {error}", "readings")]
        more = [f"{flag.trial_id!r} of {flag.taster}" for flag in found[_IN_WORDS:]]
        return [*told, Note(f"kept, and flagged as well: {first_few(more, 10)}", "readings")] if more else told


def flags_in(readings: pd.DataFrame, shelf: Shelf, rules: Sequence[RuleLike] = ()) -> tuple[Flag, ...]:
    """Return which cups of a table of readings were drunk although a caution stops them.

    Parameters
    ----------
    readings : DataFrame
        A clean table; all of its bases and flavourings are on the shelf.
    shelf : Shelf
    rules : sequence of RuleLike
    """
    if readings.empty:
        return ()
    log = read_log(shelf, readings)
    first = readings.iloc[log.source]
    base_g = grams_of_base(first, shelf, log.recipes.base, np.zeros(len(first), dtype=bool))
    return flags(shelf, log.recipes, base_g, (log.trials, log.cup), (log.tasters, log.taster), rules)
