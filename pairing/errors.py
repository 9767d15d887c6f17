"""Every error that the tool raises on purpose, each with a hint that says what to do about it."""

from __future__ import annotations

import difflib
import re
import shlex
import sys
from collections.abc import Iterable

__all__ = [
    "BriefError",
    "ConflictError",
    "CupError",
    "LogError",
    "LogWarning",
    "PairingError",
    "PluginError",
    "PoolError",
    "QuantityError",
    "StoppedInPlugin",
    "StoreError",
    "TableError",
    "UnknownIdError",
    "close",
    "first_few",
    "in_shell",
    "nearest",
    "nearest_item",
    "or_else",
]


class PairingError(ValueError):
    """Base of every error of this package.

    Parameters
    ----------
    message : str
        What is wrong: the value and the limit that it broke.
    hint : str
        What to do instead.
    """

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} — {self.hint}" if self.hint else self.message

    def __reduce__(self) -> tuple[type, tuple[str, str]]:
        return type(self), (self.message, self.hint)


class QuantityError(PairingError):
    """A text or number that is no usable quantity."""


class TableError(PairingError):
    """A table that lacks a column, or a row or field that is not allowed."""


class CupError(PairingError):
    """A step that a cup cannot take."""


class BriefError(PairingError):
    """A brief that contradicts itself or leaves nothing to suggest."""


class LogError(PairingError):
    """A log that cannot answer the question."""


class LogWarning(UserWarning):
    """A log that can be learned from, but holds something improbable."""


class StoreError(PairingError):
    """A bench that cannot be opened, read or written."""


class ConflictError(StoreError):
    """A write that disagrees with what is already kept."""


class PoolError(PairingError):
    """A pool of kitchens, or a prior from one, that cannot be read, learned from or used."""


class PluginError(PairingError):
    """A fault of a plugin."""


class StoppedInPlugin(KeyboardInterrupt):
    """Ctrl+C while a plugin ran; its text names the plugin."""


class UnknownIdError(PairingError):
    """An id that no table knows; the hint offers the nearest ones."""


NEARLY = 0.25
"""Words that are this much less similar than the nearest one are not offered (our choice)."""
SIMILAR = 0.5
"""Words that share less than this of their letters are not near (our choice)."""


def close(word: str, known: Iterable[str], n: int = 3, similar: float = SIMILAR) -> list[str]:
    """Return the known words that come closest to one that is unknown; none where none is near.

    Examples
    --------
    >>> close("ot", ["oat", "whey"]), close("phone", ["name"])
    (['oat'], [])
    """
    found = difflib.get_close_matches(word, sorted(known), n=n, cutoff=similar)
    similarity = [difflib.SequenceMatcher(None, name, word).ratio() for name in found]
    return [name for name, alike in zip(found, similarity, strict=True) if alike > similarity[0] - NEARLY]


def nearest(word: str, known: Iterable[str], n: int = 3) -> str:
    """Say which known words come closest to one that is unknown.

    Examples
    --------
    >>> nearest("ot", ["oat", "whey"])
    'did you mean oat?'
    >>> nearest("quinz", ["quince", "mint"])
    'did you mean quince?'
    """
    names = sorted(map(str, known))
    if found := close(word, names, n):
        return f"did you mean {' or '.join(found)}?"
    return f"known are: {', '.join(names[:8])}{', …' if len(names) > 8 else ''}" if names else "none are known yet"


def nearest_item(word: str, known: Iterable[str]) -> str:
    """Say which base or flavouring was meant; one that a plugin offers has to be taken first.

    Examples
    --------
    >>> nearest_item("tea-shop:rose", ["quince", "mint"])
    'known are: mint, quince. What a plugin offers is taken first: pairing plugins --take tea-shop:rose'
    """
    hint = nearest(word, known)
    return or_else(hint, f"what a plugin offers is taken first: pairing plugins --take {word}") if ":" in word else hint


def or_else(hint: str, then: str) -> str:
    """Put a second remedy behind a hint as a sentence of its own.

    Examples
    --------
    >>> or_else("did you mean oat?", "or make one"), or_else("known are: a, b", "or make one")
    ('did you mean oat? Or make one', 'known are: a, b. Or make one')
    """
    return f"{hint}{'' if hint.endswith(('?', '.', '…')) else '.'} {then[:1].upper()}{then[1:]}"


def first_few(names: Iterable[object], most: int = 5) -> str:
    """Name the first of many, and count the rest.

    Examples
    --------
    >>> first_few("abc", 2), first_few("ab", 2)
    ('a, b and 1 more', 'a, b')
    """
    given = list(names)
    return ", ".join(map(str, given[:most])) + (f" and {len(given) - most} more" if len(given) > most else "")


def in_shell(word: str) -> str:
    """Write a word as the command line takes it: in quotes where it needs them, in double ones on Windows.

    Examples
    --------
    >>> in_shell("cold-coffee"), in_shell("cold coffee") in ("'cold coffee'", '"cold coffee"')
    ('cold-coffee', True)
    """
    if sys.platform != "win32":
        return shlex.quote(word)
    return word if re.fullmatch(r"[\w.:=/\\+-]+", word) else f'"{word}"'
