import base64
from dataclasses import FrozenInstanceError

import pandas as pd
import pytest
import store_tables

from pairing import Bench
from pairing.errors import TableError


@pytest.fixture
def bench(place):
    return store_tables.stocked(place("kitchen"))


def test_good_rows_go_in_and_bad_ones_come_back(bench):
    frame = pd.concat([store_tables.readings(), store_tables.readings().tail(1).assign(trial_id="c", base_id="rye")])
    report = bench.load(readings=frame.reset_index(drop=True))
    assert report.accepted == {"readings": 3}
    assert report.refused["reason"].tolist() == ["base_id 'rye' is not a known base"]
    assert report.refused["trial_id"].tolist() == ["c"]
    assert len(bench.tables("readings")) == 3


def test_tables_of_one_load_know_each_other(place):
    bench = Bench.create(place("k"))
    report = bench.load(
        readings=store_tables.readings(), flavourings=store_tables.flavourings(), bases=store_tables.bases()
    )
    assert report.accepted == {"bases": 2, "flavourings": 2, "readings": 3}
    assert report.refused.empty
    assert report.revision == bench.revision == 1
    with pytest.raises(FrozenInstanceError):
        report.revision = None


def test_the_same_file_twice_adds_nothing(bench, tmp_path):
    path = tmp_path / "log.csv"
    store_tables.readings().to_csv(path, index=False)
    bench.load(readings=path)
    before = bench.revision
    report = bench.load(readings=path)
    assert (report.accepted, report.skipped, report.revision) == ({"readings": 0}, {"readings": 3}, None)
    assert bench.revision == before


def test_a_file_that_has_grown_adds_its_new_rows(bench):
    bench.load(readings=store_tables.readings())
    more = pd.concat([store_tables.readings(), store_tables.readings().tail(1).assign(trial_id="c")], ignore_index=True)
    report = bench.load(readings=more)
    assert (report.accepted, report.skipped) == ({"readings": 1}, {"readings": 3})


def test_same_key_with_other_content_is_refused_unless_it_is_a_revision(bench):
    bench.load(readings=store_tables.readings())
    changed = store_tables.readings().assign(liking=[8, 8, 5])
    report = bench.load(readings=changed)
    assert report.accepted == {"readings": 0}
    assert report.refused["row"].tolist() == [0, 1]
    assert "liking is 7, here 8" in report.refused["reason"].iloc[0]
    assert 'on_conflict="revise"' in report.refused["remedy"].iloc[0]
    assert bench.tables("readings")["liking"].tolist() == [7, 7, 5]
    report = bench.load(readings=changed, on_conflict="revise")
    assert (report.revised, report.skipped, len(report.refused)) == ({"readings": 2}, {"readings": 1}, 0)
    assert bench.tables("readings")["liking"].tolist() == [8, 8, 5]
    assert bench.history("a")["liking"].tolist() == [7, 7, 8, 8]


def test_columns_that_a_file_does_not_have_are_kept(bench):
    bench.load(readings=store_tables.readings().assign(note="careful"))
    assert bench.load(readings=store_tables.readings()).skipped == {"readings": 3}
    bench.load(readings=store_tables.readings().assign(liking=9), on_conflict="revise")
    assert bench.tables("readings")["note"].tolist() == ["careful"] * 3


def test_a_reading_cannot_silently_gain_or_lose_a_flavouring(bench):
    bench.load(readings=store_tables.readings().tail(1))
    more = store_tables.readings().tail(1).assign(flavouring_id="clove", dose_g_per_kg=0.1)
    report = bench.load(readings=more)
    assert report.accepted == {"readings": 0}
    assert "its reading is kept with other rows" in report.refused["reason"].iloc[0]
    report = bench.load(readings=more, on_conflict="revise")
    assert (report.accepted, report.revised, report.skipped) == ({"readings": 1}, {"readings": 1}, {})
    assert "taken out, as their readings no longer list them: quince of trial b" in report.notes[-1]
    assert bench.tables("readings")["flavouring_id"].tolist() == ["clove"]
    bench.undo()
    assert bench.tables("readings")["flavouring_id"].tolist() == ["quince"]


def test_a_reading_that_lists_less_is_another_reading(bench):
    bench.load(readings=store_tables.readings())
    less = store_tables.readings().iloc[[0, 2]]
    report = bench.load(readings=less)
    assert (report.accepted, report.revised, report.skipped) == ({"readings": 0}, {}, {"readings": 1})
    assert report.refused["row"].tolist() == [0]
    assert "its reading is kept with other rows" in report.refused["reason"].iloc[0]
    assert report.revision is None
    report = bench.load(readings=less, on_conflict="revise")
    assert (report.accepted, report.revised, report.skipped) == ({"readings": 0}, {"readings": 1}, {"readings": 2})
    assert report.notes == ("readings: taken out, as their readings no longer list them: clove of trial a",)
    assert bench.tables("readings")["flavouring_id"].tolist() == ["quince", "quince"]
    assert bench.history("a")["state"].tolist() == ["added", "added", "taken back"]
    assert bench.load(readings=less).skipped == {"readings": 2}


