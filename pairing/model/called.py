"""Which of some ids is meant by a text: the id itself, or what it is called, whatever its capitals and blanks."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

__all__ = ["called"]

_BETWEEN = re.compile(r"[\s_-]+")


def called(text: str, known: Mapping[str, str] | Iterable[str]) -> str | None:
    """Return the one id that is meant; None where none is, or several are.

    Parameters
    ----------
    text : str
    known : mapping of id to name, or ids

    Examples
    --------
    >>> known = {"oat": "Oat drink", "whey": "Whey shake", "lime-leaf": "Lime leaf drops"}
    >>> called("oat", known), called(" OAT  Drink ", known), called("Lime Leaf", known), called("drink", known)
    ('oat', 'oat', 'lime-leaf', None)
    """
    names = known if isinstance(known, Mapping) else dict.fromkeys(known, "")
    if text in names:
        return text
    wanted = _plain(text)
    found = [one for one, name in names.items() if wanted and wanted in (_plain(one), _plain(name))]
    return found[0] if len(found) == 1 else None


def _plain(text: str) -> str:
    return _BETWEEN.sub("", text).casefold()
