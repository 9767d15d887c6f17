"""What is odd in a load is taken and noted, with the rows of the file."""

import pandas as pd
import pytest

from pairing.bench import Bench

FLAVOURINGS = pd.DataFrame(
    {
        "flavouring_id": ["mint", "cocoa", "syrup", "plum"],
        "name": ["Mint", "Cocoa", "Syrup", "Plum"],
        "form": ["drops", "powder", "syrup", "drops"],
        "label_dose_g_per_kg": [0.8, 15.0, 10.0, 2.0],
        "drop_mg": [25.0, None, None, None],
        "density_g_per_ml": [0.95, None, None, 1.1],
    }
)
BASES = pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"]})


@pytest.fixture
def bench(tmp_path):
    made = Bench.create(tmp_path / "b")
    made.load(bases=BASES, flavourings=FLAVOURINGS)
    return made


def notes(bench, *rows, **columns):
    """Load cups of 250 g, of which each row says trial, flavouring and amount, from row 7 of a file on."""
    table = pd.DataFrame(rows, columns=["trial_id", "flavouring_id", "amount"]).assign(base_id="oat", base_g=250.0)
    table.index = pd.RangeIndex(7, 7 + len(table))
    report = bench.load(readings=table.assign(**columns))
    assert report.accepted["readings"] == len(rows)
    return list(report.notes)


def test_what_is_usual_needs_no_note(bench):
    assert notes(bench, ("a", "mint", "8 drops"), ("b", "cocoa", "4 g"), ("c", "plum", "1 ml")) == []


def test_drops_of_a_powder_are_queried(bench):
    (note,) = notes(bench, ("a", "mint", "8 drops"), ("b", "cocoa", "20 drops"), ("c", "cocoa", "9 drops"))
    assert note == "readings: rows 8, 9 count drops of 'cocoa', which is no liquid: write g if it was weighed"


def test_many_drops_of_a_bottle_that_nobody_weighed_are_queried(bench):
    note, *_ = notes(bench, ("a", "plum", "90 drops"), ("b", "plum", "20 drops"), ("c", "mint", "21 drops"))
    assert note.startswith("readings: 90 drops of 'plum' in row 7 may be 1.1 to 5.9 g")


def test_a_bottle_that_was_weighed_is_not_queried(bench):
    bench.calibrate("plum", drops=40, grams=1.2)
    assert notes(bench, ("a", "plum", "30 drops")) == []


def test_spoons_without_a_density_are_queried(bench):
    (note,) = notes(bench, ("a", "syrup", "½ tsp"), ("b", "plum", "½ tsp"), ("c", "syrup", "2 ml"))
    assert note.startswith("readings: ½ tsp of 'syrup' in rows 7, 9 counts 1.00 g per ml, as its density is not known")


def test_a_total_that_falls_is_queried_within_its_cup_reading_by_reading(bench):
    rows = [("a", "mint", "6 drops"), ("a", "mint", "4 drops"), ("b", "mint", "3 drops"), ("a", "mint", "9 drops")]
    said = notes(bench, *rows, reading=[2, 3, 4, 1], taster="ana")
    assert said == [
        f"readings: row {row}: 'mint' falls from {before} to {now} drops within cup 'a': an amount is the total so far"
        for row, before, now in [(7, "9 drops (row 10)", 6), (8, "6 drops (row 7)", 4)]
    ]
    assert notes(bench, ("d", "mint", "6 drops"), ("d", "mint", "4 drops"), reading=1, taster=["ana", "ben"]) == []


def test_a_dose_far_from_its_label_is_queried_by_its_row(bench):
    rows = [("a", "mint", "8 drops"), ("b", "mint", "240 drops"), ("c", "syrup", "0.01 g"), ("d", "cocoa", "100 g")]
    far = [note for note in notes(bench, *rows) if "×" in note]
    assert far == [
        # 240 × 25 mg in 256 g: 23.44 g/kg, of 0.8
        "readings: row 8: cup 'b' has 23.44 g/kg of 'mint', 29 × the label (0.8 g/kg): "
        "check the unit and the decimal point",
        "readings: row 9: cup 'c' has 0.04 g/kg of 'syrup', 0.004 × the label (10 g/kg): "
        "check the unit and the decimal point",
        "readings: row 10: cup 'd' has 285.7 g/kg of 'cocoa', 19 × the label (15 g/kg): "
        "check the unit and the decimal point",
    ]


def test_rows_that_are_known_are_not_queried_again(bench):
    assert notes(bench, ("b", "mint", "20 g"))
    table = pd.DataFrame(
        {"trial_id": ["b"], "base_id": "oat", "flavouring_id": "mint", "amount": "20 g", "base_g": 250}
    )
    assert bench.load(readings=table).notes == ()


def test_names_that_differ_in_capitals_are_queried(bench):
    rows = [("a", "mint", "8 drops"), ("A", "mint", "8 drops"), ("b", "mint", "8 drops")]
    said = notes(bench, *rows, taster=["ana", "ben", "Ana"])
    assert said == [
        "trial_id: 'A' and 'a' differ only in capitals and count as two: if one is meant, undo, and load anew",
        "taster: 'Ana' and 'ana' differ only in capitals and count as two: if one is meant, undo, and load anew",
    ]
    report = bench.load(bases=pd.DataFrame({"base_id": ["OAT"], "name": ["Oat"]}))
    assert report.notes == (
        "base_id: 'OAT' and 'oat' differ only in capitals and count as two: if one is meant, undo, and load anew",
    )


def test_an_empty_taster_is_noted_by_row(bench):
    (note,) = notes(bench, ("a", "mint", "8 drops"), ("b", "mint", "8 drops"), taster=["ana", ""])
    assert note == "taster: empty in row 8: 'me' is written"


def test_a_taster_who_differs_in_capitals_from_one_logged_before_is_queried(bench):
    assert notes(bench, ("a", "mint", "8 drops"), taster="ana") == []
    assert notes(bench, ("b", "mint", "8 drops"), taster="Ana") == [
        "taster: 'Ana' and 'ana' differ only in capitals and count as two: if one is meant, undo, and load anew"
    ]


def test_a_label_of_nothing_is_nothing_to_compare_with(bench):
    bench.load(flavourings=pd.DataFrame({"flavouring_id": ["air"], "name": ["Air"], "label_dose_g_per_kg": [0.0]}))
    assert notes(bench, ("a", "air", "80 g")) == []


def test_a_cup_whose_id_differs_in_capitals_from_one_kept_before_is_queried(bench):
    assert notes(bench, ("cup-a", "mint", "8 drops")) == []
    assert notes(bench, ("Cup-A", "mint", "8 drops")) == [
        "trial_id: 'Cup-A' and 'cup-a' differ only in capitals and count as two: if one is meant, undo, and load anew"
    ]
    assert notes(bench, ("cup-b", "mint", "8 drops")) == []