def test_a_refused_correction_takes_nothing_out(bench):
    bench.load(readings=store_tables.readings())
    other = store_tables.readings().head(1).assign(base_id="soy")
    report = bench.load(readings=other, on_conflict="revise")
    assert (len(report.refused), report.revised, report.revision) == (1, {}, None)
    assert len(bench.tables("readings")) == 3


def test_a_trial_keeps_its_base(bench):
    bench.load(readings=store_tables.readings())
    other = store_tables.readings().tail(1).assign(base_id="oat", reading=2)
    report = bench.load(readings=other)
    assert "trial 'b' is kept with base_id 'soy', here 'oat'" in report.refused["reason"].iloc[0]


def test_rows_that_were_undone_can_come_again(bench):
    bench.load(readings=store_tables.readings())
    bench.undo()
    assert bench.tables("readings").empty
    assert bench.load(readings=store_tables.readings()).accepted == {"readings": 3}
    assert bench.tables("readings")["trial_id"].tolist() == ["a", "a", "b"]


def test_all_tables_load(bench):
    report = bench.load(
        tasters=pd.DataFrame({"taster": ["ana"], "avoid_allergens": ["milk;soy"]}),
        targets=pd.DataFrame({"target_id": ["pie"], "name": ["Quince pie"]}),
        steps=pd.DataFrame({"trial_id": ["t", "t"], "step": [1, 2], "kind": ["pour", "sip"], "item_id": ["oat", None]}),
        comparisons=pd.DataFrame(
            {
                "check_id": ["k"],
                "serving": [1],
                "question": ["stronger"],
                "left": ["a"],
                "right": ["b"],
                "answer": ["left"],
            }
        ),
        calibrations=pd.DataFrame({"flavouring_id": ["quince"], "drops": [20], "grams": ["700 mg"]}),
    )
    assert report.refused.empty
    assert report.accepted == {"tasters": 1, "targets": 1, "steps": 2, "comparisons": 1, "calibrations": 1}
    assert bench.shelf().flavouring("quince").drop_mg == 35


def test_a_load_is_whole_or_not_at_all(bench):
    with pytest.raises(TableError, match="no column name"):
        bench.load(tasters=pd.DataFrame({"taster": ["ana"]}), bases=pd.DataFrame({"base_id": ["rye"]}))
    assert bench.tables("tasters").empty


def test_what_cannot_be_loaded(bench):
    with pytest.raises(TableError, match="did you mean readings"):
        bench.load(reading=store_tables.readings())
    with pytest.raises(TableError, match="use refuse or revise"):
        bench.load(readings=store_tables.readings(), on_conflict="overwrite")
    with pytest.raises(TableError, match="no table is given"):
        bench.load()


def test_a_corrected_fact_of_a_base_is_a_revision(bench):
    frame = store_tables.bases().assign(name=["Oat drink, new", "Soy drink"], fat_g_per_100g=[1.5, None])
    assert bench.load(bases=frame).refused["column"].tolist() == ["name"]
    report = bench.load(bases=frame, on_conflict="revise")
    assert (report.revised, report.skipped) == ({"bases": 1}, {"bases": 1})
    assert bench.shelf().base("oat").fat_g_per_100g == 1.5


def test_what_was_not_known_of_a_base_is_added_without_asking_and_never_put_back(bench):
    frame = store_tables.bases().assign(fat_g_per_100g=[1.5, None])
    assert bench.load(bases=frame).revised == {"bases": 1}
    bench.correct("bases", "oat", {"fat_g_per_100g": None})
    refused = bench.load(bases=frame.assign(protein_g_per_100g=3.0)).refused
    assert refused["column"].tolist() == ["fat_g_per_100g"], "what was emptied on purpose stays empty"
    assert bench.shelf().base("oat").fat_g_per_100g is None
    assert bench.shelf().base("soy").protein_g_per_100g == 3


def test_ids_are_made_from_names_and_names_taken_for_ids(bench):
    report = bench.load(
        flavourings=pd.DataFrame({"Name": ["Rose", "Quince drops", "Fig"], "ID": ["", "", "fig"], "Role": "flavour"}),
        readings=store_tables.cup(trial_id=["x", "y"], base_id=["OAT drink", "Soy"], flavouring_id=["Rose", "quince"]),
    )
    assert report.refused.empty
    assert list(bench.shelf().flavourings) == ["quince", "clove", "rose", "fig"]
    assert bench.tables("readings")["base_id"].tolist()[-2:] == ["oat", "soy"]
    said = " ".join(map(str, report.notes))
    assert "'OAT drink' is taken for oat, 'Soy' is taken for soy" in said
    assert "made from the names: rose, quince" in said


