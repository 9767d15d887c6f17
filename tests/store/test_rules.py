import pandas as pd
import pytest
import store_tables
from store_tables import cup, only_refusal

from pairing.errors import TableError
from pairing.store.exchange import clean
from pairing.store.notes import in_short


def test_readings_are_numbered_in_order_of_appearance():
    frame = cup(
        flavouring_id=["quince", "quince", "clove", "quince", "clove"],
        dose_g_per_kg=[1.0, 1.2, 0.2, 1.4, 0.3],
        strength=[1, 2, 2, 3, 3],
    )
    assert clean("readings", frame).table["reading"].tolist() == [1, 2, 2, 3, 3]


def test_numbering_goes_on_after_the_numbers_given_and_by_taster():
    frame = cup(reading=[1, 2, None, None], taster=["ana", "ana", "ana", "ben"], dose_g_per_kg=[1.0, 2.0, 3.0, 3.0])
    assert clean("readings", frame).table["reading"].tolist() == [1, 2, 3, 1]


def test_another_time_or_liking_begins_another_reading():
    frame = cup(flavouring_id=["quince", "clove", "quince"], liking=[5, 8, 8], dose_g_per_kg=[1.0, 0.2, 1.0])
    assert clean("readings", frame).table["reading"].tolist() == [1, 2, 2]


def test_numbering_does_not_depend_on_what_is_refused():
    ladder = cup(dose_g_per_kg=[1.0, 1.2, 1.4], strength=[1, 9, 3])
    assert clean("readings", ladder).table["reading"].tolist() == [1, 3]


def test_a_repeated_line_is_skipped_and_noted():
    cleaned = clean("readings", cup(strength=[3, 3]))
    assert len(cleaned.table) == 1
    assert len(cleaned.skipped) == 1
    assert cleaned.notes == ("readings: 1 row repeats an earlier one and is skipped",)


def test_a_reading_goes_in_whole_or_not_at_all():
    frame = cup(flavouring_id=["quince", "clove"], strength=[3, 9])
    cleaned = clean("readings", frame)
    assert cleaned.table.empty
    assert cleaned.refused["reason"].tolist()[0] == "row 1 of the same reading is refused, and a reading goes in whole"


def test_liking_given_once_counts_for_all_rows_of_its_reading():
    frame = cup(flavouring_id=["quince", "clove"], reading=1, liking=[7, None])
    assert clean("readings", frame).table["liking"].tolist() == [7, 7]


def test_contradictions_within_a_reading_are_refused():
    frame = cup(flavouring_id=["quince", "clove"], reading=1, liking=[7, 3])
    cleaned = clean("readings", frame)
    assert cleaned.table.empty
    assert "another row of the same reading says 7" in cleaned.refused["reason"].tolist()[1]


def test_the_doses_of_a_reading_leave_room_for_the_base():
    three = cup(flavouring_id=["quince", "clove", "plum"], reading=1, dose_g_per_kg=[450.0, 450.0, 450.0])
    cleaned = clean("readings", pd.concat([three, cup(trial_id="u")], ignore_index=True))
    assert cleaned.table["trial_id"].tolist() == ["u"]
    assert cleaned.refused["column"].tolist() == ["dose_g_per_kg"] * 3
    assert cleaned.refused["reason"].tolist() == ["the doses of this reading add up to 1350 g/kg, at most 999 fit"] * 3
    assert cleaned.refused["value"].tolist() == [450.0] * 3
    assert len(clean("readings", three.assign(dose_g_per_kg=333.0)).table) == 3


def test_doses_of_other_readings_and_repeated_rows_do_not_add_up():
    assert len(clean("readings", cup(reading=[1, 2], dose_g_per_kg=[600.0, 700.0])).table) == 2
    assert len(clean("readings", cup(reading=[1, 1], dose_g_per_kg=600.0)).table) == 1
    assert len(clean("readings", cup(strength=[3, 3], dose_g_per_kg=600.0)).table) == 1


def test_one_cup_has_one_base():
    cleaned = clean("readings", cup(base_id=["oat", "soy"], reading=[1, 2]))
    assert "this trial has base_id 'oat' in row 0, here 'soy'" in only_refusal(cleaned)["reason"]


def test_a_plain_cup_has_dose_zero():
    table = clean("readings", cup(flavouring_id=None, dose_g_per_kg=None, liking=6)).table
    assert table["dose_g_per_kg"].tolist() == [0.0]
    assert table["flavouring_id"].tolist() == [None]


def test_same_key_with_other_content_is_refused():
    frame = cup(reading=[1, 1], note=["sweet", "sour"])
    assert "already in row 0 with other content" in only_refusal(clean("readings", frame))["reason"]
    twice = pd.DataFrame({"base_id": ["oat", "oat", "oat"], "name": ["Oat", "Oat", "Oats"]})
    cleaned = clean("bases", twice)
    assert (len(cleaned.table), len(cleaned.skipped), len(cleaned.refused)) == (1, 1, 1)


