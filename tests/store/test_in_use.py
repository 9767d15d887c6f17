"""Cups take of the lot in use: its name goes with steps and readings, and its own drops are counted."""

import pandas as pd
import pytest
import store_tables

from pairing import Bench, Cup


@pytest.fixture
def bench(place):
    bench = store_tables.stocked(place("kitchen"))
    bench.buy("quince", "30 ml", lot="A", bought_at="2026-01-01")
    return bench


def logged_lots(bench, trial_id):
    steps, readings = (bench.tables(name) for name in ("steps", "readings"))
    return [
        rows[(rows["trial_id"] == trial_id) & (rows[item] == "quince")]["lot"].tolist()
        for rows, item in ((steps, "item_id"), (readings, "flavouring_id"))
    ]


def quince(**amount):
    return Cup("oat", base_g=300).add("quince", **amount)


def test_a_cup_names_the_lot_in_use_and_the_next_one_after_that(bench):
    first = bench.log(quince(drops=10), liking=6)
    assert logged_lots(bench, first) == [["A"], ["A"]]
    bench.correct("lots", ("quince", "A"), {"emptied_at": "2026-02-01"})
    bench.buy("quince", "30 ml", lot="B", bought_at="2026-02-01")
    assert logged_lots(bench, bench.log(quince(drops=10), liking=6)) == [["B"], ["B"]]
    assert logged_lots(bench, first) == [["A"], ["A"]]


def test_of_two_lots_the_one_named_last_is_in_use_also_when_another_named_it(bench):
    bench.buy("quince", "30 ml", lot="B", bought_at="2026-02-01")
    assert logged_lots(bench, bench.log(quince(drops=3), liking=6)) == [[None], [None]]
    other = Bench.open(bench.place)
    for lot in ("B", "A"):
        other.log(quince(drops=3, lot=lot), liking=6)
        assert logged_lots(bench, bench.log(quince(drops=4), liking=6)) == [[lot], [lot]]
        assert bench.shelf().lot_in_use == {"quince": lot}


def test_a_cup_of_before_it_was_bought_and_what_has_no_lot_name_none(bench):
    early = Cup("oat", base_g=300, at="2025-12-01").add("quince", drops=3).add("clove", g=0.1)
    assert logged_lots(bench, bench.log(early, liking=6)) == [[None], [None]]


def test_two_lots_in_one_cup_leave_open_which_it_was(bench):
    bench.buy("quince", "30 ml", lot="B", bought_at="2026-02-01")
    mixed = bench.log(quince(drops=3, lot="A").add("quince", drops=2, lot="B"), liking=6)
    assert logged_lots(bench, mixed) == [["A", "B"], [None]]


def test_logging_the_same_again_changes_nothing_whatever_lot_is_in_use(bench):
    cup = quince(drops=10)
    bench.log(cup, liking=6)
    bench.correct("lots", ("quince", "A"), {"emptied_at": "2026-02-01"})
    before = bench.revision
    bench.log(cup, liking=6)
    assert bench.revision == before


def test_drops_weigh_what_they_weigh_from_the_lot_in_use(bench):
    bench.calibrate("quince", 20, 0.8, lot="A")
    bench.calibrate("quince", 20, 0.5, lot="B")
    assert bench.shelf().flavouring("quince").drop_mg == 40.0  # A is in use, though B was weighed last
    assert bench.shelf().flavouring("quince", "B").drop_mg == 25.0
    bench.log(quince(drops=10), liking=6, trial_id="of A")
    bench.buy("quince", "30 ml", lot="B", bought_at="2026-02-01")
    bench.log(quince(drops=10, lot="B"), liking=6, trial_id="of B")
    bench.log(Cup("oat", base_g=300, shelf=bench.shelf()).add("quince", drops=10, lot="A"), liking=6, trial_id="A too")
    grams = bench.tables("steps").query("kind == 'add'").set_index("trial_id")["amount_g"]
    assert grams.to_dict() == pytest.approx({"of A": 0.4, "of B": 0.25, "A too": 0.4})


def test_a_table_of_drops_is_read_with_those_of_the_lots_it_names(bench):
    bench.calibrate("quince", 20, 0.8, lot="A")
    bench.calibrate("quince", 20, 0.5, lot="B")
    row = {"base_id": "oat", "flavouring_id": "quince", "amount": "10 drops", "base_g": 400, "liking": 6}
    lots = ["A", "B", None]
    bench.load(readings=pd.DataFrame([{**row, "trial_id": str(n), "lot": lot} for n, lot in enumerate(lots)]))
    dose = bench.learn().log.recipes.dose_g_per_kg[:, 0]
    assert dose == pytest.approx([1000 * g / (400 + g) for g in (0.4, 0.25, 0.4)])
