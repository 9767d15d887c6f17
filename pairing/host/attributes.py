"""The words by which cups are judged beside strength and liking, as plugins offer them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from pairing.errors import UnknownIdError, nearest

if TYPE_CHECKING:
    from pairing.api import Attribute

__all__ = ["check_words", "questions", "strange"]


def check_words(words: Iterable[str], offered: Sequence[Attribute]) -> None:
    """Refuse a word that no plugin offers: two spellings of one word are two attributes for ever.

    Raises
    ------
    UnknownIdError
        With the nearest word. Where no plugin offers any, every word goes.
    """
    for word, hint in strange(words, offered):
        raise UnknownIdError(f"no attribute {word!r} is known here", hint)


def strange(words: Iterable[str], offered: Sequence[Attribute]) -> Iterator[tuple[str, str]]:
    """Yield the words that no plugin offers, each with what may be meant; none where no plugin offers any."""
    known = [attribute.name for attribute in offered]
    yield from ((word, nearest(word, known)) for word in dict.fromkeys(words) if known and word not in known)


def questions(offered: Sequence[Attribute]) -> list[str]:
    """Say how each attribute is asked, and what the ends of its scale stand for.

    Examples
    --------
    >>> from pairing.api import Attribute
    >>> questions([Attribute(name="body", question="How full is it?", source="invented", low="thin", high="heavy")])
    ['body: How full is it? 1 thin … 3 just right … 5 heavy']
    """
    return [f"{a.name}: {a.question} 1 {a.low} … 3 just right … 5 {a.high}" for a in offered]
