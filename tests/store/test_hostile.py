"""Tables from strangers: whatever stands in a file or a cell is read, or refused with the place; never a traceback."""

import io
import tempfile
import zipfile
from contextlib import suppress
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import store_tables
from hypothesis import given, settings
from hypothesis import strategies as st

from pairing import Bench, Cup
from pairing.errors import PairingError, StoreError, TableError
from pairing.model.columns import TABLES
from pairing.store import headings, sheets
from pairing.store.exchange import clean
from pairing.store.sheets import write_workbook

ROWS = [["base_id", "name", "fat_g_per_100g", "allergens"], *([f"b{i}", "Name", "1.5", "milk"] for i in range(9))]
WORKBOOK = write_workbook({"bases": ROWS})
CSV = "\n".join(map(",".join, ROWS)).encode()


def parquet():
    buffer = io.BytesIO()
    pd.DataFrame(ROWS[1:], columns=ROWS[0]).to_parquet(buffer)
    return buffer.getvalue()


def repacked(change):
    """The workbook with its parts changed before they are packed."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(WORKBOOK)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return out.getvalue()


def read(name, content):
    """Read a file as bases, or have it refused."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, name)
        path.write_bytes(content)
        with suppress(PairingError):
            clean("bases", path)


@st.composite
def damage(draw, content):
    """Some bytes overwritten, a piece cut out, or the end gone."""
    data = bytearray(content)
    for at, byte in draw(st.lists(st.tuples(st.integers(0, len(data) - 1), st.integers(0, 255)), max_size=6)):
        data[at] = byte
    first = draw(st.integers(0, len(data)))
    if draw(st.booleans()):
        del data[first : first + draw(st.integers(1, 40))]
    if draw(st.booleans()) and len(data) > 1:
        del data[draw(st.integers(1, len(data) - 1)) :]
    return bytes(data)


@settings(max_examples=300)
@given(damage(WORKBOOK))
def test_a_damaged_workbook_is_read_or_refused(content):
    read("bases.xlsx", content)


@settings(max_examples=300)
@given(st.sampled_from(zipfile.ZipFile(io.BytesIO(WORKBOOK)).namelist()), st.data())
def test_a_workbook_with_damaged_parts_is_read_or_refused(part, data):
    read("bases.xlsx", repacked(lambda name, body: data.draw(damage(body)) if name == part else body))


@settings(max_examples=300)
@given(damage(parquet()))
def test_a_damaged_parquet_file_is_read_or_refused(content):
    read("bases.parquet", content)


@settings(max_examples=300)
@given(damage(CSV) | st.binary(max_size=200))
def test_a_damaged_text_file_is_read_or_refused(content):
    read("bases.csv", content)


ODD = (
    *(10**400, -(10**5000), "9" * 400, "9" * 5000, "1e999", "-1e999", "\ud800", "a\udcff", b"\xff", float("inf")),
    *(True, (1,), [1], {"a": 1}, pd.NaT, np.datetime64("NaT", "ns"), object()),
    *("1_000", "٣", "\x00", "=1+1", "a\u202eb"),
)


@settings(max_examples=500)
@given(st.sampled_from(sorted(TABLES)), st.data())
def test_any_cell_in_any_column_is_read_or_refused_with_its_row(table, data):
    spec = TABLES[table]
    column = data.draw(st.sampled_from(spec.names))
    cell = data.draw(st.sampled_from(ODD) | st.text(max_size=8) | st.integers() | st.floats())
    row = {name: "1" for name in spec.names if spec.by_name[name].required} | {column: cell}
    frame = pd.DataFrame({name: pd.Series([value], dtype=object) for name, value in row.items()})
    with suppress(TableError):  # a column that has to be there
        found = clean(table, frame)
        assert len(found.table) + len(found.refused) + len(found.skipped) <= 1


def test_several_values_in_one_cell_are_refused_with_the_column(tmp_path):
    import pyarrow as pa
    from pyarrow import parquet

    for cells in ([["a", "b"]], [{"x": 1}], [[[["deep"]]]]):
        parquet.write_table(pa.table({"base_id": ["oat"], "name": cells}), tmp_path / "nested.parquet")
        with pytest.raises(TableError, match="a cell of column 'name' holds several values"):
            clean("bases", tmp_path / "nested.parquet")


