"""A bench of every released version opens, and loses nothing; `kept/` holds them, made by the program of that version.

To keep a new one, before the tables change: ``python tests/keep_version.py``.
"""

import csv
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pandas as pd
import pytest
from keep_version import keep

from pairing import Bench, Cup
from pairing.errors import StoreError
from pairing.model.columns import TABLES
from pairing.store import database, upgrade
from pairing.store.database import FILE_NAME, Database
from pairing.store.schema import SCHEMA_VERSION, metadata

KEPT = Path(__file__).with_name("kept")
VERSIONS = sorted(int(p.name.removeprefix("version-")) for p in KEPT.iterdir())
STAMPS = ["revision", "revised_at", "author"]


def test_every_version_before_this_one_is_kept():
    assert list(range(1, SCHEMA_VERSION)) == VERSIONS


def test_a_bench_of_this_version_can_be_kept(tmp_path):
    pd.DataFrame({"base_id": ["new"], "name": ["New"]}).to_csv(tmp_path / "bases.csv", index=False)
    folder = keep(tmp_path / "kept", tmp_path)
    with closing(sqlite3.connect(folder / FILE_NAME)) as now:
        assert now.execute("SELECT value FROM meta WHERE name = 'schema_version'").fetchone() == (SCHEMA_VERSION,)
    bench = Bench.open(folder)
    assert bench.shelf().base("new").name == "New"
    told = pd.read_csv(folder / "history.csv")
    before = pd.read_csv(KEPT / f"version-{SCHEMA_VERSION - 1}" / "history.csv")
    assert set(told["of"]) == set(before["of"])
    assert list(told) == list(before)


@pytest.fixture(params=VERSIONS)
def kept(request, engine, place):
    """A bench of an earlier version, not yet opened: its place and its version."""
    folder = KEPT / f"version-{request.param}"
    at = place("kept", restore=folder / "bench.sql")
    if engine == "sqlite":
        Path(at).mkdir()
        shutil.copy(folder / FILE_NAME, at)
    return at, request.param


def exported(version, name):
    path = KEPT / f"version-{version}" / "export" / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return pd.DataFrame(list(csv.DictReader(file)))


def test_it_opens_and_loses_nothing(kept, tmp_path):
    at, version = kept
    bench = Bench.open(at)
    out = bench.export(tmp_path / "out")
    for name in [t for t in TABLES if (KEPT / f"version-{version}" / "export" / f"{t}.csv").exists()]:
        then = exported(version, name).drop(columns=STAMPS)
        now = pd.read_csv(out / f"{name}.csv", dtype=str, keep_default_na=False)
        pd.testing.assert_frame_equal(now[list(then.columns)], then, check_dtype=False)
    revisions = pd.read_csv(out / "revisions.csv", dtype=str, keep_default_na=False)
    pd.testing.assert_frame_equal(revisions, exported(version, "revisions"), check_dtype=False)
    assert bench.settings["currency"] == "GBP"
    assert bench.load_draft("cup-1") == {"base_id": "oat", "steps": [1, 2]}
    assert_same_history(bench, version)
    bench.undo(14)  # of a row taken out by a corrected file
    assert set(bench.tables("readings").query("trial_id == 'b'")["flavouring_id"]) == {"quince"}
    bench.undo(9)  # an undo, and its undo, were about it
    assert bench.tables("readings")["strength"].iloc[0] == 3


def test_it_is_the_same_as_a_bench_that_was_made_now(kept):
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    bench = Bench.open(kept[0])
    with bench._db.reading() as tx:
        context = MigrationContext.configure(tx.connection, opts={"include_name": not_of_a_snapshot})
        assert compare_metadata(context, metadata(bench._db.is_file)) == []
    assert bench.log(Cup("oat", base_g=300, trial_id="new").add("plum", g=0.3).read(liking=5)) == "new"


def not_of_a_snapshot(name, kind, parents):
    return not (kind == "table" and name.startswith("version_"))


