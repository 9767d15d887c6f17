"""Children at the bench: faces, a fresh cup, and few of them."""

import pandas as pd
import pytest
from tapping import asked, button, events, pour, press, said_of

from pairing.bench import Bench


@pytest.fixture
def at(app):
    at = app("one", "bench")
    bench = Bench.open(at.bench_path)
    for table, item, per in (
        ("bases", "oat", "_per_100g"),
        ("flavourings", "plum", "_per_g"),
    ):  # unknown: not for children
        none = {f"caffeine_mg{per}": 0, f"ethanol_g{per}": 0, "sweeteners": "none"}
        bench.correct(table, item, none if table == "bases" else {**none, "carrier": "water:1"})
    bench.load(tasters=pd.DataFrame([{"taster": "kim", "age_years": 9}, {"taster": "lo", "age_years": 4}]))
    at.run()
    return at


def test_a_child_tastes_a_fresh_cup_and_answers_with_a_face(at):
    pour(at, ("kim", "lo"))
    press(at, "I poured")
    assert "straight in" in asked(at)
    press(at, "I added it")
    assert not any(p.label == "Strength" for p in at.pills), "no ladder"
    five = said_of(at, "Liking")
    assert len(five.options) == 5
    five.set_value(7).run()
    press(at, "Done")
    three = said_of(at, "Liking")
    assert len(three.options) == 3
    three.set_value(8).run()
    press(at, "Done")
    log = Bench.open(at.bench_path).tables("readings")
    new = log[log["trial_id"] != "t1"].sort_values("taster")
    assert new[["taster", "liking", "stepped", "ended"]].values.tolist() == [
        ["kim", 7.0, "no", "right"],
        ["lo", 8.0, "no", "right"],
    ]
    assert new["strength"].isna().all()
    assert (new["dose_g_per_kg"] > 0).all()


def test_a_fifth_cup_of_a_day_is_not_poured_for_a_child(at, monkeypatch):
    monkeypatch.setattr("pairing.safety.children.midnight", lambda: "2026-01-05T00:00:00+00:00")
    now = "2026-01-05T17:00:00"
    cup = {
        "base_id": "oat",
        "flavouring_id": "plum",
        "dose_g_per_kg": 1.0,
        "taster": "kim",
        "liking": 5,
        "tasted_at": now,
    }
    Bench.open(at.bench_path).load(readings=pd.DataFrame([{"trial_id": f"k{i}", **cup} for i in range(4)]))
    at.run()
    pour(at, ("kim", "me"))
    press(at, "I poured")
    assert "kim tasted 4 flavoured cups today" in at.error[0].value
    assert [e["kind"] for e in events(at)] == ["base", "plan"]
    said_of(at, "Tasters").set_value(["me"]).run()
    press(at, "I poured")
    assert button(at, "I added it") is not None
