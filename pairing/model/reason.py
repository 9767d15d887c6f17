"""What is said of recipes and items, as values: programs read the fields, people the words that `wording` makes."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.model import wording

__all__ = ["Lack"]


@dataclass(frozen=True)
class Lack:
    """A fact that nobody stated.

    Attributes
    ----------
    item_id : str
        The base or flavouring.
    what : str
        ``energy``, ``sugars``, ``sodium``, ``ethanol``, ``caffeine``, ``cost`` or ``allergens``.

    Examples
    --------
    >>> str(Lack("plum", "energy"))
    'plum lacks energy'
    """

    item_id: str
    what: str

    def __str__(self) -> str:
        return wording.lacks([self])[0]
