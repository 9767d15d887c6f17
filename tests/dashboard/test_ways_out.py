"""Ways out of a cup at the bench that cannot go on as it is, without a browser."""

import pandas as pd
import pytest
from tapping import asked, choose, events, go_to_the_rest, pour, press, write

from pairing.bench import Bench


@pytest.fixture
def at(app):
    return app("one", "bench")


@pytest.mark.parametrize("text", ["wet dog; old hay", "a:9", "b@c"])
def test_an_off_note_that_the_log_cannot_hold_is_refused(at, text):
    pour(at)
    go_to_the_rest(at)
    write(at, "Another off-note", text)
    press(at, "Save")
    assert "cannot have" in at.error[0].value
    assert "Anything else?" in asked(at)
    write(at, "Another off-note", "wet dog")
    press(at, "Save")
    assert Bench.open(at.bench_path).tables("readings")["off_notes"].dropna().tolist() == ["wet dog:2"]


def test_a_cup_that_the_log_refuses_can_be_undone_and_put_away(at):
    pour(at)
    go_to_the_rest(at)
    bench = Bench.open(at.bench_path)
    (kept,) = bench.list_drafts()
    draft = bench.load_draft(kept["draft_id"])
    said = {
        "kind": "rest",
        "at": draft["events"][-1]["at"],
        "taster": "me",
        "likeness": None,
        "note": "",
        "ended": "right",
    }
    draft = {**draft, "events": [*draft["events"], {**said, "off_notes": {"a;b:9": 2}}]}
    draft["version"] += 1
    bench.save_draft(kept["draft_id"], draft, expected_version=draft["version"] - 1)
    at.run()
    press(at, "Put this cup into the log")
    assert "off_notes" in at.error[0].value.replace("\\", "")
    press(at, "Undo")
    assert "Anything else?" in asked(at)
    go_on = {**draft, "version": draft["version"] + 2}
    bench.save_draft(kept["draft_id"], go_on, expected_version=draft["version"] + 1)
    at.run()
    press(at, "Put it away")
    assert bench.list_drafts() == []


@pytest.mark.parametrize("poured", [False, True])
def test_a_cup_of_something_that_left_the_shelf_has_its_ways_out(app, poured):
    at = app("one", "bench")
    bench = Bench.open(at.bench_path)
    fig = {"flavouring_id": "fig", "name": "Fig drops", "label_dose": "2 drops per 100 ml", "food_use": "yes"}
    bench.load(flavourings=pd.DataFrame([fig]))
    press(at, "A new cup")
    choose(at, "oat")
    at.pills[0].set_value(["fig"]).run()
    press(at, "Next")
    if poured:
        press(at, "I poured")
        press(at, "I added it")
    bench.undo()
    at.run()
    assert not at.exception
    assert "fig" in at.error[0].value
    before = len(events(at))
    press(at, "Undo")
    assert len(events(at)) == before + 1
    if poured:
        press(at, "Undo")
        assert "fig" in at.error[0].value
    press(at, "Put it away")
    assert bench.list_drafts() == []