def test_a_small_parquet_file_of_millions_of_the_same_rows_is_refused(tmp_path):
    import pyarrow as pa
    from pyarrow import parquet

    rows = {name: pa.array([name * 40] * 300_000).dictionary_encode() for name in ("base_id", "name")}
    parquet.write_table(pa.table(rows), tmp_path / "many.parquet")
    assert (tmp_path / "many.parquet").stat().st_size < 50_000
    with pytest.raises(TableError, match="unpacks to more than 6"):
        clean("bases", tmp_path / "many.parquet")


def sheet(rows):
    """A workbook whose sheet has these rows of XML."""
    kind = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    body = f'<worksheet xmlns="{kind}"><sheetData>{rows}</sheetData></worksheet>'
    return repacked(lambda name, old: body.encode() if name == "xl/worksheets/sheet1.xml" else old)


def test_cells_in_the_last_column_only_are_refused_at_once(tmp_path):
    rows = "".join(f'<row r="{n}"><c r="XFD{n}" t="str"><v>x</v></c></row>' for n in range(1, 20_001))
    (tmp_path / "bases.xlsx").write_bytes(content := sheet(rows))
    assert len(content) < 200_000
    with pytest.raises(TableError, match=r"row 1 of sheet 'bases' stands in column 16384, at most 1000 are read"):
        clean("bases", tmp_path / "bases.xlsx")


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="1"><c r="A1" t="str"><v>base_id</v></c></row><row r="999999999999"><c r="A1"><v>1</v></c></row>',
        '<row r="1"><c r="A1" t="str"><v>base_id</v></c></row>' + '<row><c r="XFD1" s="1"/></row>' * 50,
    ],
    ids=["a row of any number", "nothing in the last column"],
)
def test_a_sheet_that_reaches_far_is_looked_at_up_to_a_limit(tmp_path, monkeypatch, rows):
    monkeypatch.setattr(sheets, "MAX_SHEET_ROWS", 1000)
    monkeypatch.setattr(sheets, "MAX_CELLS", 500_000)
    (tmp_path / "bases.xlsx").write_bytes(sheet(rows))
    with pytest.raises(TableError, match="at most 1000 rows and 500000 cells are read"):
        clean("bases", tmp_path / "bases.xlsx")


@pytest.mark.parametrize("heading", ["base_id,name" + ",x" * 100_000, "base_id,name" + "," * 100_000])
def test_a_table_of_a_hundred_thousand_columns_is_refused_before_its_rows_are_read(tmp_path, monkeypatch, heading):
    monkeypatch.setattr(pd, "read_csv", lambda *a, **k: pytest.fail("the rows were read"))
    (tmp_path / "wide.csv").write_text(heading + "\n1,2\n")
    with pytest.raises(TableError, match=f"has 100002 columns, at most {headings.MAX_COLUMNS} are read"):
        clean("bases", tmp_path / "wide.csv")


HALF = "a\ud800"
DOORS = {
    "author": lambda b, out: Bench.open(b.place, author=HALF).log(cup()),
    "trial": lambda b, out: b.log(cup(trial_id=HALF)),
    "note": lambda b, out: b.log(cup(), note=HALF),
    "draft": lambda b, out: b.save_draft(HALF, {}),
    "blob": lambda b, out: b.store_blob(HALF, b""),
    "look": lambda b, out: b.trial(HALF),
    "names": lambda b, out: b.trials(HALF),
    "history": lambda b, out: b.history(HALF),
    "latest": lambda b, out: b.latest("readings", 5, note=HALF),
    "correct": lambda b, out: b.correct("bases", "oat", {"source": HALF}),
    "weigh": lambda b, out: b.calibrate("quince", 3, 0.1, lot=HALF),
    "export": lambda b, out: b.export(out / HALF),
    "backup": lambda b, out: b.backup(out / HALF),
    "no file": lambda b, out: b.export(out / "a\0b"),
    "undo": lambda b, out: b.undo(10**400),
    "number": lambda b, out: b.save_draft("x", {"a": 10**5000}),
}


def cup(**said):
    return Cup("oat", base_g=300, **said).add("quince", g=0.3).read(liking=5)


@pytest.mark.parametrize("door", DOORS)
def test_half_a_character_and_a_number_without_end_are_refused_at_every_door(place, tmp_path, door):
    bench = store_tables.stocked(place())
    before = bench.revision
    with pytest.raises(PairingError) as caught:
        DOORS[door](bench, tmp_path)
    str(caught.value).encode()  # what is said can be printed
    assert bench.revision == before
    assert not isinstance(caught.value, StoreError) or caught.value.hint
