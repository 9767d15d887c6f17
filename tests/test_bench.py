import subprocess
import sys

import pandas as pd
import pytest
import store_tables
from sqlalchemy import Engine, event

from pairing import Bench, Cup
from pairing.errors import ConflictError, QuantityError, StoreError, TableError, UnknownIdError


@pytest.fixture
def bench(place):
    bench = store_tables.stocked(place("kitchen"))
    bench.load(readings=store_tables.readings())
    return bench


def test_importing_the_bench_loads_nothing_heavy():  # but for arrays, which its store cannot do without
    code = "import sys, pairing.bench; print({'pandas', 'sqlalchemy', 'scipy', 'sklearn'} & set(sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "set()\n"


def test_another_opening_sees_the_same(bench, place):
    other = Bench.open(place("kitchen"), author="ben")
    other.correct("bases", "oat", {"fat_g_per_100g": 1.5})
    assert bench.shelf().base("oat").fat_g_per_100g == 1.5
    assert bench.history()["author"].tolist() == ["me", "me", "ben"]


def test_tables(bench):
    assert set(bench.tables()) >= {"bases", "flavourings", "readings", "steps", "tasters", "targets"}
    assert bench.tables("bases")["base_id"].tolist() == ["oat", "soy"]
    with pytest.raises(TableError, match="did you mean bases"):
        bench.tables("base")


def test_undo_appends_and_can_be_undone(bench):
    undone = bench.undo()
    assert (undone.action, undone.revision) == ("load", 2)
    assert bench.tables("readings").empty
    assert bench.revision == 3
    assert bench.history("a")["state"].tolist() == ["added", "added", "taken back", "taken back"]
    bench.undo(revision=3)
    assert len(bench.tables("readings")) == 3
    bench.undo()
    bench.undo()
    assert bench.tables("bases").empty
    with pytest.raises(StoreError, match="nothing to undo"):
        bench.undo()
    assert bench.history()["undoes"].dropna().tolist() == [2, 3, 2, 1]


def test_undo_of_an_older_change_is_refused_where_others_build_on_it(bench):
    with pytest.raises(ConflictError, match="base_id 'oat' is still used in readings"):
        bench.undo(revision=1)
    bench.correct("readings", {"trial_id": "a"}, {"note": "warm"})
    with pytest.raises(ConflictError, match="changed after revision 2"):
        bench.undo(revision=2)
    with pytest.raises(StoreError, match="no revision 77"):
        bench.undo(revision=77)
    assert len(bench.tables("readings")) == 3


def test_nothing_comes_back_without_what_describes_it(bench):
    for _ in range(2):
        bench.undo()
    first = bench.history().query("action == 'undo'")["revision"].iloc[0]
    with pytest.raises(
        ConflictError, match="'oat' is still used in readings, and would be described nowhere"
    ) as caught:
        bench.undo(revision=first)
    assert "bring back what describes it" in caught.value.hint
    assert bench.tables("readings").empty
    bench.undo(revision=bench.revision)
    bench.undo(revision=first)
    assert (len(bench.tables("bases")), len(bench.tables("readings"))) == (2, 3)


def test_corrections_are_revisions_with_a_history(bench):
    seen = bench.revision
    assert bench.correct("readings", {"trial_id": "a"}, {"liking": 8, "note": "warm"}, expected_revision=seen) == 3
    table = bench.tables("readings")
    assert table["liking"].tolist() == [8, 8, 5]
    assert table["trial_id"].tolist() == ["a", "a", "b"]
    with pytest.raises(ConflictError, match="changed in revision 3, you saw revision 2"):
        bench.correct("readings", {"trial_id": "a"}, {"liking": 9}, expected_revision=seen)
    bench.correct("readings", {"trial_id": "b"}, {"liking": None}, expected_revision=seen)
    assert bench.tables("readings")["liking"].isna().tolist() == [False, False, True]
    history = bench.history("a")
    assert history["liking"].tolist() == [7, 7, 8, 8]
    assert history["state"].tolist() == ["added", "added", "changed", "changed"]
    bench.undo()
    bench.undo()
    assert bench.tables("readings")["liking"].tolist() == [7, 7, 5]
    assert bench.tables("readings")["note"].tolist() == [None] * 3