def test_a_file_without_any_name_or_id_is_refused_row_by_row(bench):
    refused = bench.load(bases=pd.DataFrame({"name": [None, ""], "fat_g_per_100g": [1.5, 2]})).refused
    assert refused["row"].tolist() == [0, 1]


def test_several_flavourings_in_a_row_become_a_row_each_under_the_number_of_theirs(bench):
    log = {"Cup": ["x", "y", "z"], "Base": "oat", "base g": 250, "Score": [7, 6, 5], "Strength": [3, 3, 3]}
    log |= {"Flavouring 1": ["quince", "quince", None], "Drops 1": [4, 5, None]}
    log |= {"Flavouring 2": ["clove", None, None], "Drops 2": ["2", None, None]}
    report = bench.load(readings=pd.DataFrame(log))
    rows = bench.tables("readings").tail(4)
    assert rows["trial_id"].tolist() == ["x", "x", "y", "z"]
    assert rows["flavouring_id"].tolist()[:3] == ["quince", "clove", "quince"]
    assert rows["amount"].tolist()[:3] == ["4 drops", "2 drops", "5 drops"]
    assert rows["strength"].isna().tolist() == [True, True, False, False], "one word for two is of neither"
    assert any("read as a row each: Flavouring 1, Drops 1" in str(note) for note in report.notes)
    refused = bench.load(readings=pd.DataFrame(log | {"Cup": ["p", "q", "r"], "Flavouring 2": ["mint", None, None]}))
    assert refused.refused["row"].tolist() == [0, 0]


def test_a_row_of_several_that_cannot_be_read_is_told_how_to_write_it(bench):
    log = {"Cup": ["x"], "Base": "oat", "First flavour": "quince", "Second flavour": "clove"}
    with pytest.raises(TableError, match="a row for every flavouring, with the same trial_id"):
        bench.load(readings=pd.DataFrame(log))


def test_a_name_of_two_is_refused_with_the_choices(bench):
    bench.load(flavourings=pd.DataFrame({"flavouring_id": ["rose-a", "rose-b"], "name": "Rose"}))
    row = bench.load(readings=store_tables.cup(flavouring_id="rose")).refused.iloc[0]
    assert row["reason"] == "flavouring_id 'rose' may be flavouring rose-a or rose-b"


def test_files_that_lack_columns_are_told_at_once(bench):
    with pytest.raises(TableError, match=r"bases has no column base_id and no column name.*readings has no column"):
        bench.load(bases=pd.DataFrame({"fat": [1]}), readings=pd.DataFrame({"liking": [1]}))


def test_what_is_improbable_is_taken_with_a_note(bench):
    frame = store_tables.readings().head(1).assign(trial_id="n", dose_g_per_kg=0.0, strength=3, tasted_at="2099-06-01")
    report = bench.load(readings=frame)
    assert report.accepted == {"readings": 1}
    notes = " ".join(report.notes)
    assert "reads 3 at dose 0: check the dose" in notes
    assert "is in the future" in notes


def test_lots_weighings_recipes_and_photos_are_tables_like_the_others(bench):
    report = bench.load(**store_tables.second_round())
    assert report.refused.empty
    assert report.accepted == {
        "flavourings": 1, "tasters": 1, "readings": 1, "lots": 2, "weighings": 1, "recipes": 2, "photos": 1,
    }  # fmt: skip
    assert sum(bench.load(**store_tables.second_round()).skipped.values()) == 9
    assert base64.b64decode(bench.tables("photos")["bytes"].iloc[0]) == bytes(range(256)) * 80
    assert bench.shelf().flavouring("salt").wheel == {"fruit", "jam", "honey"}
    assert bench.shelf().tasters["ana"].age_years == 15


@pytest.mark.parametrize(
    ("table", "changes", "reason"),
    [
        ("lots", {"item_id": "quinz"}, "'quinz' is not a known base or flavouring"),
        ("weighings", {"gross_g": -1}, "gross_g is -1, allowed is 0 to inf"),
        ("weighings", {"at": None}, "at is empty"),
        ("recipes", {"doses": "quince=1.6;oops=2"}, "no flavouring 'oops'"),
        ("recipes", {"doses": "quince"}, "quince has no dose"),
        ("recipes", {"doses": "quince=much"}, "'much' is not a number"),
        ("recipes", {"status": "loved"}, "status 'loved' is not known"),
        ("photos", {"bytes": "no picture"}, "bytes is no base64"),
        ("photos", {"bytes": bytes(9_000_000)}, "bytes has 9.0 MB, at most 8 MB"),
        ("readings", {"glass": "half"}, "glass 'half' is not known"),
        ("tasters", {"age_years": 200}, "age_years is 200, allowed is 0 to 130"),
    ],
)
def test_what_is_refused_of_them(bench, table, changes, reason):
    frame = store_tables.second_round()[table].head(1).astype(object)
    for name, value in changes.items():
        frame[name] = [value]
    report = bench.load(**{table: frame})
    assert reason in report.refused["reason"].iloc[0]
    assert bench.tables(table).empty
