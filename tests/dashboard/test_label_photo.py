"""A photo of a label: kept with the facts, small, upright, and without where it was taken."""

import base64
import io
import struct
import zlib
from contextlib import suppress

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from pairing.bench import Bench
from pairing.errors import TableError
from pairing.store.pictures import read_picture
from pairing_dashboard import label_photo
from pairing_dashboard.label_photo import SIDE_PX, cleaned

LATITUDE, MAKER, TURNED = 2, 271, 274  # tags of Exif 2.32 (JEITA CP-3451), its table of GPS attributes among them


def photo(width=2400, height=1200, kind="JPEG"):
    """A picture that lies on its side and says where it was taken and with what."""
    exif = Image.Exif()
    exif[MAKER], exif[TURNED] = "a maker", 6
    exif.get_ifd(0x8825)[LATITUDE] = (54.0, 0.0, 0.0)
    comment = {"comment": b"at home"} if kind == "JPEG" else {}
    Image.new("RGB", (width, height), "#a33").save(made := io.BytesIO(), kind, exif=exif, **comment)
    return made.getvalue()


def huge(side=30_000):
    """A PNG (ISO/IEC 15948) of so many pixels a side, in a few kilobytes."""

    def chunk(kind, content):
        check = zlib.crc32(kind + content)
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)  # one bit of grey a pixel
    rows = zlib.compress(bytes(side // 8 + 1) * 100)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def test_only_its_pixels_are_kept_upright_and_small():
    assert len(Image.open(io.BytesIO(photo())).getexif()) > 0
    kept = Image.open(io.BytesIO(cleaned(photo())))
    assert kept.size == (SIDE_PX // 2, SIDE_PX)
    assert len(kept.getexif()) == 0
    assert b"at home" not in cleaned(photo())
    assert b"Exif" not in cleaned(photo())


def test_what_is_no_picture_or_a_huge_one_is_refused(monkeypatch):
    with pytest.raises(TableError, match="no picture"):
        cleaned(b"%PDF-1.7")
    with pytest.raises(TableError, match="no picture"):
        cleaned(photo()[:900])
    for drawing in (b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"<html><script>alert(1)</script>", b"GIF89a" * 9):
        with pytest.raises(TableError, match="no picture"):
            cleaned(drawing)
    Image.new("RGB", (9, 9)).save(made := io.BytesIO(), "EPS")  # a program of its own, that reading would start
    with pytest.raises(TableError, match="no picture"):
        cleaned(made.getvalue())
    assert len(huge()) < 1000
    with pytest.raises(TableError, match="far more than 60,000,000 pixels"):
        cleaned(huge())
    with pytest.raises(TableError, match="10000 × 10000 pixels, at most 16,000,000"):
        cleaned(huge(10_000))
    with pytest.raises(TableError, match="31 MB, at most 30"):
        cleaned(bytes(31_000_000))
    monkeypatch.setattr(label_photo, "MOST_PIXELS", 100)
    with pytest.raises(TableError, match="2400 × 1200 pixels"):
        cleaned(photo())


def test_it_is_kept_beside_the_facts_and_a_later_one_takes_its_place(app):
    at = app("one", "shelf")
    next(s for s in at.selectbox if s.label == "Correct").select("plum").run()
    bench = Bench.open(at.bench_path)
    for width in (300, 200):
        at.get("file_uploader")[0].set_value(("label.jpg", photo(width, 100), "image/jpeg")).run()
        next(b for b in at.button if b.label == "Keep it").click().run()
        assert not at.exception
    kept = bench.tables("photos")
    assert kept["item_id"].tolist() == ["plum"]
    assert len(bench.history()) == 3


SMALL = {kind: photo(60, 40, kind) for kind in ("JPEG", "PNG", "WEBP")}


@settings(max_examples=200)
@given(st.sampled_from(sorted(SMALL)), st.lists(st.tuples(st.integers(0, 700), st.integers(0, 255)), max_size=4))
def test_a_damaged_picture_is_read_or_refused(kind, damage):
    content = bytearray(SMALL[kind])
    for at, byte in damage:
        content[at % len(content)] = byte
    with suppress(TableError):
        cleaned(bytes(content))


@pytest.mark.parametrize("kind", sorted(SMALL))
def test_a_picture_of_a_file_that_says_where_it_was_taken_is_refused(kind):
    with pytest.raises(TableError, match="where or with what") as refused:
        read_picture(base64.b64encode(SMALL[kind]).decode(), "bytes")
    assert "pixels alone" in refused.value.hint
    assert read_picture(cleaned(SMALL[kind]), "bytes")
    with pytest.raises(TableError, match="where or with what"):
        read_picture(b"\xff\xd8<x:xmpmeta>", "bytes")


def test_what_is_kept_as_a_photo_and_is_none_is_said_on_the_page(app):
    at = app("one", "shelf")
    photo = {"photo_id": "label-plum", "item_id": "plum", "bytes": b"<svg/>"}
    Bench.open(at.bench_path).load(photos=pd.DataFrame([photo]))
    next(s for s in at.selectbox if s.label == "Correct").select("plum").run()
    assert not at.exception
    assert any("no picture that can be read" in e.value for e in at.error)
