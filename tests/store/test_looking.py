"""Cups, the latest rows and who is in use are found by the database: an answer costs about what it says."""

import numpy as np
import pandas as pd
import pytest
import store_tables
from hypothesis import given
from hypothesis import strategies as st

from pairing import Cup
from pairing.errors import TableError
from pairing.store import frames, raw

NUMBERS = (0, 1, 2, 7, 8, 11, 13, 15, 17, 19, 36, 37, 38, 39)


@pytest.fixture
def bench(place):
    return store_tables.copied(of_fourteen_cups, place("kitchen"))


def of_fourteen_cups(place):
    made = store_tables.stocked(place)
    for n in NUMBERS:
        made.log(cup(f"{'even' if n % 2 == 0 else 'odd'}-{n}", taster="ben" if n % 3 else "ana"))
    return made


def cup(trial_id, **said):
    return Cup("oat", base_g=300, trial_id=trial_id).add("quince", g=0.3).read(liking=5, **said)


def rows_fetched(monkeypatch, ask):
    """How many rows the database hands out to answer."""
    found = []

    class Counted(frames._Texts):
        def take(self, cells):
            found.append(len(cells))
            super().take(cells)

    monkeypatch.setattr(frames, "_Texts", Counted)
    ask()
    return max(found, default=0)


def test_trials_are_named_by_how_they_begin_in_the_order_in_which_they_came(bench):
    rows = bench.tables("readings")
    assert bench.trials() == list(dict.fromkeys(rows["trial_id"]))
    assert bench.trials("odd-1") == [f"odd-{n}" for n in (1, 11, 13, 15, 17, 19)]
    bench.log(cup("100%_é"))
    assert bench.trials("100%_") == ["100%_é"]
    assert bench.trials("100_") == bench.trials("EVEN") == []


def test_what_is_taken_back_is_no_trial_and_what_comes_again_is(bench):
    bench.log(cup("late"))
    assert bench.last_trial() == "late"
    bench.undo()
    assert bench.trials("late") == []
    assert bench.last_trial() == "odd-39"


def test_the_last_trial_is_the_one_that_came_last_even_if_an_older_one_has_got_rows_since(bench):
    bench.log(cup("even-2", taster="ben").add("clove", g=0.1).read(taster="ben", liking=6), on_conflict="revise")
    assert bench.last_trial() == "odd-39"


def test_no_log_has_no_last_trial(place):
    assert store_tables.stocked(place("empty")).last_trial() is None


def test_one_cup_is_what_the_tables_say_of_it(bench):
    for name, rows in bench.trial("odd-7").items():
        table = bench.tables(name)
        expected = table[table["trial_id"] == "odd-7"].reset_index(drop=True)
        pd.testing.assert_frame_equal(rows, expected)
    assert all(rows.empty for rows in bench.trial("nobody").values())


def test_the_latest_rows_are_the_end_of_the_table(bench):
    rows = bench.tables("readings")
    pd.testing.assert_frame_equal(bench.latest("readings", 7), rows.tail(7).reset_index(drop=True))
    ana = rows[rows["taster"] == "ana"].tail(3).reset_index(drop=True)
    pd.testing.assert_frame_equal(bench.latest("readings", 3, taster="ana"), ana)
    assert bench.latest("readings", 3, lot=None)["trial_id"].tolist() == ["odd-37", "even-38", "odd-39"]
    with pytest.raises(TableError, match="no column 'person'"):
        bench.latest("readings", 3, person="ana")


def test_who_tasted_is_told_without_the_log(bench):
    assert bench.used("readings", "taster") == ["ana", "ben"]
    assert bench.used("readings", "base_id") == ["oat"]
    with pytest.raises(TableError, match="'liking' of text"):
        bench.used("readings", "liking")


def test_the_last_changes_are_the_end_of_the_history(bench):
    pd.testing.assert_frame_equal(bench.history(most=3), bench.history().tail(3).reset_index(drop=True))


@pytest.mark.parametrize("ask", ["bench.trial('odd-7')", "bench.latest('readings', 5)", "bench.cup('odd-7')"])
def test_what_is_asked_of_one_cup_reads_one_cup(bench, monkeypatch, ask):
    assert rows_fetched(monkeypatch, lambda: eval(ask, {"bench": bench})) <= 5


def test_the_count_of_rows_can_fail(bench, monkeypatch):
    assert rows_fetched(monkeypatch, lambda: bench.tables("readings")) == len(NUMBERS)


def test_the_extremes_of_doses_are_those_of_the_rows(bench):
    bench.load(readings=store_tables.readings())
    row = {"trial_id": ["drops"], "base_id": ["oat"], "flavouring_id": ["clove"], "amount": ["3 drops"]}
    bench.load(readings=pd.DataFrame({**row, "base_g": [200]}))
    rows = bench.tables("readings")
    for one in bench.dose_extremes():
        doses = rows[rows["flavouring_id"] == one.flavouring_id]["dose_g_per_kg"]
        assert (one.least, one.most, one.by_amount) == (doses.min(), doses.max(), one.flavouring_id == "clove")
    both = rows[rows["trial_id"].isin(["a", "drops"])].reset_index(drop=True)
    pd.testing.assert_frame_equal(bench.readings_with(["clove"]), both)


def test_whether_a_column_holds_anything_is_told(bench):
    assert bench.holds("readings", "liking")
    assert not bench.holds("readings", "likeness")
    bench.log(Cup("oat", base_g=300).add("quince", g=0.3).read(note="=once"))
    assert bench.holds("readings", "note")
    bench.undo()
    assert not bench.holds("readings", "note")


def test_columns_of_a_large_table_in_which_nothing_was_written_are_not_fetched(bench, monkeypatch):
    before = bench.tables()
    fetched = []
    monkeypatch.setattr(frames, "CHUNK", 7)
    monkeypatch.setattr(frames, "_nothing", lambda *a, made=frames._nothing: fetched.append(a) or made(*a))
    after = bench.tables()
    for name, table in before.items():
        pd.testing.assert_frame_equal(after[name], table)
    assert len(fetched) == sum(int(before[n].iloc[:, 1:].isna().all().sum()) for n in ("readings", "steps"))


CELLS = st.lists(st.none() | st.text(max_size=2) | st.floats(allow_nan=True) | st.integers(-3, 3), max_size=20)


@given(CELLS)
def test_few_cells_are_numbered_as_pandas_numbers_many(cells):
    given_cells = np.empty(len(cells), dtype=object)
    given_cells[:] = cells
    codes, distinct = raw.factorized(given_cells)
    expected, unique = pd.factorize(given_cells, use_na_sentinel=True)
    assert codes.tolist() == expected.tolist()
    assert distinct.tolist() == list(unique)
