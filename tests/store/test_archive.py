import csv
import filecmp
import gc
import sys
import tempfile
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
import store_tables
from hypothesis import given, settings
from hypothesis import strategies as st

from pairing import Bench, Cup
from pairing.errors import StoreError, TableError
from pairing.model.columns import TABLES
from pairing.store.archive import as_text
from pairing.store.exchange import clean
from pairing.store.sheets import read_sheet, write_workbook

TEXT = st.text(st.characters(exclude_categories=("Cc", "Cs")), max_size=20)


@pytest.fixture
def bench(place):
    return store_tables.copied(with_a_past, place("kitchen"), author="ana")


def with_a_past(place, **options):
    """A logged cup, one undone, a correction, a calibration, odd texts."""
    bench = store_tables.stocked(place, **options)
    bench.load(readings=store_tables.readings().assign(note=["=1+1", "@home", "'=x"], off_notes="bitter:1@aftertaste"))
    cup = Cup("oat", base_g=400, trial_id="0168").add("quince", drops=11).mix().rest(minutes=2.5).sip(g=15)
    bench.log(cup.read(strength={"quince": 2}), ended="not reached", liking=6, note='line\nbreak, comma; "quote"')
    bench.undo()
    bench.log(cup.read(strength={"quince": 3}), ended="right", liking=6.5, note="-5 °C outside")
    bench.correct("bases", "oat", {"density_g_per_ml": 1 / 0.97})
    bench.calibrate("quince", 20, 0.7, lot="0042")
    bench.load(
        targets=pd.DataFrame({"target_id": ["pie"], "name": ["+ quince pie"], "description": ["\u200bzero\u00a0width"]})
    )
    return bench


def same_folder(one, other):
    names = {p.name for p in one.iterdir()} | {p.name for p in other.iterdir()}
    return filecmp.cmpfiles(one, other, names, shallow=False) == (
        filecmp.cmpfiles(one, one, names, shallow=False)[0], [], []
    )  # fmt: skip


@pytest.mark.parametrize("target", ["out", "out.xlsx"])
def test_all_tables_come_back_byte_for_byte(bench, tmp_path, target, place):
    bench.load(**store_tables.second_round())
    bench.correct("recipes", {"recipe_id": "porch", "version": 2}, {"status": "kept"})
    first = bench.export(tmp_path / target)
    again = Bench.create(place("again"), author="ben")
    report = again.load(first)
    assert report.refused.empty
    assert again.revision == bench.revision
    second = again.export(tmp_path / f"second-{target}")
    if first.is_dir():
        assert same_folder(first, second)
        assert {p.stem for p in first.iterdir()} >= set(TABLES)
    else:
        assert first.read_bytes() == second.read_bytes()
    pd.testing.assert_frame_equal(again.history("0168"), bench.history("0168"))
    pd.testing.assert_frame_equal(again.history(), bench.history())
    for name, table in bench.tables().items():
        pd.testing.assert_frame_equal(again.tables(name), table)


def test_single_files_come_back_byte_for_byte_too(bench, tmp_path, place):
    bench.export(tmp_path / "out")
    again = Bench.create(place("again"))
    again.load(**{name: tmp_path / "out" / f"{name}.csv" for name in TABLES})
    again.export(tmp_path / "second")
    for name in TABLES:
        assert (tmp_path / "second" / f"{name}.csv").read_bytes() == (tmp_path / "out" / f"{name}.csv").read_bytes()


def test_loading_ones_own_export_adds_nothing(bench, tmp_path):
    before = bench.revision
    for target in ("out", "out.xlsx"):
        report = bench.load(bench.export(tmp_path / target))
        assert sum(report.accepted.values()) == 0
        assert report.refused.empty
    assert bench.revision == before


@pytest.mark.parametrize("target", ["out", "out.xlsx"])
def test_an_export_replaces_an_earlier_one_and_nothing_else(bench, tmp_path, target):
    assert bench.export(bench.export(tmp_path / target)) == tmp_path / target
    mine = tmp_path / "mine" / ("bases.csv" if target == "out" else "out.xlsx")
    mine.parent.mkdir()
    if target == "out":
        mine.write_text("base_id;name\noat;Oat drink\n", "utf-8")
    else:
        mine.write_bytes(write_workbook({"bases": [["base_id", "name"], ["oat", "Oat drink"]]}))
    before = mine.read_bytes()
    with pytest.raises(StoreError, match="is no earlier export: it stays as it is"):
        bench.export(mine.parent if target == "out" else mine)
    assert mine.read_bytes() == before
    assert [p.name for p in mine.parent.iterdir()] == [mine.name]


