"""A team's bench on a PostgreSQL server: the same behaviour, checked where a server is named.

``PAIRING_TEST_POSTGRES=postgresql+psycopg://user@host/database`` names one; the database is emptied by the tests.
"""

import os

import pandas as pd
import pytest
import store_tables

from pairing import Bench, Cup
from pairing.errors import ConflictError, StoreError

URL = os.environ.get("PAIRING_TEST_POSTGRES", "")
pytestmark = pytest.mark.skipif(not URL, reason="no PostgreSQL server: set PAIRING_TEST_POSTGRES to its URL")


@pytest.fixture
def bench():
    from sqlalchemy import create_engine, text

    pytest.importorskip("psycopg", reason="pip install 'psycopg[binary]'")
    engine = create_engine(URL)
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    engine.dispose()
    return store_tables.stocked(URL)


def test_a_bench_on_a_server_does_what_a_folder_does(bench, tmp_path):
    bench.load(readings=store_tables.readings().assign(note=["=1+1", None, "crème\nbrûlée"]))
    assert bench.load(readings=store_tables.readings()).skipped == {"readings": 3}
    cup = Cup("oat", base_g=400, trial_id="0168").add("quince", drops=11).sip(g=15).read(strength={"quince": 2})
    bench.log(cup, liking=7, taster="ana")
    bench.log(cup, liking=7, taster="ana")
    bench.correct("bases", "oat", {"fat_g_per_100g": 1.5})
    bench.undo()
    bench.calibrate("quince", 20, 0.7)
    bench.store_blob("model", b"\x00\xff")
    assert bench.load_blob("model") == b"\x00\xff"
    assert bench.save_draft("d", {"a": 1}) == 1
    with pytest.raises(ConflictError):
        bench.save_draft("d", {}, expected_version=7)
    other = Bench.open(URL)
    assert other.revision == 6
    assert other.plugin_folder is None
    folder = Bench.create(tmp_path / "folder")
    folder.load(other.export(tmp_path / "out"))
    for name, table in other.tables().items():
        pd.testing.assert_frame_equal(folder.tables(name), table)
    with pytest.raises(StoreError, match="there is a bench already"):
        Bench.create(URL)


def test_long_ids_fit(bench):
    ids = {"trial_id": "т" * 200, "taster": "ю" * 200, "target_id": None}
    report = bench.load(readings=store_tables.readings().tail(1).assign(**ids))
    assert report.refused.empty
    assert bench.load(readings=store_tables.readings().tail(1).assign(**ids)).skipped == {"readings": 1}


def test_two_writers_are_served_one_after_the_other(bench):
    from concurrent.futures import ThreadPoolExecutor

    def work(who):
        mine = Bench.open(URL, author=who)
        for n in range(5):
            cup = Cup("oat", base_g=300, trial_id=f"{who}{n}").add("quince", g=0.3).read(liking=5)
            mine.log(cup, taster=who)

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(work, ["ana", "ben"]))
    assert len(bench.tables("readings")) == 10
    assert bench.history()["revision"].tolist() == list(range(1, 12))
