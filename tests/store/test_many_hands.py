"""Many at once: what one change costs, whose turn it is, and what others see of many rows that are under way."""

import math
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pandas as pd
import pytest
import store_tables
from sqlalchemy import event

from pairing import Bench, Cup
from pairing.errors import StoreError, TableError
from pairing.store import bulk, faults, sqlite, turns

STATEMENTS_OF_VERSION_1 = 16
"""To log one cup, beside BEGIN and COMMIT, counted in the program of that version."""


@pytest.fixture
def bench(place):
    return store_tables.stocked(place()).choose_plugins("")  # with plugins the core puts back what a test replaces


def cup(trial_id, g=0.3):
    return Cup("oat", base_g=300, trial_id=trial_id).add("quince", g=g).sip(g=10).read(strength={"quince": 3})


def many(n, first=0):
    trials = [f"t{i}" for i in range(first, first + n)]
    return pd.DataFrame({"trial_id": trials, "base_id": "oat", "flavouring_id": "quince", "dose_g_per_kg": 1.0})


def statements(bench, work):
    seen = []

    def listen(connection, cursor, statement, parameters, context, executemany):
        seen.append(statement)

    event.listen(bench._db.engine, "before_cursor_execute", listen)
    work()
    event.remove(bench._db.engine, "before_cursor_execute", listen)
    return [s for s in seen if not s.startswith("BEGIN")]


def test_one_cup_takes_a_third_of_the_statements_of_version_1(bench, engine):
    bench.log(cup("first"), liking=7)
    seen = statements(bench, lambda: bench.log(cup("second"), liking=7))
    locks = 0 if engine == "sqlite" else 1  # and each COPY of rows goes by the driver alone
    assert len(seen) - locks <= STATEMENTS_OF_VERSION_1 // 3, seen


def test_an_undo_takes_as_many_statements_however_many_rows_it_is_about(bench):
    took = []
    for n in (10, 4000):
        bench.load(readings=many(n, first=n))
        took.append(len(statements(bench, bench.undo)))
    assert took[0] == took[1] <= 12
    assert bench.tables("readings").empty


def test_what_is_remembered_of_the_shelf_is_no_older_than_the_shelf(bench, place):
    bench.log(cup("one"))
    other = Bench.open(place())
    other.load(bases=pd.DataFrame({"base_id": ["rye"], "name": ["Rye drink"]}))
    bench.log(Cup("rye", base_g=300, trial_id="two").add("quince", drops=10).read(liking=5))
    other.calibrate("quince", 20, 0.9)
    bench.log(Cup("oat", base_g=300, trial_id="three").add("quince", drops=10).read(liking=5))
    steps = bench.tables("steps").query("trial_id == 'three' and kind == 'add'")
    assert steps["amount_g"].tolist() == pytest.approx([0.45])
    for revision in (4, 3):  # the cup of rye, then rye
        other.undo(revision)
    with pytest.raises(TableError, match="'rye' is not a known base"):
        bench.log(Cup("rye", base_g=300, trial_id="four").add("quince", drops=10).read(liking=5))


def test_eight_writers_are_all_served(bench, place):
    def work(who):
        mine = Bench.open(place(), author=who)
        for n in range(6):
            mine.log(cup(f"{who}-{n}"), liking=1 + n, taster=who)

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(work, [f"taster-{i}" for i in range(8)]))
    assert len(bench.tables("readings")) == 48
    assert bench.history()["revision"].tolist() == list(range(1, 50))


def test_naps_do_not_grow_with_waiting(monkeypatch, tmp_path):
    bench = store_tables.stocked(tmp_path / "k")
    naps = []
    with bench._db.writing("ana"):
        monkeypatch.setattr(faults, "BUSY_SECONDS", 0.2)
        monkeypatch.setattr(turns.time, "sleep", naps.append)
        with pytest.raises(StoreError, match="locked"):
            Bench.open(tmp_path / "k").undo()
    assert len(naps) > 50
    assert max(naps) <= turns.LONGEST_NAP
    assert len(set(naps)) > 40  # each of another length


@pytest.mark.skipif(turns.fcntl is None, reason="a system without locks of files has no queue")
def test_who_came_first_goes_first(tmp_path):
    file, order, far = tmp_path / "bench.sqlite", [], math.inf
    turns.make(file)
    waiting = []
    code = "import sys; from pathlib import Path; from pairing.store import turns\n"
    code += "with turns.join(Path(sys.argv[1]), float('inf')): print(sys.argv[2], flush=True)"
    with turns.join(file, far):
        for n in range(4):
            taken = turns.queue_of(file).read_bytes()
            waiting.append(subprocess.Popen([sys.executable, "-c", code, file, str(n)], stdout=subprocess.PIPE))
            while turns.queue_of(file).read_bytes() == taken:  # until it has its ticket
                time.sleep(0.01)
        waiting[1].kill()  # whoever dies holds nobody up
        waiting[1].communicate()
        order.append("first")
    for n in (0, 2, 3):
        said, _ = waiting[n].communicate(timeout=30)
        order.append(said.decode().strip())
    assert order == ["first", "0", "2", "3"]


