"""An export put into an empty bench a part at a time: what others see, what they may do, and what a death leaves."""

import filecmp
import shutil

import pandas as pd
import pytest
import store_tables

from pairing import Bench, Cup
from pairing.errors import StoreError
from pairing.model.columns import TABLES
from pairing.store import bulk, restoring

EXPORTED = {}


@pytest.fixture
def export(place, engine, tmp_path, tmp_path_factory):
    """An export with a past, of a bench that was made once on each database."""
    if engine not in EXPORTED:
        EXPORTED[engine] = exported(place, tmp_path_factory.mktemp("export"))
    return shutil.copytree(EXPORTED[engine], tmp_path / "out")


def exported(place, folder):
    """Cups, one undone, corrections, a row taken out, drafts and settings."""
    bench = store_tables.stocked(place("kitchen"), author="ana")
    bench.load(readings=store_tables.readings())
    for n in range(6):
        bench.log(cup(f"cup-{n}"))
    bench.undo()
    bench.log(cup("cup-5"), liking=6)
    bench.correct("bases", "oat", {"density_g_per_ml": 1.03})
    bench.load(readings=store_tables.readings().head(1).assign(strength=2), on_conflict="revise")
    bench.undo(4)
    bench.load(**store_tables.second_round())
    bench.configure(currency="GBP")
    bench.save_draft("in hand", {"base_id": "oat"})
    return bench.export(folder / "out", everything=True)


@pytest.fixture
def small_parts(monkeypatch):
    monkeypatch.setattr(bulk, "AT_ONCE", 4)
    monkeypatch.setattr(bulk, "_BREATH", 0.0)


def cup(trial_id):
    return Cup("oat", base_g=300, trial_id=trial_id).add("quince", g=0.3).sip(g=10).read(strength={"quince": 3})


def same_folder(one, other):
    names = {p.name for p in one.iterdir()} | {p.name for p in other.iterdir()}
    return filecmp.cmpfiles(one, other, names, shallow=False)[1:] == ([], [])


def kept_rows(bench):
    with bench._db.reading() as tx:
        counts = (tx.connection.exec_driver_sql(f"SELECT count(*) FROM {name}").scalar() for name in TABLES)
        return sum(counts), tx.connection.exec_driver_sql("SELECT count(*) FROM revisions").scalar()


def test_it_comes_back_byte_for_byte_as_it_does_at_once(export, place, tmp_path, monkeypatch):
    at_once = Bench.create(place("at-once"))
    expected = at_once.load(export)
    monkeypatch.setattr(bulk, "AT_ONCE", 4)
    monkeypatch.setattr(bulk, "_BREATH", 0.0)
    written = []
    monkeypatch.setattr(restoring, "_write", lambda *w, do=restoring._write: written.append(1) or do(*w))
    again = Bench.create(place("again"))
    report = again.load(export)
    assert len(written) > 10
    assert (report.accepted, report.revision) == (expected.accepted, expected.revision)
    assert same_folder(export, again.export(tmp_path / "second", everything=True))
    pd.testing.assert_frame_equal(again.history(), at_once.history())
    pd.testing.assert_frame_equal(again.history("cup-5"), at_once.history("cup-5"))
    again.log(cup("after"))
    again.undo()
    again.undo()
    at_once.undo()
    for name, table in at_once.tables().items():
        pd.testing.assert_frame_equal(again.tables(name), table)


def test_others_may_write_meanwhile_and_see_nothing_of_it(export, place, small_parts, monkeypatch):
    again, seen = Bench.create(place("again")), []
    other = Bench.open(place("again"), author="ben")

    def look():
        other.save_draft(f"draft-{len(seen)}", {})
        seen.append((other.revision, len(other.history()), *other.count().values()))

    monkeypatch.setattr(bulk, "breathe", look)
    again.load(export)
    assert len(seen) > 10
    assert set(seen) == {(0,) * len(seen[0])}
    assert again.revision > 0
    assert {"in hand", "draft-0"} <= {draft["draft_id"] for draft in again.list_drafts()}


def test_what_somebody_else_loads_meanwhile_stays_and_the_export_is_compared_with_it(
    export, place, small_parts, monkeypatch
):
    again, done = Bench.create(place("again")), []
    other = Bench.open(place("again"), author="ben")

    def meet():
        if len(done) < 5:
            done.append(1)
        elif len(done) == 5:
            done.append(2)
            other.load(bases=store_tables.bases().assign(name=["Mine", "Mine too"]))

    monkeypatch.setattr(bulk, "breathe", meet)
    report = again.load(export)
    assert again.tables("bases")["name"].tolist() == ["Mine", "Mine too"]
    assert set(report.refused["table"]) >= {"bases"}
    assert again.history()["author"].tolist()[0] == "ben"
    with again._db.reading() as tx:
        query = "SELECT count(*) FROM revisions WHERE revision IS NULL"
        assert tx.connection.exec_driver_sql(query).scalar() == 0


@pytest.mark.parametrize("part", [1, 4, 9])
def test_what_fails_half_way_leaves_nothing(export, place, small_parts, monkeypatch, part):
    again, times = Bench.create(place("again")), []
    write = restoring._write

    def fail(*words):
        write(*words)
        times.append(1)
        if len(times) == part:
            raise StoreError("database or disk is full", "free some disk space")

    with monkeypatch.context() as patch:
        patch.setattr(restoring, "_write", fail)
        with pytest.raises(StoreError, match="is full"):
            again.load(export)
    assert kept_rows(again) == (0, 0)
    assert again.load(export).refused.empty


def test_what_a_program_that_died_had_restored_is_swept_out_and_no_more(export, place, small_parts, monkeypatch):
    again = Bench.create(place("again"))

    class Died(BaseException):
        pass

    def die(*_):
        raise Died

    with monkeypatch.context() as patch:
        patch.setattr(restoring, "_publish", die)
        patch.setattr(bulk, "remove", die)
        with pytest.raises(Died):
            again.load(export)
    assert kept_rows(again)[0] > 10
    assert again.revision == 0
    other = Bench.open(place("again"))
    bulk.sweep(other._db, "ben")  # its times are old, its mark is not: somebody may be at work
    assert kept_rows(again)[0] > 10
    monkeypatch.setattr(bulk, "_DEAD_AFTER", bulk.dt.timedelta(0))
    bulk.sweep(other._db, "ben")
    assert kept_rows(again) == (0, 0)


def test_rows_with_stamps_that_are_taken_here_come_in_parts_too(export, place, small_parts, monkeypatch):
    bench = store_tables.stocked(place("other"), author="cho").choose_plugins("")
    for n in range(12):
        bench.log(cup(f"own-{n}"))
    parts = []
    monkeypatch.setattr(bulk, "_add", lambda *w, do=bulk._add: parts.append(1) or do(*w))
    report = bench.load(readings=export / "readings.csv")
    assert len(parts) > 1
    assert report.accepted["readings"] == len(bench.tables("readings")) - 12
    assert bench.revision == 14


def test_single_files_with_stamps_are_restored_in_parts_too(export, place, tmp_path, small_parts, monkeypatch):
    written = []
    monkeypatch.setattr(restoring, "_write", lambda *w, do=restoring._write: written.append(1) or do(*w))
    again = Bench.create(place("again"))
    again.load(**{name: export / f"{name}.csv" for name in TABLES})
    assert len(written) > 5
    second = again.export(tmp_path / "second")
    for name in TABLES:
        assert (second / f"{name}.csv").read_bytes() == (export / f"{name}.csv").read_bytes()
    assert set(again.history()["action"]) == {"load"}
