"""Which of some ids is meant by a text: the id itself, or what it is called, whatever its capitals and blanks."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from pairing.errors import UnknownIdError, nearest_item

__all__ = ["called", "meant", "names_of", "offer"]

_BETWEEN = re.compile(r"[\s_-]+")


def called(texts: Iterable[str], known: Mapping[str, str] | Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Return the ids that each text may mean: one is clear, several are not.

    Parameters
    ----------
    texts : iterable of str
    known : mapping of id to name, or ids

    Examples
    --------
    >>> called(["oat", " OAT Drink ", "Lime Leaf", "drink"], {"oat": "Oat drink", "lime-leaf": "Lime leaf drops"})
    {'oat': ('oat',), ' OAT Drink ': ('oat',), 'Lime Leaf': ('lime-leaf',), 'drink': ()}
    >>> called(["Oat drink"], {"oat": "Oat drink", "oat-b": "Oat  drink"})
    {'Oat drink': ('oat', 'oat-b')}
    """
    names = names_of([known])
    ids: dict[str, list[str]] = {}
    for one, name in names.items():
        for word in {_plain(one), _plain(name)} - {""}:
            ids.setdefault(word, []).append(one)
    return {text: (text,) if text in names else tuple(ids.get(_plain(text), ())) for text in texts}


def meant(text: str, known: Mapping[str, str], what: str) -> str:
    """Return the one id that is meant.

    Raises
    ------
    UnknownIdError
        Where none is, with the nearest; or several are, with the choices.

    Examples
    --------
    >>> meant("Oat drink", {"oat": "Oat drink"}, "base")
    'oat'
    """
    found = called([text], known)[text]
    if len(found) == 1:
        return found[0]
    if found:
        raise UnknownIdError(f"{text!r} may be {what} {' or '.join(found)}", "say which by its id")
    raise UnknownIdError(f"no {what} {text!r}", offer(text, known))


def offer(text: str, known: Mapping[str, str]) -> str:
    """Say which was meant: the only one that begins so, else the nearest.

    Examples
    --------
    >>> offer("Oat milk", {"oat-barista": "Oat milk (barista)", "oat": "Oat", "soy": "Soy milk"})
    'did you mean oat-barista?'
    """
    start = _plain(text)
    begun = [
        one for one, name in known.items() if start and start in (_plain(one)[: len(start)], _plain(name)[: len(start)])
    ]
    return f"did you mean {begun[0]}?" if len(begun) == 1 else nearest_item(text, known)


def names_of(parts: Iterable[Mapping[str, str] | Iterable[str]]) -> dict[str, str]:
    """Return the names of several kinds of things by id, empty where only ids are known."""
    out: dict[str, str] = {}
    for part in parts:
        out |= part if isinstance(part, Mapping) else dict.fromkeys(part, "")
    return out


def _plain(text: str) -> str:
    return _BETWEEN.sub("", text).casefold()
