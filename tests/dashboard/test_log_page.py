"""The log as lines that open, without a browser."""

import re

import pandas as pd
from tapping import button, press

from pairing.bench import Bench


def html(at):
    return " ".join(h.proto.body for h in at.get("html"))


def test_a_log_correction_is_made_with_the_words_of_the_bench(app):
    at = app("one", "log", {"trial": "t1"})
    pills = {p.label: p for p in at.pills}
    assert (pills["Strength"].value, pills["Liking"].value) == (3, 7)
    pills["Liking"].set_value(4)
    button(at, "Save the correction").click().run()
    assert not at.exception
    assert Bench.open(at.bench_path).tables("readings")["liking"].tolist() == [4.0]


def test_a_line_opens_its_cup_and_a_link_shows_the_same(app):
    at = app("demo", "log")
    lines = [b for b in at.button if (b.key or "").startswith("line-")]
    assert 0 < len(lines) <= 25
    lines[3].click().run()
    assert not at.exception
    trial = at.query_params["trial"]
    assert trial in (lines[3].key.removeprefix("line-"), [lines[3].key.removeprefix("line-")])
    assert "In the cup" in html(at)
    there = app("demo", "log", {"trial": lines[3].key.removeprefix("line-")})
    assert "In the cup" in html(there)
    press(there, "Repeat it")
    assert Bench.open(there.bench_path).list_drafts()


def test_a_recipe_is_kept_from_its_cup(app):
    at = app("one", "log", {"trial": "t1"})
    button(at, "Keep it").click().run()
    assert not at.exception
    kept = Bench.open(at.bench_path).tables("recipes")
    assert kept[["base_id", "name"]].values.tolist() == [["oat", "Plum drops in Oat drink"]]


def test_amounts_in_the_log_are_as_a_hand_measures_them(app):
    at = app("one", "log")
    bench = Bench.open(at.bench_path)
    row = {"trial_id": "t2", "base_id": "oat", "flavouring_id": "plum", "amount": "410 drops", "base_g": 250}
    bench.load(readings=pd.DataFrame([{**row, "liking": 6}]))
    at.query_params["trial"] = "t2"
    at.run()
    assert "410 drops" not in html(at)
    assert re.search(r"\d g \(\d+ ml\)|\d\.\d g", html(at))


def test_changes_are_told_by_names_and_in_words(app):
    at = app("one", "log")
    bench = Bench.open(at.bench_path)
    bench.correct("readings", {"trial_id": "t1"}, {"liking": 2})
    at.run()
    assert "corrected" in html(at)
    assert "T1" not in html(at)


def test_undo_takes_the_last_change_back(app):
    at = app("one", "log")
    bench = Bench.open(at.bench_path)
    bench.correct("readings", {"trial_id": "t1"}, {"liking": 2})
    at.run()
    button(at, "Undo the last change").click().run()
    assert Bench.open(at.bench_path).tables("readings")["liking"].tolist() == [7.0]


def test_a_report_of_the_log(app):
    at = app("demo", "log")
    next(t for t in at.toggle if t.key == "report").set_value(True).run()
    assert not at.exception
    assert [e.value for e in at.error] == []
    assert at.header[0].value