def test_references_are_checked_with_the_nearest_names():
    known = {"bases": ["oat"], "flavourings": ["quince"], "targets": []}
    assert len(clean("readings", cup(), known=known).table) == 1
    row = only_refusal(clean("readings", cup(base_id="oats"), known=known))
    assert row["reason"] == "base_id 'oats' is not a known base"
    assert row["remedy"].startswith("did you mean oat?")
    long = known | {"bases": {"oat-barista": "Oat drink (barista)", "soy": "Soy", "oat": "Oat"}}
    row = only_refusal(clean("readings", cup(base_id="Oat drink"), known=long))
    assert row["remedy"].startswith("did you mean oat-barista?")
    row = only_refusal(clean("readings", cup(flavouring_id="Quinse"), known=known))
    assert "did you mean quince" in row["remedy"]
    assert clean("readings", cup(flavouring_id="Quince"), known=known).table["flavouring_id"].tolist() == ["quince"]
    steps = pd.DataFrame({"trial_id": ["t"], "step": [1], "kind": ["pour"], "item_id": ["rye"]})
    assert "not a known base or flavouring" in only_refusal(clean("steps", steps, known=known))["reason"]


def test_a_direction_that_is_there_must_be_readable():
    frame = pd.DataFrame(
        {
            "flavouring_id": ["a", "b", "c", "d"],
            "name": list("abcd"),
            "label_dose": ["2 tsp per litre", "a squirt", "a squirt", None],
            "label_dose_g_per_kg": [None, None, 2, None],
        }
    )
    cleaned = clean("flavourings", frame)
    assert cleaned.table["flavouring_id"].tolist() == ["a", "c", "d"]
    assert cleaned.refused["row"].tolist() == [1]
    assert any(n.startswith("label_dose: empty for d (row 3): its dose is a wide guess by form") for n in cleaned.notes)
    assert any("is kept as text" in n for n in cleaned.notes)


def labels(*texts, **facts):
    ids = [f"f{i}" for i in range(len(texts))]
    return pd.DataFrame({"flavouring_id": ids, "name": ids, "label_dose": texts, **facts})


def test_how_labels_are_read_is_said_once_with_the_largest_dose():
    notes = clean("flavourings", labels("5 g/kg", "15 %", "0.5 % finished", "15 %")).notes
    assert in_short(notes) == ["label_dose: '15 %' is read as 15 % by mass of base = 130.43 g/kg finished, and 2 more"]
    assert "label_dose: '5 g/kg' is read as 5 g per kg of base = 4.975 g/kg finished" in notes


def test_an_ounce_that_may_be_either_is_told_for_every_label():
    notes = clean("flavourings", labels("1 oz per gallon", "2 oz/gal", form="syrup", density_g_per_ml=1.32)).notes
    ounces = [note for note in in_short(notes) if "by mass the dose is −27 %" in note]
    assert [note.split(": oz of")[0] for note in ounces] == ["label_dose: '2 oz/gal'", "label_dose: '1 oz per gallon'"]


def test_labels_and_amounts_count_by_the_commas_of_their_file():
    frame = labels("1,250 mg/kg finished", "2 ml per litre", drop_mg=["25,5", "30"], sweeteners=["a:1,125", None])
    cleaned = clean("flavourings", frame)
    assert cleaned.refused.empty
    assert cleaned.table["label_dose"][0] == "1.250 mg/kg finished"
    assert cleaned.table["sweeteners"][0] == "a:1.125"
    assert any("'1,250 mg/kg finished' is read as '1.250 mg/kg finished'" in note for note in cleaned.notes)
    unsaid = clean("flavourings", frame.drop(columns="drop_mg"))
    assert unsaid.refused["remedy"].tolist() == ["sweeteners: write 1125 or 1.125; label_dose: write 1250 or 1.250"]
    assert "'1,250' may be 1250 or 1.250" in unsaid.refused["reason"][0]


def test_weighings_are_repeated_without_a_time():
    frame = pd.DataFrame({"flavouring_id": "quince", "drops": [20, 20, 20], "grams": [0.7, 0.8, 0.7]})
    cleaned = clean("calibrations", frame)
    assert cleaned.table["grams"].tolist() == [0.7, 0.8]
    assert len(cleaned.skipped) == 1


def test_a_version_of_something_unknown_is_noted():
    frame = store_tables.bases().assign(version_of=[None, "soja"])
    assert clean("bases", frame, known={"bases": ["soja"]}).notes == ()
    assert clean("bases", frame, known={"bases": []}).notes == (
        "version_of 'soja' is not known: did you mean soy or oat?",
    )


def test_drops_that_no_flavouring_could_have_are_refused_at_both_doors(tmp_path):
    bench = store_tables.stocked(tmp_path / "kitchen")
    said = "5 g in 2 drops is 2500 mg each, allowed is 0.1 to 500"
    with pytest.raises(TableError, match=said):
        bench.calibrate("quince", 2, 5.0)
    weighed = pd.DataFrame({"flavouring_id": ["quince"] * 4, "drops": [2, 20, 0, 1], "grams": [5.0, 0.7, 0.7, 1e308]})
    report = bench.load(calibrations=weighed)
    assert report.refused["column"].tolist() == ["grams", "drops", "grams"]
    assert said in report.refused["reason"].tolist()
    assert bench.shelf().flavouring("quince").drop_mg == 35
