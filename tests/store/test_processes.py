"""Several programs on one bench, and programs that die while they write."""

import os
import signal
import sqlite3
import subprocess
import sys

import pytest
import store_tables

from pairing import Bench, Cup
from pairing.errors import StoreError
from pairing.store import database, faults

WRITER = """
import sys
from pairing import Bench, Cup
bench = Bench.open(sys.argv[1], author=sys.argv[2])
for n in range(int(sys.argv[3])):
    cup = Cup("oat", base_g=300, trial_id=f"{sys.argv[2]}-{n}").add("quince", g=0.3).sip(g=10)
    bench.log(cup.read(strength={"quince": 3}), liking=1 + n % 9, taster=sys.argv[2])
    print(n, flush=True)
"""


@pytest.fixture
def folder(tmp_path):
    store_tables.stocked(tmp_path / "kitchen")
    return tmp_path / "kitchen"


def start(folder, who, cups):
    command = [sys.executable, "-c", WRITER, str(folder), who, str(cups)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def test_two_writers_at_once_lose_nothing_and_see_each_other(folder):
    bench = Bench.open(folder)
    writers = [start(folder, who, 6) for who in ("ana", "ben")]
    for writer in writers:
        writer.communicate(timeout=120)
    assert [w.returncode for w in writers] == [0, 0]
    trials = bench.tables("readings")["trial_id"]
    assert sorted(trials) == sorted(f"{who}-{n}" for who in ("ana", "ben") for n in range(6))
    history = bench.history()
    assert history["revision"].tolist() == list(range(1, 14))
    assert bench.revision == 13


def test_a_writer_killed_in_mid_write_leaves_whole_trials_only(folder):
    writer = start(folder, "ana", 10_000)
    said = [writer.stdout.readline() for _ in range(5)]
    os.kill(writer.pid, signal.SIGKILL)
    rest = writer.communicate(timeout=60)[0]
    told = len(said) + rest.count("\n")
    bench = Bench.open(folder)
    readings, steps = bench.tables("readings"), bench.tables("steps")
    kept = readings["trial_id"].unique()
    assert told <= len(kept) <= told + 1  # stored before it is told; at most one stored and not yet told
    assert set(steps["trial_id"]) == set(kept)
    assert (steps.groupby("trial_id").size() == 3).all()
    assert bench.history()["revision"].tolist() == list(range(1, len(kept) + 2))
    with sqlite3.connect(folder / database.FILE_NAME) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    raw.close()
    bench.log(Cup("oat", base_g=300).add("quince", g=0.3).read(liking=5))


def test_a_load_killed_half_way_leaves_nothing(folder):
    code = """
import os, sys
import pandas as pd
from pairing import Bench
from pairing.store import ledger
append = ledger.append
def dies(tx, table, frame, revision):
    append(tx, table, frame.head(500), revision)
    print("half", flush=True)
    os.kill(os.getpid(), 9)
ledger.append = dies
n = 1000
frame = pd.DataFrame({"trial_id": [f"t{i}" for i in range(n)], "base_id": "oat", "flavouring_id": "quince"})
Bench.open(sys.argv[1]).load(readings=frame.assign(dose_g_per_kg=1.0))
"""
    done = subprocess.run([sys.executable, "-c", code, str(folder)], capture_output=True, text=True, check=False)
    assert (done.stdout, done.returncode) == ("half\n", -signal.SIGKILL)
    bench = Bench.open(folder)
    assert bench.tables("readings").empty
    assert bench.revision == 1


def test_a_reader_is_not_held_up_by_a_writer(folder, monkeypatch):
    monkeypatch.setattr(faults, "BUSY_SECONDS", 0)  # whoever would have to wait is refused
    bench = Bench.open(folder)
    with sqlite3.connect(folder / database.FILE_NAME, isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE revisions SET revision = 99")
        assert bench.revision == 1
        other.execute("ROLLBACK")
    other.close()


def test_a_writer_that_waits_too_long_says_so(folder, monkeypatch):
    monkeypatch.setattr(faults, "BUSY_SECONDS", 0.1)
    bench = Bench.open(folder)
    with sqlite3.connect(folder / database.FILE_NAME, isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="locked — another program has been writing"):
            bench.undo()
        other.execute("ROLLBACK")
    other.close()
    bench.undo()
