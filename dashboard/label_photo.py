"""A photo of a label beside the facts that were read from it: small, upright, and without where it was taken."""

from __future__ import annotations

import base64
import io
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
MOST_PIXELS = 60_000_000
"""Of what is handed over (our choice); a phone's picture has 12 to 50 million."""
KINDS = ("jpg", "jpeg", "png", "webp")


def show(bench: Bench, item_id: str) -> None:
    """Show the photo of an item's label, and take another."""
    photo_id = f"label-{item_id}"
    kept = bench.latest("photos", 1, photo_id=photo_id)
    with st.expander("Photo of the label", icon=":material/photo_camera:", key=f"photo-{item_id}"):
        if len(kept):
            st.image(base64.b64decode(kept["bytes"].iloc[0]), width=560, caption="As the label was photographed")
        handed = st.file_uploader("Another one" if len(kept) else "Take or choose one", KINDS, key=f"file-{item_id}")
        if handed is None or not st.button("Keep it", key=f"keep-photo-{item_id}", type="primary"):
            return
    if parts.attempt(_keep, bench, item_id, photo_id, handed.getvalue()) is not None:
        parts.remember("The photo is kept with the facts. Where and with what it was taken is not.")
    st.rerun()


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
    try:
        with Image.open(io.BytesIO(content)) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise TableError(
                    f"the picture has {picture.width} × {picture.height} pixels, at most {MOST_PIXELS:,} are taken",
                    "make it smaller",
                )
            upright = ImageOps.exif_transpose(picture).convert("RGB")
    except TableError:
        raise
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        raise TableError("the file is no picture that can be read", f"hand over one of: {', '.join(KINDS)}") from None
    upright.thumbnail((SIDE_PX, SIDE_PX))
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    bare.save(made := io.BytesIO(), "JPEG", quality=QUALITY)
    return made.getvalue()
