"""A photo of a label beside the facts that were read from it: small, upright, and without where it was taken."""

from __future__ import annotations

import base64
import io
import struct
import warnings
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import streamlit as st
from PIL import Image, ImageOps

from pairing.errors import TableError
from pairing_dashboard import parts, session

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["cleaned", "show"]

SIDE_PX, QUALITY = 1600, 82
"""Longest side and JPEG quality of what is kept (our choice): small print stays legible in some 0.3 MB."""
MOST_MB = 30
"""Of a file that is handed over (our choice)."""
MOST_PIXELS, MOST_WHOLE = 60_000_000, 16_000_000
"""Of a JPEG (a phone's has 12 to 50 million), and of what has to be held whole (our choice)."""
KINDS = ("jpg", "jpeg", "png", "webp")
FORMATS = ("JPEG", "PNG", "WEBP")
"""What these are by their content: Pillow opens others too, some of them by starting a program."""


def show(bench: Bench, item_id: str) -> None:
    """Show the photo of an item's label, and take another."""
    photo_id = f"label-{item_id}"
    kept = bench.latest("photos", 1, photo_id=photo_id)
    with st.expander("Photo of the label", icon=":material/photo_camera:", key=f"photo-{item_id}"):
        if len(kept):
            _draw(base64.b64decode(kept["bytes"].iloc[0]))
        asked = "Another one" if len(kept) else "Take or choose one"
        handed = st.file_uploader(asked, KINDS, key=f"file-{item_id}", max_upload_size=MOST_MB)
        if handed is None or not st.button("Keep it", key=f"keep-photo-{item_id}", type="primary"):
            return
    if parts.attempt(_keep, bench, item_id, photo_id, handed.getvalue()) is not None:
        parts.remember("The photo is kept with the facts. Where and with what it was taken is not.")
    st.rerun()


def _draw(content: bytes) -> None:
    """Draw what is kept, which may have come from a file; what is no picture is said."""
    try:
        st.image(cleaned(content), width=560, caption="As the label was photographed")
    except TableError as error:
        parts.problem(error)


def _keep(bench: Bench, item_id: str, photo_id: str, content: bytes) -> int:
    import pandas as pd

    at = datetime.now(UTC).isoformat(timespec="seconds")
    row = {"photo_id": photo_id, "item_id": item_id, "at": at, "bytes": cleaned(content)}
    report = session.taken(bench.load(photos=pd.DataFrame([row]), on_conflict="revise"))
    return report.accepted["photos"]


def cleaned(content: bytes) -> bytes:
    """Return a picture as an upright JPEG of limited size; nothing but its pixels is carried over.

    Raises
    ------
    TableError
        When it is no picture, or a huge one.
    """
    if len(content) > MOST_MB * 1e6:
        raise TableError(f"the picture has {len(content) / 1e6:.0f} MB, at most {MOST_MB} are taken", "make it smaller")
    try:
        upright = _upright(content)
    except TableError:
        raise
    except Image.DecompressionBombError:
        raise TableError(f"the picture has far more than {MOST_PIXELS:,} pixels", "make it smaller") from None
    except (OSError, SyntaxError, ValueError, TypeError, struct.error):
        raise TableError("the file is no picture that can be read", f"hand over one of: {', '.join(KINDS)}") from None
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    bare.save(made := io.BytesIO(), "JPEG", quality=QUALITY)
    return made.getvalue()


def _upright(content: bytes) -> Image.Image:
    """Read a picture small and upright; a JPEG is made small while it is read, so that it takes little memory."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of many pixels, which are refused here, and of damaged facts, which go
        with Image.open(io.BytesIO(content), formats=FORMATS) as picture:
            most = MOST_WHOLE if picture.format in FORMATS[1:] else MOST_PIXELS
            if picture.width * picture.height > most:
                size = f"{picture.width} × {picture.height} pixels"
                raise TableError(f"the picture has {size}, at most {most:,} are taken", "make it smaller")
            picture.draft("RGB", (SIDE_PX, SIDE_PX))
            small = picture.convert("RGB")
        small.thumbnail((SIDE_PX, SIDE_PX))
        return ImageOps.exif_transpose(small)
