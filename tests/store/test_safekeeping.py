"""Copies, another bench, a person who leaves, damaged files, exports that are stopped."""

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pandas as pd
import pytest
import store_tables

from pairing import Bench, Cup
from pairing.cli import main
from pairing.errors import ConflictError, StoreError, TableError, UnknownIdError
from pairing.model.columns import TABLES
from pairing.store import archive, upgrade
from pairing.store.database import FILE_NAME
from pairing.store.salvage import salvage


def cup(trial_id, g=0.3):
    return Cup("oat", base_g=300, trial_id=trial_id).add("quince", g=g).sip(g=10).read(strength={"quince": 3})


@pytest.fixture
def bench(place):
    return store_tables.copied(written, place(), author="ana", currency="GBP")


def written(place, **options):
    bench = store_tables.stocked(place, **options)
    bench.load(readings=store_tables.readings().assign(taster=["ana", "ana", "ben"], note="for ana"))
    bench.load(**store_tables.second_round())
    bench.log(cup("logged"), liking=7, taster="ana")
    bench.correct("readings", {"trial_id": "a"}, {"liking": 8})
    bench.save_draft("cup-1", {"base_id": "oat", "taster": "ana", "said": ["ana", 3]})
    return bench


def same(one, other):
    for name, table in one.tables().items():
        pd.testing.assert_frame_equal(other.tables(name), table)


# -- copies -----------------------------------------------------------------------------------------------------------


def test_a_copy_is_a_bench_of_its_own(bench, tmp_path):
    copy = Bench.open(bench.backup(tmp_path / "copies" / "monday"))
    same(bench, copy)
    assert copy.revision == bench.revision
    assert copy.settings["currency"] == "GBP"
    assert copy.load_draft("cup-1") == bench.load_draft("cup-1")
    pd.testing.assert_frame_equal(copy.history("a"), bench.history("a"))
    copy.log(cup("only there"))
    assert "only there" not in set(bench.tables("readings")["trial_id"])
    with pytest.raises(StoreError, match="there is a bench already"):
        bench.backup(tmp_path / "copies" / "monday")


@pytest.mark.parametrize("engine", ["sqlite"], indirect=True)
def test_a_copy_is_made_while_somebody_writes_and_takes_plugins_along(bench, tmp_path):
    (bench.plugin_folder / "own.py").write_text("PAIRING_API = (1, 0)\n", "utf-8")
    (bench.plugin_folder.parent / "plugins.toml").write_text("[own]\n", "utf-8")
    with bench._db.writing("ben") as tx:
        tx.execute(tx.table("settings").delete())
        folder = bench.backup(tmp_path / "copy")
    assert sorted(p.name for p in folder.iterdir()) == [FILE_NAME, "plugins", "plugins.toml"]
    assert (folder / "plugins" / "own.py").exists()
    assert Bench.open(folder).settings["currency"] == "GBP"  # nothing of what was not finished