def test_a_snapshot_is_kept_beside_it(kept, engine):
    at, version = kept
    bench = Bench.open(at)
    if engine == "sqlite":
        copy = upgrade.snapshot_file(Path(at) / FILE_NAME, version)
        with (
            closing(sqlite3.connect(copy)) as then,
            closing(sqlite3.connect(KEPT / f"version-{version}" / FILE_NAME)) as first,
        ):
            assert list(then.iterdump()) == list(first.iterdump())
    else:
        with bench._db.reading() as tx:
            kept_rows = tx.connection.exec_driver_sql(f"SELECT count(*) FROM version_{version}_readings").scalar()
        with closing(sqlite3.connect(KEPT / f"version-{version}" / FILE_NAME)) as first:
            assert [kept_rows] == list(first.execute("SELECT count(*) FROM readings").fetchone())
    Bench.open(at)  # nothing is done twice


def test_an_export_of_an_earlier_version_loads(place):
    for version in VERSIONS:
        bench = Bench.create(place(f"again-{version}"))
        report = bench.load(KEPT / f"version-{version}" / "export")
        assert report.refused.empty
        out = bench.tables()
        for name in ("bases", "readings", "steps", "comparisons"):
            then = exported(version, name)
            assert out[name].iloc[:, 0].tolist() == then.iloc[:, 0].tolist()
            assert len(out[name]) == len(then)
        assert bench.history().drop(columns="undoes").equals(
            exported(version, "revisions").rename(columns={"at": "revised_at"}).astype({"revision": int})[
                ["revision", "revised_at", "author", "action", "about"]
            ].replace("", None)
        )  # fmt: skip
        assert_same_history(bench, version)


def assert_same_history(bench, version):
    """Compare the history of each trial with what the program of that version told of it.

    A row that a correction of its cup left as it was is told no longer: it stood there as changed.
    """
    then = pd.read_csv(KEPT / f"version-{version}" / "history.csv", dtype={"of": str})
    columns = [c for c in then.columns if c != "of"]
    key = ["table", "taster", "reading", "flavouring_id", "step"]
    for trial, rows in then.groupby("of"):
        now = bench.history(trial).reindex(columns=columns)
        told, all_told = (frame.astype(object).where(frame.notna(), None) for frame in (now, rows[columns]))
        judged = all_told[["strength", "liking"]].astype(float).fillna(-1)
        before = judged.groupby([all_told[name] for name in key], dropna=False).shift(1)
        again = ((judged == before).all(axis=1) & (all_told["state"] == "changed")).tolist()
        lines = dict(zip(all_told.itertuples(index=False, name=None), again, strict=True))
        found = set(told.itertuples(index=False, name=None))
        assert found <= set(lines)
        assert all(lines[line] for line in set(lines) - found)


@pytest.mark.parametrize("kept", VERSIONS, indirect=True)
def test_what_cannot_be_upgraded_stays_as_it_was(kept, engine, monkeypatch):
    at, version = kept
    if engine == "sqlite":
        monkeypatch.setattr(upgrade, "copy_file", no_room)
        with pytest.raises(StoreError, match="no room"):
            Bench.open(at)
    else:
        Database.at(at)
        monkeypatch.setattr(upgrade, "_keep_as_it_is", no_room)
        with pytest.raises(StoreError, match="no room"):
            Bench.open(at)
    monkeypatch.undo()
    assert version in VERSIONS
    assert len(Bench.open(at).tables("readings")) == 4


def no_room(*_):
    raise StoreError("no room", "free some disk space")


def test_a_program_of_the_former_version_is_told_so(kept):
    bench = Bench.open(kept[0])
    with pytest.raises(StoreError, match="has changed the bench: update pairing"), bench._db.writing("old") as tx:
        tx.connection.exec_driver_sql("UPDATE readings SET revision = 1")


def test_a_program_that_was_open_while_the_bench_grew_up_is_refused(tmp_path):
    bench = Bench.create(tmp_path / "k")
    with closing(sqlite3.connect(tmp_path / "k" / database.FILE_NAME)) as raw, raw:
        raw.execute(f"UPDATE meta SET value = {SCHEMA_VERSION + 1} WHERE name = 'schema_version'")
    with pytest.raises(StoreError, match="was changed by another version of this program"):
        bench.load(bases=pd.DataFrame({"base_id": ["oat"], "name": ["Oat"]}))
