"""Pictures in cells: base64 text, as it goes into any file."""

from __future__ import annotations

import base64
import binascii
import re

from pairing.errors import TableError

__all__ = ["read_picture"]

LARGEST_BYTES = 8_000_000
"""Of one photo (our choice): a phone's picture of a label has one to four million."""

_SAYS_WHERE = re.compile(
    rb"Exif\0\0|eXIf(?:II|MM)|EXIF.{4}(?:II|MM|Exif)|Raw profile type|<x:xmpmeta|<\?xpacket", re.DOTALL
)
"""Where and with what it was taken: Exif 2.32 (JEITA CP-3451) in JPEG, PNG and WebP, and XMP (ISO 16684-1) in any."""


def read_picture(cell: object, column: str) -> str | None:
    r"""Return the base64 of a picture that is given as bytes or as base64.

    Whoever gets a bench or an export must not learn where somebody lives.

    Raises
    ------
    TableError
        When it is neither, too large, or says where and with what it was taken.

    Examples
    --------
    >>> read_picture(b"\xff\xd8", "bytes"), read_picture(" /9g=\n", "bytes")
    ('/9g=', '/9g=')
    """
    if isinstance(cell, bytes | bytearray | memoryview):
        content = bytes(cell)
    else:
        try:
            content = base64.b64decode("".join(str(cell).split()), validate=True)
        except (binascii.Error, ValueError):
            raise TableError(f"{column} is no base64", "hand over the picture's bytes, or their base64") from None
    if len(content) > LARGEST_BYTES:
        raise TableError(
            f"{column} has {len(content) / 1e6:.1f} MB, at most {LARGEST_BYTES / 1e6:g} MB are kept", "make it smaller"
        )
    if _SAYS_WHERE.search(content):
        raise TableError(
            f"{column} says where or with what the picture was taken (Exif or XMP)",
            "save it without, or hand it over at the shelf of pairing dashboard, which keeps its pixels alone",
        )
    return base64.b64encode(content).decode() or None