@pytest.mark.parametrize(
    ("table", "key", "changes", "error", "message"),
    [
        ("bases", "rye", {"name": "Rye"}, UnknownIdError, "no row with base_id 'rye'"),
        ("bases", "oat", {"nam": "Oats"}, TableError, "no column 'nam'"),
        ("bases", "oat", {"base_id": "oats"}, TableError, "part of what names a row"),
        ("bases", "oat", {"fat_g_per_100g": 130}, TableError, "allowed is 0 to 100"),
        ("bases", "oat", {"name": None}, TableError, "name is empty"),
        ("bases", ("oat", "x"), {"name": "x"}, StoreError, "2 values for a key of 1"),
        ("bases", {}, {"name": "x"}, UnknownIdError, "nothing does not name rows"),
        ("bases", {"name": "Oat drink"}, {"name": "x"}, UnknownIdError, "name does not name rows"),
        ("readings", "a", {"base_id": "rye"}, TableError, "not a known base"),
        (
            "readings",
            {"trial_id": "a", "flavouring_id": "clove"},
            {"base_id": "soy"},
            TableError,
            "this trial has base_id",
        ),
    ],
)
def test_corrections_that_are_refused(bench, table, key, changes, error, message):
    before = bench.revision
    with pytest.raises(error, match=message):
        bench.correct(table, key, changes)
    assert bench.revision == before


def test_a_reading_is_corrected_whole(bench):
    bench.correct("readings", {"trial_id": "a", "flavouring_id": "clove"}, {"strength": 4, "liking": 2})
    assert bench.tables("readings")["strength"].tolist() == [3, 4, 4]
    assert bench.tables("readings")["liking"].tolist() == [2, 2, 5]
    bench.correct("readings", {"trial_id": "a", "flavouring_id": "clove"}, {"liking": None})
    assert bench.tables("readings")["liking"].tolist()[2] == 5
    assert bench.tables("readings")["liking"].isna().tolist() == [True, True, False]
    before = bench.revision
    assert bench.correct("readings", {"trial_id": "b"}, {"liking": 5}) == before
    assert bench.revision == before


def test_an_unknown_trial(bench):
    with pytest.raises(UnknownIdError, match="no trial 'aa' — did you mean a"):
        bench.history("aa")


def test_calibrations_give_the_drop_mass(bench):
    assert bench.shelf().flavouring("quince").drop_mg == 30
    assert bench.calibrate("quince", 20, 0.8).mg == 40
    assert bench.calibrate("quince", 20, 0.6).mg == 35
    assert bench.shelf().flavouring("quince").drop_mg == 35
    assert bench.calibrate("quince", 20, 1.0, lot="new bottle").mg == 50
    assert bench.shelf().flavouring("quince").drop_mg == 50
    assert bench.shelf().flavouring("clove").drop_mg is None
    bench.undo()
    assert bench.shelf().flavouring("quince").drop_mg == 35
    # common practice (no source): 20 drops of 2.5 g would be 125 mg each, to be queried
    assert bench.calibrate("clove", 20, 2.5).queried
    with pytest.raises(UnknownIdError, match="did you mean quince"):
        bench.calibrate("quinc", 20, 0.7)
    with pytest.raises(QuantityError):
        bench.calibrate("quince", 20, 0.0)