def test_there_is_no_queue_before_two_meet(tmp_path):
    bench = store_tables.stocked(tmp_path / "k")
    bench.log(cup("one"))
    assert not turns.queue_of(tmp_path / "k" / "bench.sqlite").exists()


@pytest.fixture
def small_parts(monkeypatch):
    monkeypatch.setattr(bulk, "AT_ONCE", 10)
    monkeypatch.setattr(bulk, "_BREATH", 0.0)


def test_others_write_between_the_parts_of_a_load_and_see_none_of_it(bench, place, small_parts, monkeypatch):
    other, seen = Bench.open(place(), author="ben"), []

    def let_others():
        other.log(cup(f"between-{len(seen)}"))
        seen.append((len(other.tables("readings")), other.revision))

    monkeypatch.setattr(bulk, "breathe", let_others)
    report = bench.load(readings=many(35))
    assert seen == [(n, n + 1) for n in range(1, 5)]  # of its own revision each, and of the load nothing
    assert report.accepted == {"readings": 35}
    assert report.revision == bench.revision == 6
    assert len(bench.tables("readings")) == 39
    assert bench.history()["action"].tolist() == ["load", "log", "log", "log", "log", "load"]
    bench.undo()
    assert set(bench.tables("readings")["trial_id"]) == {f"between-{n}" for n in range(4)}


def test_a_load_that_met_a_cup_of_the_same_name_is_compared_again(bench, place, small_parts, monkeypatch):
    other, done = Bench.open(place()), []

    def meet():
        if not done:
            done.append(other.log(cup("t3"), liking=9))

    monkeypatch.setattr(bulk, "breathe", meet)
    report = bench.load(readings=many(35))
    assert report.accepted == {"readings": 34}
    assert "trial_id 't3'" in report.refused["reason"].iloc[0]
    assert bench.tables("readings").query("trial_id == 't3'")["liking"].tolist() == [9]
    with bench._db.reading() as tx:
        assert tx.connection.exec_driver_sql("SELECT count(*) FROM readings").scalar() == 35


def test_a_load_that_fails_half_way_leaves_nothing(bench, small_parts, monkeypatch):
    add, times = bulk._add, []

    def fail(*words):
        add(*words)
        times.append(1)
        if len(times) == 2:
            raise StoreError("database or disk is full", "free some disk space")

    monkeypatch.setattr(bulk, "_add", fail)
    with pytest.raises(StoreError, match="is full"):
        bench.load(readings=many(35))
    with bench._db.reading() as tx:
        assert tx.connection.exec_driver_sql("SELECT count(*) FROM readings").scalar() == 0
        assert tx.connection.exec_driver_sql("SELECT count(*) FROM revisions").scalar() == 1


def test_what_a_program_that_died_had_begun_is_not_seen_and_is_swept_out(bench, place, small_parts, monkeypatch):
    class Died(BaseException):
        pass

    def die(*_):
        raise Died

    with monkeypatch.context() as patch:
        patch.setattr(bulk, "_publish", die)
        patch.setattr(bulk, "remove", die)
        with pytest.raises(Died):
            bench.load(readings=many(35))
    assert Bench.open(place()).tables("readings").empty
    assert bench.revision == 1
    monkeypatch.setattr(bulk, "_DEAD_AFTER", bulk.dt.timedelta(0))
    assert bench.load(readings=many(25, first=100)).accepted == {"readings": 25}
    with bench._db.reading() as tx:
        assert tx.connection.exec_driver_sql("SELECT count(*) FROM readings").scalar() == 25


def test_a_disk_that_is_full_is_told_of_and_nothing_is_lost(tmp_path, monkeypatch):
    bench = store_tables.stocked(tmp_path / "k")
    bench.log(cup("kept"))
    prepare = sqlite.prepare

    def full(connection, record):
        prepare(connection, record)
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count={pages}")  # the same error of the database as a full disk gives

    monkeypatch.setattr(sqlite, "prepare", full)
    bench = Bench.open(tmp_path / "k")
    with pytest.raises(StoreError, match="disk is full — free some disk space; nothing was changed"):
        bench.load(readings=many(3000))
    monkeypatch.undo()
    bench = Bench.open(tmp_path / "k")
    assert bench.tables("readings")["trial_id"].tolist() == ["kept"]
    assert bench.load(readings=many(3000)).accepted == {"readings": 3000}


def test_a_clock_that_goes_backwards_changes_no_order(bench, monkeypatch):
    times = iter(f"20{year}-01-01T00:00:00+00:00" for year in range(90, 10, -1))
    monkeypatch.setattr("pairing.store.ledger.now", lambda: next(times))
    for n in range(12):
        bench.store_blob(f"state-{n}", b"x")
        assert bench.load_blob(f"state-{n}") == b"x"
    bench.log(cup("one"))
    bench.log(cup("two"))
    assert bench.history()["about"].tolist()[-2:] == ["trial one", "trial two"]
    assert bench.undo().about == "trial two"
    assert bench.load(readings=many(5)).revision == bench.revision == 5


def test_threads_share_a_bench(bench):
    barrier = threading.Barrier(4)

    def work(n):
        barrier.wait()
        bench.log(cup(f"thread-{n}"))

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(work, range(4)))
    assert len(bench.tables("readings")) == 4
