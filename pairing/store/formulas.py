"""Text that a spreadsheet would run as a formula: protected on the way out, restored on the way in."""

from __future__ import annotations

import re

__all__ = ["guarded", "unguarded"]

_RISKY = re.compile(r"'*[=+\-@]")
_GUARDED = re.compile(r"'+[=+\-@]")


def guarded(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet would run as a formula.

    References
    ----------
    OWASP, *CSV Injection* (common practice).

    Examples
    --------
    >>> guarded("=1+1"), guarded("plum")
    ("'=1+1", 'plum')
    """
    return "'" + text if _RISKY.match(text) else text


def unguarded(text: str) -> str:
    """Take off what `guarded` put before a text.

    Examples
    --------
    >>> unguarded("'=1+1"), unguarded("'tis")
    ('=1+1', "'tis")
    """
    return text[1:] if _GUARDED.match(text) else text
