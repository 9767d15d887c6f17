"""What only a server does: several benches in its schemas, a state that readers hold, connections that are lost."""

import contextlib
import os
import subprocess
import sys
from pathlib import Path
from subprocess import PIPE

import pandas as pd
import postgres
import pytest
import store_tables

from pairing import Bench, Cup
from pairing.errors import ConflictError, StoreError
from pairing.store import faults, ledger
from pairing.store.database import Database


@pytest.fixture
def url(server):
    server.empty()
    return server.url()


@pytest.fixture
def bench(url):
    return store_tables.stocked(url)


def cup(trial_id, **said):
    return Cup("oat", base_g=300, trial_id=trial_id).add("quince", g=0.3).read(liking=5, **said)


def test_a_bench_on_a_server_does_what_a_folder_does(bench, url, tmp_path):
    bench.load(readings=store_tables.readings().assign(note=["=1+1", None, "crème\nbrûlée"]))
    bench.load(**store_tables.second_round())
    assert bench.load(readings=store_tables.readings()).skipped == {"readings": 3}
    ladder = Cup("oat", base_g=400, trial_id="0168").add("quince", drops=11).sip(g=15).read(strength={"quince": 2})
    bench.log(ladder, liking=7, taster="ana")
    bench.log(ladder, liking=7, taster="ana")
    bench.correct("bases", "oat", {"fat_g_per_100g": 1.5})
    bench.undo()
    bench.calibrate("quince", 20, 0.7)
    bench.store_blob("model", b"\x00\xff")
    assert bench.load_blob("model") == b"\x00\xff"
    assert bench.save_draft("d", {"a": 1}) == 1
    with pytest.raises(ConflictError):
        bench.save_draft("d", {}, expected_version=7)
    other = Bench.open(url)
    assert other.revision == 7
    assert other.plugin_folder is None
    folder = Bench.create(tmp_path / "folder")
    folder.load(other.export(tmp_path / "out"))
    for name, table in other.tables().items():
        pd.testing.assert_frame_equal(folder.tables(name), table)
    with pytest.raises(StoreError, match="there is a bench already"):
        Bench.create(url)


def test_long_ids_fit(bench):
    ids = {"trial_id": "т" * 200, "taster": "ю" * 200, "target_id": None}
    report = bench.load(readings=store_tables.readings().tail(1).assign(**ids))
    assert report.refused.empty
    assert bench.load(readings=store_tables.readings().tail(1).assign(**ids)).skipped == {"readings": 1}


def test_two_writers_are_served_one_after_the_other(bench, url):
    from concurrent.futures import ThreadPoolExecutor

    def work(who):
        mine = Bench.open(url, author=who)
        for n in range(5):
            mine.log(cup(f"{who}{n}"), taster=who)

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(work, ["ana", "ben"]))
    assert len(bench.tables("readings")) == 10
    assert bench.history()["revision"].tolist() == list(range(1, 12))


def test_reads_of_several_tables_see_one_state(bench, url):
    other = Bench.open(url)
    with bench._db.reading() as tx:
        assert ledger.current(tx, "readings").empty
        other.log(cup("later"))
        assert ledger.current(tx, "steps").empty  # readings and steps are of before that cup, both of them
        assert ledger.log_revision(tx) == 1
    assert len(bench.tables("steps")) == 2


def test_a_connection_lost_in_mid_write_is_made_once_more(bench, url, server, monkeypatch):
    begin, times = ledger.begin_revision, []

    def cut_off(tx, *words, **more):
        begun = begin(tx, *words, **more)
        if not times:
            number = tx.connection.exec_driver_sql("SELECT pg_backend_pid()").scalar()
            server.execute(f"SELECT pg_terminate_backend({number})")
        times.append(begun)
        return begun

    monkeypatch.setattr(ledger, "begin_revision", cut_off)
    bench.log(cup("one"))
    assert len(times) == 2
    assert bench.tables("readings")["trial_id"].tolist() == ["one"]
    assert bench.history()["revision"].tolist() == [1, 2]


def test_what_the_server_kept_before_it_was_lost_is_not_written_twice(bench, monkeypatch):
    @contextlib.contextmanager
    def lost_after_the_end(db, author):
        with writing(db, author) as tx:
            yield tx
        monkeypatch.undo()
        raise faults.LostConnectionError("gone", "nobody saw whether it was kept")

    writing = Database.writing
    for n, change in enumerate((lambda: bench.calibrate("quince", 20, 0.7), bench.undo)):
        monkeypatch.setattr(Database, "writing", lost_after_the_end)
        change()
        assert bench.revision == 2 + n
    assert bench.tables("calibrations").empty


def test_a_server_that_stays_away_is_told_of(bench, monkeypatch):
    @contextlib.contextmanager
    def away(db, author):
        raise faults.LostConnectionError("the connection was lost", "check the network")
        yield

    monkeypatch.setattr(Database, "writing", away)
    with pytest.raises(StoreError, match="the connection was lost — check the network"):
        bench.undo()
    monkeypatch.undo()
    assert bench.revision == 1


def test_a_server_that_is_not_there(tmp_path):
    with pytest.raises(StoreError, match="check the network, the address, and that the server runs"):
        Bench.open(f"postgresql+psycopg://ana@/bench?host={tmp_path}")


def test_the_tests_server_ends_with_the_process_that_started_it_however_that_ends(server):
    start = "import postgres; print(postgres.Server(postgres.binaries()).folder, flush=True); input()"
    env = {**os.environ, "PYTHONPATH": str(Path(postgres.__file__).parent)}
    killed = subprocess.Popen([sys.executable, "-c", start], env=env, stdin=PIPE, stdout=PIPE, text=True)
    folder = Path(killed.stdout.readline().strip())
    assert (folder / "data" / "postmaster.pid").exists()
    killed.kill()
    killed.stdout.read()  # closed by the last who holds it: the shell that ends the server
    killed.communicate()
    assert not folder.exists()