def test_settings(tmp_path, place):
    bench = Bench.create(place("k"), jurisdiction="us", currency="USD")
    kept = {"currency": "USD", "jurisdiction": "US", "scale_g": 0.1, "amounts": "drops", "volumes": "metric"}
    assert dict(bench.settings) == kept
    bench.configure(scale_g=0.01)
    assert Bench.open(place("k")).settings["scale_g"] == 0.01
    for wrong, message in (
        ({"jurisdiction": "UK"}, "use EU or US"),
        ({"scale_g": 0}, "above 0"),
        ({"currenc": "EUR"}, "did you mean currency"),
        ({"currency": ""}, "short code"),
        ({"currency": "E\x1b[31m"}, "short code"),
    ):
        with pytest.raises(StoreError, match=message):
            bench.configure(**wrong)
    with pytest.raises(StoreError):
        Bench.create(place("other"), jurisdiction="Mars")
    with pytest.raises(StoreError):
        Bench.open(place("other"))


def test_drafts_survive_and_tabs_do_not_overwrite_each_other(bench, place):
    first = bench.save_draft("cup-1", {"base": "oat", "steps": [1, 2]})
    other = Bench.open(place("kitchen"))
    assert other.load_draft("cup-1") == {"base": "oat", "steps": [1, 2]}
    second = other.save_draft("cup-1", {"base": "oat", "steps": [1, 2, 3]}, expected_version=first)
    assert second == first + 1
    with pytest.raises(ConflictError, match="version 2, you have version 1 — load it again"):
        bench.save_draft("cup-1", {"steps": []}, expected_version=first)
    assert bench.load_draft("cup-1")["steps"] == [1, 2, 3]
    bench.save_draft("cup-2", {})
    assert {d["draft_id"]: d["version"] for d in bench.list_drafts()} == {"cup-1": 2, "cup-2": 1}
    bench.drop_draft("cup-1")
    bench.drop_draft("cup-1")
    assert bench.load_draft("cup-1") is None
    with pytest.raises(StoreError, match="use text, numbers"):
        bench.save_draft("cup-3", {"x": object()})
    assert bench.revision == 2


def test_learned_state_is_kept_and_the_oldest_forgotten(bench):
    for n in range(10):
        bench.store_blob(f"model-{n}", bytes([n]) * 1000)
    bench.store_blob("model-9", b"newer")
    assert bench.load_blob("model-9") == b"newer"
    assert bench.load_blob("model-2") == b"\x02" * 1000
    assert bench.load_blob("model-1") is None
    assert bench.revision == 2


STATEMENTS_TO_OPEN_AND_READ = 6  # one asks which columns of a large table were ever written
STATEMENTS_TO_LOG = 14
"""SQL statements; they may become fewer, never more, however long the log is."""


def statements(do):
    """Count the SQL statements that are sent while something is done."""
    sent = []

    def note(connection, cursor, statement, *more):
        sent.append(statement)

    event.listen(Engine, "before_cursor_execute", note)
    try:
        do()
    finally:
        event.remove(Engine, "before_cursor_execute", note)
    return len(sent)


@pytest.mark.parametrize("engine", ["sqlite"], indirect=True)
def test_the_work_of_a_log_does_not_grow_with_the_bench(place):
    bench = store_tables.stocked(place("k"))
    cup = Cup("oat", base_g=300).add("quince", g=0.3).read(strength={"quince": 3})
    for n in (0, 300):
        frame = pd.DataFrame({"trial_id": [f"t{i}" for i in range(n)], "base_id": "oat", "flavouring_id": "quince"})
        if n:
            bench.load(readings=frame.assign(dose_g_per_kg=1.0, strength=3, liking=7))
        opened = statements(lambda: Bench.open(place("k")).tables("readings"))
        assert 0 < opened <= STATEMENTS_TO_OPEN_AND_READ
        logged = statements(lambda n=n: bench.log(cup, liking=7, trial_id=f"new-{n}"))
        assert 0 < logged <= STATEMENTS_TO_LOG
    assert len(bench.tables("readings")) == 302


def test_what_was_swallowed_reads_the_shelf_only_when_something_was(bench):
    assert statements(bench.swallowed) < statements(bench.shelf)
    bench.log(
        Cup("oat", base_g=300).add("quince", g=0.3).sip(g=20, taster="me").read(taster="me", strength={"quince": 3})
    )
    assert bench.swallowed()["me"].drink_g == pytest.approx(20)
