"""Finding words of many languages in what people write: one spelling for all, endings left open, compounds taken apart.

A list is written as ``hazelnut*; *nuss; brazil nut``: ``*`` stands for the rest of a word, a blank for whatever parts
words. ``=ser`` is found in declarations only: in a name it may be another language's word.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Set
from functools import lru_cache
from string import ascii_lowercase
from types import MappingProxyType

__all__ = ["WordList", "folded", "slip_of"]

_NOT_DECOMPOSED = str.maketrans({"ł": "l", "ø": "o", "æ": "ae", "œ": "oe", "đ": "d", "ı": "i", "_": " "})
_FREE_OF = re.compile(
    r"\b(?:without|no|free (?:of|from)|ohne|frei von|sans|senza|sin|zonder|bez|sem|uten|utan|uden)\s+\w+"
    r"|\b\w+(?:[\s-]+free|\s*-?frei)\b|\b(?:decaf\w*|entkoffein\w*)"
)
"""What a name says is not in it."""
_SWAPPED, _MISSED, _CHANGED = 4, 6, 8
"""Letters of a word from which on two swapped letters, one more or fewer, and another one pass for a slip: ``bitter``
is no butter, and ``beany`` no bean (our choice, tried on some 8,000 words)."""
_FIRST = 2
"""Letters by which phrases are looked up."""


@lru_cache(maxsize=20_000)
def folded(text: str) -> str:
    """Return a text in small letters without accents.

    Examples
    --------
    >>> folded("Crème BRÛLÉE"), folded("Nüsse"), folded("Mąka żytnia, masło")
    ('creme brulee', 'nusse', 'maka zytnia, maslo')
    """
    plain = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in plain if not unicodedata.combining(c)).translate(_NOT_DECOMPOSED)


class _Index:
    """Words by what they mean, looked up token by token: nothing is compiled and nothing is tried that cannot match."""

    def __init__(self, words: Mapping[str, Iterable[str]]) -> None:
        self._whole: dict[str, set[str]] = {}
        self._begun: dict[str, set[str]] = {}
        self._inside: list[tuple[str, bool, str]] = []
        self._phrases: dict[str, list[tuple[tuple[str, ...], str]]] = {}
        for key, each in words.items():
            for word in each:
                self._add(word, key)

    def _add(self, word: str, key: str) -> None:
        text = word.strip("*")
        if not text.isalnum():
            parts = tuple(re.findall(r"[\w*]+", word))
            self._phrases.setdefault(parts[0].rstrip("*")[:_FIRST], []).append((parts, key))
        elif word.startswith("*"):
            self._inside.append((text, word.endswith("*"), key))
        else:
            (self._begun if word.endswith("*") else self._whole).setdefault(text, set()).add(key)

    def keys(self, plain: str) -> set[str]:
        """Return the keys of which a folded text holds a word."""
        found: set[str] = set()
        tokens = re.findall(r"\w+", plain)
        for token in tokens:
            found |= self._whole.get(token, set())
            for end in range(1, len(token) + 1):
                found |= self._begun.get(token[:end], set())
            found.update(k for text, open_, k in self._inside if text in token and (open_ or token.endswith(text)))
        for i, token in enumerate(tokens[:-1]):
            begun = self._phrases.get(token[:_FIRST], ())
            found.update(
                key for parts, key in begun if all(map(_fits, tokens[i:], parts)) and len(tokens) - i >= len(parts)
            )
        return found


def _fits(token: str, part: str) -> bool:
    return token.startswith(part[:-1]) if part.endswith("*") else token == part


class WordList:
    """Words by what they mean.

    Parameters
    ----------
    words : mapping of key to str
        Words as they are written, see the module.
    exceptions : mapping of key to str
        What is left aside before that key is looked for: a coconut is no nut.

    Examples
    --------
    >>> dairy = WordList({"milk": "milk; *milch*; =ser"}, {"milk": "coconut milk"})
    >>> dairy.found("Vollmilchpulver"), dairy.found("Coconut milk drops"), dairy.found("ser"), dairy.named("ser")
    (('milk',), (), ('milk',), ())
    """

    def __init__(self, words: Mapping[str, str], exceptions: Mapping[str, str] = MappingProxyType({})) -> None:
        listed = {key: _split(folded(text)) for key, text in words.items()}
        self._order = tuple(listed)
        self._declared = _Index({key: [word.removeprefix("=") for word in each] for key, each in listed.items()})
        self._named = _Index({key: [word for word in each if word[0] != "="] for key, each in listed.items()})
        self._exceptions = {key: _split(folded(text)) for key, text in exceptions.items()}
        self.words = frozenset(word.strip("=*") for each in listed.values() for word in each)
        self.found = lru_cache(maxsize=10_000)(self._found)
        self.named = lru_cache(maxsize=10_000)(self._found_in_name)

    def _found(self, text: str) -> tuple[str, ...]:
        """Return the keys of which a declaration holds a word."""
        return self._keys(folded(text), self._declared)

    def _found_in_name(self, text: str) -> tuple[str, ...]:
        """Return the keys of which a name holds a word; what it says to be free of is left aside."""
        return self._keys(_FREE_OF.sub(" ", folded(text)), self._named)

    def _keys(self, plain: str, index: _Index) -> tuple[str, ...]:
        found = index.keys(plain)
        for key in [key for key in found if key in self._exceptions]:
            for word in self._exceptions[key]:
                left = _expression(word).sub(" ", plain)
                if left != plain and key not in index.keys(left):
                    found.discard(key)
        return tuple(key for key in self._order if key in found)


def _split(text: str) -> list[str]:
    return [word for part in text.split(";") if (word := " ".join(part.split()))]


@lru_cache(maxsize=2000)
def _expression(word: str) -> re.Pattern[str]:
    """Return the expression of one word; it begins and ends where a word does unless ``*`` leaves that open."""
    inner = re.escape(word.strip("*")).replace(r"\*", r"\w*").replace(r"\ ", r"[\W_]+")
    before, after = (r"\w*" if word.startswith("*") else r"\b"), (r"\w*" if word.endswith("*") else r"\b")
    return re.compile(f"{before}{inner}{after}")


def slip_of(token: str, known: Set[str]) -> str | None:
    """Return the known word of which a folded token is one slip away, if there is one, the likeliest first.

    Examples
    --------
    >>> slip_of("mlik", {"milk"}), slip_of("aspertame", {"aspartame"}), slip_of("bitter", {"butter"})
    ('milk', 'aspartame', None)
    """
    return next((slip for slip in _slips(token) if len(slip) >= _SWAPPED and slip in known), None)


def _slips(token: str) -> Iterator[str]:
    """Return what may have been meant, nearest first; who errs seldom errs in the first letter."""
    parts = [(token[:i], token[i:]) for i in range(1, len(token) + 1)]
    if len(token) >= _SWAPPED:
        yield from (a + b[1] + b[0] + b[2:] for a, b in parts if len(b) > 1)
    if len(token) >= _MISSED:
        yield from (a + b[1:] for a, b in parts if b)
    if len(token) >= _MISSED - 1:
        yield from (a + c + b for a, b in parts for c in ascii_lowercase)
    if len(token) >= _CHANGED:
        yield from (a + c + b[1:] for a, b in parts if b for c in ascii_lowercase)