def test_an_export_into_a_bench_with_its_own_past_is_a_new_revision(bench, tmp_path, place):
    other = store_tables.stocked(place("other"))
    other.correct("bases", "soy", {"tags": "plain"})
    report = other.load(bench.export(tmp_path / "out"))
    assert other.revision == 3
    assert report.accepted["readings"] == 4
    assert "density_g_per_ml is empty" in report.refused["reason"].iloc[0]


def test_undo_works_in_the_restored_bench(bench, tmp_path, place):
    again = Bench.create(place("again"))
    again.load(bench.export(tmp_path / "out"))
    for one in (bench, again):
        one.undo()
        one.undo()
        one.undo()
    assert again.shelf().base("oat").density_g_per_ml is None
    assert again.shelf().flavouring("quince").drop_mg == bench.shelf().flavouring("quince").drop_mg == 30


def test_nothing_in_an_export_is_run_as_a_formula(bench, tmp_path):
    # common practice: OWASP, CSV Injection: cells that begin with = + - @ are escaped
    lines = (bench.export(tmp_path / "out") / "readings.csv").read_text()
    assert "'=1+1" in lines
    assert ",=" not in lines
    assert ",@" not in lines
    book = openpyxl.load_workbook(bench.export(tmp_path / "out.xlsx"))
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert kinds == {"s", "n"}
    assert all(c.value is None for s in book for r in s.iter_rows() for c in r if c.data_type == "n")


@settings(max_examples=40)
@given(names=st.lists(TEXT, min_size=1, max_size=5), mass=st.floats(2, 400))
def test_any_text_and_number_comes_back(names, mass):
    frame = pd.DataFrame({"taster": [f"t{i}" for i in range(len(names))], "avoid": pd.Series(names, dtype=object)})
    once = clean("tasters", frame.assign(body_mass_kg=mass))
    if len(once.refused):
        assert once.refused["reason"].str.contains("spreadsheet error").all()
    rows = [list(once.table.columns), *([as_text(cell) for cell in row] for row in once.table.itertuples(index=False))]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t.csv"
        with path.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file, lineterminator="\n").writerows(rows)
        path.with_suffix(".xlsx").write_bytes(write_workbook({"tasters": rows}))
        for source in (path, path.with_suffix(".xlsx")):
            pd.testing.assert_frame_equal(clean("tasters", source).table, once.table)


def test_a_workbook_that_does_not_fit_fails_with_one_error_and_no_more_words(monkeypatch):
    resource = pytest.importorskip("resource")
    told = []
    monkeypatch.setattr(sys, "unraisablehook", told.append)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, before[1]))
    try:
        with pytest.raises(OSError, match="File too large"):
            write_workbook({"bases": [["oat"]], "readings": [[f"cup {i}"] for i in range(5000)], "steps": [["pour"]]})
        gc.collect()
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert told == []
    assert sys.unraisablehook == told.append


@settings(max_examples=60)
@given(text=st.lists(st.sampled_from(["_", "x", "_x0041_", "x005F_", "x000a_", "A "]), max_size=8).map("".join))
def test_text_that_looks_like_a_code_of_a_workbook_comes_back(text):
    content = write_workbook({"t": [["name"], [f"a{text}b"]]})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "t.xlsx")
        path.write_bytes(content)
        assert read_sheet(path)["name"].tolist() == [f"a{text}b"]


def test_a_damaged_past_is_refused_whole(bench, tmp_path, place):
    out = bench.export(tmp_path / "out")
    (out / "revisions.csv").write_text("revision,at\nx,y\n")
    again = Bench.create(place("again"))
    with pytest.raises(TableError, match="revisions is not as it was exported"):
        again.load(out)
    assert again.revision == 0
    (out / "revisions.csv").unlink()
    assert again.load(out).accepted["readings"] == 4


def test_where_an_export_cannot_go(bench, tmp_path):
    with pytest.raises(StoreError, match="no kind of export"):
        bench.export(tmp_path / "out.docx")
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="cannot be written"):
        bench.export(tmp_path / "file" / "out")
    with pytest.raises(TableError, match="no tables of a bench"):
        bench.load(tmp_path)


def test_some_tables_only(bench, tmp_path):
    out = bench.export(tmp_path / "some", tables=["bases"])
    assert [p.name for p in out.iterdir()] == ["bases.csv"]


@pytest.mark.parametrize("revision", ["1e400", "9" * 400, "9" * 5000, "two", "0", "-1", "nan"])
def test_a_revision_that_is_none_is_not_taken_over(tmp_path, revision):
    other = Bench.create(tmp_path / "other")
    table = pd.DataFrame(
        {"base_id": ["oat"], "name": ["Oat"], "revision": [revision], "revised_at": "x", "author": "y"}
    )
    assert other.load(bases=table).accepted == {"bases": 1}
    assert other.tables("bases")["base_id"].tolist() == ["oat"]
    assert other.revision == 1
