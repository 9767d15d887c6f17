"""Text that an XML file can hold."""

from __future__ import annotations

import re

__all__ = ["xml_text"]

_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def xml_text(text: str) -> str:
    """Replace the signs that no XML file may hold.

    Examples
    --------
    >>> xml_text("plum" + chr(7)) == "plum" + chr(0xFFFD)
    True

    References
    ----------
    W3C, Extensible Markup Language (XML) 1.0, fifth edition, production 2 (Char).
    """
    return _NOT_XML.sub("\ufffd", text)