@pytest.mark.parametrize("engine", ["sqlite"], indirect=True)
def test_a_copy_that_fails_leaves_nothing(bench, tmp_path, monkeypatch):
    def full(self, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(upgrade.Path, "replace", full)
    with pytest.raises(StoreError, match="No space left on device — free some disk space"):
        bench.backup(tmp_path / "copy")
    assert not list(tmp_path.glob("*copy*"))


# -- two benches in one -----------------------------------------------------------------------------------------------


def test_what_both_have_is_there_once(bench, place):
    report = bench.merge(Bench.open(place()))
    assert (dict(report.accepted), report.revision) == ({}, None)
    assert report.renamed.empty


def test_what_differs_is_kept_apart_wherever_it_stands(bench, place):
    other = Bench.create(place("other"), currency="GBP")
    other.load(bases=store_tables.bases().assign(fat_g_per_100g=[1.5, None]), flavourings=store_tables.flavourings())
    other.log(Cup("oat", base_g=300, trial_id="logged").add("clove", g=0.1).read(liking=4), taster="cho")
    other.log(Cup("soy", base_g=300, trial_id="new").add("quince", g=0.1).read(liking=4), taster="cho")
    other.load(
        tasters=pd.DataFrame({"taster": ["ana"], "body_mass_kg": [70]}),
        targets=pd.DataFrame({"target_id": ["pie"], "name": ["Pie"], "reference_trial_id": ["logged"]}),
        comparisons=pd.DataFrame(
            {"check_id": "c", "serving": [1], "question": "prefer", "left": "oat|clove=1", "right": "logged",
             "answer": "left", "taster": "ana"}
        ),
        recipes=pd.DataFrame({"recipe_id": ["porch"], "version": [1], "base_id": ["oat"], "doses": ["clove=1"]}),
    )  # fmt: skip
    before = other.tables()
    report = bench.merge(other)
    assert report.refused.empty
    kept = {(row.table, row.id): row.kept_as for row in report.renamed.itertuples()}
    assert kept == {
        ("bases", "oat"): "oat~2", ("tasters", "ana"): "ana~2", ("trials", "logged"): "logged~2",
        ("recipes", "porch"): "porch~2",
    }  # fmt: skip
    now = bench.tables()
    theirs = now["readings"].query("trial_id == 'logged~2'").iloc[0]
    assert (theirs["base_id"], theirs["flavouring_id"], theirs["taster"]) == ("oat~2", "clove", "cho")
    assert now["steps"].query("trial_id == 'logged~2'")["item_id"].dropna().tolist()[:2] == ["oat~2", "clove"]
    assert now["readings"].query("trial_id == 'logged'")["liking"].tolist() == [7]
    assert now["targets"].query("target_id == 'pie'")["reference_trial_id"].tolist() == ["logged~2"]
    assert now["comparisons"][["left", "right", "taster"]].iloc[0].tolist() == ["oat~2|clove=1.0", "logged~2", "ana~2"]
    assert now["recipes"].query("recipe_id == 'porch~2'")["base_id"].tolist() == ["oat~2"]
    assert dict(bench.merge(other).accepted) == {}  # nothing is doubled
    for name, table in before.items():
        pd.testing.assert_frame_equal(other.tables(name), table)
    bench.undo()
    assert "oat~2" not in set(bench.tables("bases")["base_id"])


def test_the_past_of_merged_cups_comes_along(bench, place, tmp_path):
    other = store_tables.stocked(place("other"), author="cho", currency="GBP")
    for n in range(3):
        other.log(cup(f"theirs-{n}"), liking=5, taster="cho")
    other.log(cup("logged", g=0.6), liking=2, taster="cho")  # means another cup here
    other.correct("readings", {"trial_id": "logged"}, {"liking": 3})
    other.undo(3)  # theirs-1: what was undone stays there
    told = other.history("logged")
    before, mine = bench.revision, bench.history("logged")
    bench.merge(other)
    came = bench.history("logged~2")
    assert came["author"].tolist() == told["author"].tolist() == ["cho"] * len(told)
    assert came[["revised_at", "state", "liking"]].equals(told[["revised_at", "state", "liking"]])
    assert came["action"].unique().tolist() == ["merged"]
    pd.testing.assert_frame_equal(bench.history("logged"), mine)
    with pytest.raises(UnknownIdError):
        bench.history("theirs-1")
    assert bench.tables("readings").query("trial_id == 'logged~2'")["liking"].tolist() == [3]
    again = Bench.create(place("again"))
    assert again.load(bench.export(tmp_path / "out")).refused.empty
    pd.testing.assert_frame_equal(again.history("logged~2"), came)
    same(bench, again)
    for one in (bench, again):
        one.undo()
        assert "logged~2" not in set(one.tables("readings")["trial_id"])
        assert one.history("logged~2")["state"].tolist()[-1] == "taken back"
    assert bench.merge(other).accepted["readings"] == 3
    assert bench.revision > before


def test_two_currencies_do_not_go_together(bench, place):
    with pytest.raises(ConflictError, match="reckons in GBP, the other in EUR"):
        bench.merge(store_tables.stocked(place("other")))


# -- a person who leaves ----------------------------------------------------------------------------------------------


def test_a_person_is_erased_from_past_revisions_too_and_the_cups_stay(bench, place, tmp_path):
    bench.load(comparisons=pd.DataFrame(
        {"check_id": "c", "serving": [1], "question": "prefer", "left": "a", "right": "b", "answer": "left",
         "taster": "ana"}
    ))  # fmt: skip
    bench.correct("tasters", "ana", {"avoid_allergens": "peanut"})
    bench.store_blob("learned", b"ana")
    likings = bench.tables("readings")["liking"].tolist()
    done = bench.erase_taster("ana")
    assert done.kept_as == "former taster 1"
    assert done.rows == {"readings": 5, "steps": 1, "comparisons": 1, "tasters": 2}
    assert done.mentions == ("readings.note (5 rows)",)
    assert bench.tables("readings")["liking"].tolist() == likings
    assert bench.load_blob("learned") is None
    assert bench.load_draft("cup-1") == {"base_id": "oat", "taster": "former taster 1", "said": ["former taster 1", 3]}
    with bench._db.reading() as tx:
        for name in (*TABLES, "revisions"):
            cells = tx.execute(tx.table(name).select()).all()
            erasure = [row for row in cells if name == "revisions" and row.action == "erase"]  # by ana herself
            left = [c for row in cells if row not in erasure for c in row]
            assert not [c for c in left if c in ("ana", "peanut") or "\x1fana" in str(c)], name
    again = Bench.open(place())
    assert again.history()["author"].tolist()[-1] == "ana"  # who erased: the author of this opening
    assert "taster" in again.history()["about"].tolist()[-1]
    assert set(again.history("a")["taster"]) == {"former taster 1"}
    assert again.undo().action != "erase"
    with pytest.raises(StoreError, match="no revision"):
        again.undo(again.history().query("action == 'erase'")["revision"].iloc[0])
    assert again.load(again.export(tmp_path / "out")).refused.empty
    with pytest.raises(UnknownIdError, match="no taster 'ana'"):
        again.erase_taster("ana")


@pytest.mark.parametrize("engine", ["sqlite"], indirect=True)
def test_nothing_of_a_person_is_left_in_the_file(bench, place):
    bench.load(tasters=pd.DataFrame({"taster": ["zebedee-q"], "avoid": ["marjoram-z"]}))
    bench.log(cup("of zebedee"), taster="zebedee-q")
    bench.erase_taster("zebedee-q")
    for path in Path(place()).glob("bench.sqlite*"):
        assert b"zebedee-q" not in path.read_bytes()
        assert b"marjoram-z" not in path.read_bytes()


def test_erasing_is_asked_for_twice(bench, place, capsys):
    assert main(["erase-taster", "ana", "--bench", str(place())]) == 1
    assert "cannot be taken back" in capsys.readouterr().err
    assert "ana" in set(bench.tables("readings")["taster"])
    assert main(["erase-taster", "ana", "--bench", str(place()), "--yes"]) == 0
    said = capsys.readouterr()
    assert "ana is erased, past revisions too" in said.out
    assert "the name still stands in free text: readings.note" in said.out + said.err


# -- damaged files ----------------------------------------------------------------------------------------------------


@pytest.fixture
def large(tmp_path):
    """A bench of many pages, closed; its file, and its tables."""
    bench = store_tables.stocked(tmp_path / "large")
    n = 3000
    frame = pd.DataFrame({"trial_id": [f"t{i:04}" for i in range(n)], "base_id": "oat", "flavouring_id": "quince"})
    bench.load(readings=frame.assign(dose_g_per_kg=1.0, liking=7, note=[f"note {i} " + "x" * 60 for i in range(n)]))
    bench.log(cup("last"), liking=7)
    return tmp_path / "large" / FILE_NAME, bench.tables()


def test_a_whole_file_is_salvaged_whole(large, tmp_path):
    file, tables = large
    assert salvage(file, tmp_path / "new") == []
    new = Bench.open(tmp_path / "new")
    for name, table in tables.items():
        pd.testing.assert_frame_equal(new.tables(name), table)


def test_a_spoilt_page_costs_its_rows_and_no_others(large, tmp_path):
    file, tables = large
    content = bytearray(file.read_bytes())
    at = content.index(b"note 1500 ")
    page = at // 4096 * 4096
    content[page : page + 200] = b"\xff" * 200
    file.write_bytes(content)
    with pytest.raises(StoreError):
        Bench.open(file.parent).tables("readings")
    losses = salvage(file, tmp_path / "new")
    assert {loss.table for loss in losses} == {"readings"}
    lost = sum(loss.last - loss.first + 1 for loss in losses)
    new = Bench.open(tmp_path / "new").tables()
    assert 0 < lost < 100
    assert len(new["readings"]) == len(tables["readings"]) - lost
    assert "t1500" not in set(new["readings"]["trial_id"])
    pd.testing.assert_frame_equal(new["steps"], tables["steps"])


def test_flipped_bits_are_survived_wherever_they_are(large, tmp_path):
    """Every flip gives rows, or says that nothing can be read: never a fault of the program."""
    file, _ = large
    whole, rows = file.read_bytes(), []
    for n, at in enumerate(range(150, len(whole), len(whole) // 40)):
        content = bytearray(whole)
        for place in range(at, min(at + 2000, len(whole)), 97):
            content[place] ^= 0x55
        file.write_bytes(content)
        try:
            salvage(file, tmp_path / f"new-{n}")
            rows.append(len(Bench.open(tmp_path / f"new-{n}").tables("readings")))
        except StoreError:
            rows.append(0)
    assert sorted(rows)[len(rows) // 2] > 2900


def test_the_command_names_what_is_lost(large, tmp_path, capsys):
    file, _ = large
    with closing(sqlite3.connect(file)) as raw, raw:
        raw.execute("UPDATE readings SET liking = 'good' WHERE trial_id = 't0007'")
        raw.execute("PRAGMA foreign_keys=OFF")
        raw.execute("DELETE FROM revisions WHERE batch = 2")
    assert main(["bench-check", "--bench", str(file.parent)]) == 1
    assert "pairing export FOLDER --salvage" in capsys.readouterr().err
    assert main(["export", str(tmp_path / "out"), "--bench", str(file.parent)]) == 1
    assert "What to do" in capsys.readouterr().err
    assert main(["export", str(tmp_path / "out"), "--bench", str(file.parent), "--salvage"]) == 1
    said = capsys.readouterr().out
    assert "liking was 'good', which is no number" in said
    new = Bench.create(tmp_path / "new")
    assert new.load(tmp_path / "out").refused.empty
    assert len(new.tables("readings")) == 3001


# -- exports ----------------------------------------------------------------------------------------------------------


def test_everything_comes_along_when_asked(bench, place, tmp_path, capsys):
    out = bench.export(tmp_path / "out", everything=True)
    again = Bench.create(place("again"))
    again.load(out)
    assert again.settings == bench.settings
    assert again.load_draft("cup-1") == bench.load_draft("cup-1")
    assert again.list_drafts() == bench.list_drafts()
    second = again.export(tmp_path / "second", everything=True)
    assert {p.name: p.read_bytes() for p in out.iterdir()} == {p.name: p.read_bytes() for p in second.iterdir()}
    bench.export(out)
    assert not (out / "settings.csv").exists()
    assert main(["export", str(out), "--bench", str(place()), "--everything"]) == 0
    assert "Not in it" not in capsys.readouterr().out


def test_an_export_that_fails_leaves_the_earlier_one(bench, tmp_path, monkeypatch):
    out = bench.export(tmp_path / "out")
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    bench.undo()
    write, times = archive._write_csv, []

    def full(path, rows):
        times.append(path)
        if len(times) == 5:
            raise OSError(28, "No space left on device")
        write(path, rows)

    monkeypatch.setattr(archive, "_write_csv", full)
    with pytest.raises(StoreError, match="cannot be written: No space left on device"):
        bench.export(out)
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


@pytest.mark.parametrize("engine", ["sqlite"], indirect=True)
@pytest.mark.parametrize("after", [1, 5, 13])
def test_an_export_that_is_killed_is_never_loaded_as_a_mixture(bench, place, tmp_path, after):
    out = bench.export(tmp_path / "out")
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    bench.undo()
    code = """
import os, sys
from pathlib import Path
from pairing import Bench
replace, left = Path.replace, [int(sys.argv[3])]
def dies(self, target):
    if not left[0]:
        os.kill(os.getpid(), 9)
    left[0] -= 1
    return replace(self, target)
Path.replace = dies
Bench.open(sys.argv[1]).export(sys.argv[2])
"""
    for moved in (0, after):  # none is in its place yet, and some are
        folder = shutil.copytree(out, tmp_path / f"copy-{moved}")
        done = subprocess.run([sys.executable, "-c", code, str(place()), str(folder), str(moved)], check=False)
        assert done.returncode == -9
        again = Bench.create(tmp_path / f"again-{moved}")
        if moved:
            with pytest.raises(TableError, match="was stopped half-way: its files are of two exports — export to it"):
                again.load(folder)
        else:
            assert {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()} == before
            assert again.load(folder).refused.empty
        assert bench.export(folder) == folder
        new = Bench.create(tmp_path / f"new-{moved}")
        assert new.load(folder).refused.empty
        same(bench, new)
