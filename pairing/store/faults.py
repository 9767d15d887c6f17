"""The database's errors in our words: what happened, and what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from pairing.errors import StoreError

__all__ = ["BUSY_SECONDS", "LostConnectionError", "translated"]

_SHOWN = 60
BUSY_SECONDS = 30
"""How long a writer waits for others (our choice)."""


class LostConnectionError(StoreError):
    """A server that went away in the middle of a transaction."""


@contextmanager
def translated(name: str) -> Iterator[None]:
    """Turn errors of the database called ``name`` into ours."""
    from sqlalchemy.exc import DBAPIError

    try:
        yield
    except DBAPIError as error:
        text = " ".join(str(error.orig).split())
        if error.connection_invalidated:
            raise LostConnectionError(
                f"{name}: the connection was lost: {text}", "check the network and try again; nothing was changed"
            ) from error
        raise StoreError(f"{name}: {text}", _remedy(text)) from error
    except sqlite3.Error as error:
        raise StoreError(f"{name}: {error}", _remedy(str(error))) from error
    except UnicodeEncodeError as error:
        raise StoreError(
            f"{ascii(error.object)[:_SHOWN]} holds half a character, which no file and no database keeps",
            f"take out {error.object[error.start : error.end]!a}; nothing was changed",
        ) from None
    except OverflowError as error:
        raise StoreError(f"{name}: a number is too large to be kept: {error}", "nothing was changed") from None


def _remedy(text: str) -> str:
    low = text.casefold()
    for words, remedy in _REMEDIES:
        if any(word in low for word in words):
            return remedy
    return "nothing was changed"


_REMEDIES: tuple[tuple[tuple[str, ...], str], ...] = (
    (
        ("locked", "busy"),
        f"another program has been writing for {BUSY_SECONDS} s: close it and try again; nothing was changed",
    ),
    (
        ("readonly", "read-only", "unable to open"),
        "the bench's folder must exist and be writable: check its permissions, or copy it elsewhere",
    ),
    (("full", "no space"), "free some disk space; nothing was changed"),
    (
        ("not a database", "malformed"),
        "the file is damaged: restore a copy, or save what can still be read with pairing export --salvage",
    ),
    (
        ("no such column", "no column named", "undefinedcolumn", "does not exist"),
        "a newer version of this program has changed the bench: update pairing and open it again; nothing was changed",
    ),
    (
        (
            "connection refused",
            "could not connect",
            "connection failed",
            "connection is bad",
            "not translate",
            "timeout",
        ),
        "check the network, the address, and that the server runs; nothing was changed",
    ),
)
