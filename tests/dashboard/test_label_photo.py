"""A photo of a label: kept with the facts, small, upright, and without where it was taken."""

import io

import pytest
from PIL import Image

from pairing.bench import Bench
from pairing.errors import TableError
from pairing_dashboard import label_photo
from pairing_dashboard.label_photo import SIDE_PX, cleaned

LATITUDE, MAKER, TURNED = 2, 271, 274  # tags of Exif 2.32 (JEITA CP-3451), its table of GPS attributes among them


def photo(width=2400, height=1200):
    """A picture that lies on its side and says where it was taken and with what."""
    exif = Image.Exif()
    exif[MAKER], exif[TURNED] = "a maker", 6
    exif.get_ifd(0x8825)[LATITUDE] = (54.0, 0.0, 0.0)
    Image.new("RGB", (width, height), "#a33").save(made := io.BytesIO(), "JPEG", exif=exif, comment=b"at home")
    return made.getvalue()


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
