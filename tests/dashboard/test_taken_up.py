"""A cup on the page that takes up what was before: a bottle that is open, or a cup that is in the log."""

import pandas as pd
import pytest
from tapping import asked, finish, pour, press, said_of, write

from pairing.bench import Bench


@pytest.fixture
def at(app):
    return app("one", "bench")


def test_which_of_two_open_lots_it_was_is_asked_once_and_remembered(at):
    bench = Bench.open(at.bench_path)
    for lot in "AB":
        bench.buy("plum", "30 ml", lot=lot, bought_at="2026-01-01", opened_at="2026-01-02")
    pour(at)
    press(at, "I poured")
    assert "Which Plum drops is it?" in asked(at)
    said_of(at, "Lot").set_value("B").run()
    press(at, "I added it")
    said_of(at, "Strength").set_value(3).run()
    said_of(at, "Liking").set_value(8).run()
    press(at, "Nothing else, save")
    assert Bench.open(at.bench_path).tables("readings")["lot"].tolist()[-1] == "B"
    assert Bench.open(at.bench_path).shelf().lot_in_use["plum"] == "B"
    pour(at)
    press(at, "I poured")
    assert "Add" in asked(at)


def test_nobody_has_to_know_which_lot_it_was(at):
    bench = Bench.open(at.bench_path)
    for lot in "AB":
        bench.buy("plum", "30 ml", lot=lot, bought_at="2026-01-01", opened_at="2026-01-02")
    pour(at)
    press(at, "I poured")
    press(at, "I do not know")
    assert "Add" in asked(at)


def test_a_logged_cup_is_gone_on_with_where_it_ended(at):
    pour(at)
    finish(at)
    bench = Bench.open(at.bench_path)
    trial = bench.last_trial()
    before = bench.trial(trial)
    at.query_params.clear()
    at.query_params["trial"] = trial
    at.switch_page("views/log.py").run()
    press(at, "Go on with it")
    assert "how much do you like it" in asked(at).lower()
    press(at, "More Plum drops")
    said_of(at, "Measured in").set_value("g").run()
    write(at, "Amount in g", "0.2")
    press(at, "I added this much")
    said_of(at, "Strength").set_value(4).run()
    press(at, "Done with the")
    at.pills[0].set_value(5).run()
    press(at, "Nothing else, save")
    after = Bench.open(at.bench_path).trial(trial)
    assert len(after["steps"]) > len(before["steps"])
    pd.testing.assert_frame_equal(after["steps"].iloc[: len(before["steps"])], before["steps"])
    assert after["readings"]["liking"].tolist() == [8.0, 5.0]
    assert after["readings"]["strength"].tolist() == [3.0, 4.0]
    at.run()  # the same address does not begin it again
    assert Bench.open(at.bench_path).list_drafts() == []
