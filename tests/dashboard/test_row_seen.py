"""Correcting a row that somebody else changes meanwhile, without a browser."""

import pandas as pd
from tapping import correct, press

from pairing.bench import Bench


def field(at, label):
    return next(t for t in at.text_input if t.label == label)


def test_a_shelf_row_that_was_changed_elsewhere_is_a_conflict_and_keeps_what_was_typed(app):
    at = app("one", "shelf")
    bench = Bench.open(at.bench_path)
    next(s for s in at.selectbox if s.key == "choose-flavourings").set_value("plum").run()
    bench.correct("flavourings", "plum", {"stock_g": 77})
    field(at, "Stock (g)").input("55")
    press(at, "Save the correction")
    assert "changed in revision" in at.error[0].value
    assert bench.shelf().flavouring("plum").stock_g == 77
    assert field(at, "Stock (g)").value == "55"
    press(at, "Save the correction")  # knowing it
    assert Bench.open(at.bench_path).shelf().flavouring("plum").stock_g == 55
    assert field(at, "Stock (g)").value == "55"


def test_what_others_changed_is_not_taken_back_by_a_later_correction(app):
    at = app("one", "shelf")
    bench = Bench.open(at.bench_path)
    next(s for s in at.selectbox if s.key == "choose-flavourings").set_value("plum").run()
    bench.correct("flavourings", "plum", {"stock_g": 77})
    field(at, "Label dose").input("4 drops per 100 ml")
    for _ in range(2):
        press(at, "Save the correction")
    plum = Bench.open(at.bench_path).shelf().flavouring("plum")
    assert (plum.stock_g, plum.label_dose) == (77, "4 drops per 100 ml")


def test_a_cup_in_correction_stays_when_somebody_logs(app):
    at = app("one", "log")
    bench = Bench.open(at.bench_path)
    one = {"trial_id": "t2", "base_id": "oat", "flavouring_id": "plum", "dose_g_per_kg": 1.0, "liking": 6}
    bench.load(readings=pd.DataFrame([one]))
    at.run()
    next(b for b in at.button if b.key == "line-t1").click().run()
    correct(at)
    before = field(at, "Note").id
    bench.load(readings=pd.DataFrame([{**one, "trial_id": "t3"}]))
    at.run()
    assert field(at, "Note").id == before  # the browser keeps what is typed there
    field(at, "Note").input("mine")
    bench.correct("readings", {"trial_id": "t1"}, {"note": "theirs"})
    press(at, "Save the correction")
    assert "changed in revision" in at.error[0].value
    assert bench.tables("readings").set_index("trial_id").loc["t1", "note"] == "theirs"
