import datetime as dt
import math
import random

import numpy as np
import pandas as pd
import pytest
import store_tables
from store_tables import cup, only_refusal

from pairing.errors import TableError
from pairing.model.columns import TABLES
from pairing.model.fields import is_missing
from pairing.model.shelf import Shelf
from pairing.store.exchange import clean


def test_a_minimal_table_gets_all_columns_and_defaults():
    table = clean("readings", cup()).table
    assert tuple(table.columns) == TABLES["readings"].names
    row = table.iloc[0]
    assert (row["taster"], row["reading"]) == ("me", 1.0)
    assert row["note"] is None
    assert math.isnan(row["liking"])
    for column in TABLES["readings"].columns:
        kind = np.float64 if column.kind in ("number", "integer") else object
        assert table[column.name].dtype == kind, column.name


def test_cleaning_twice_changes_nothing():
    once = clean("readings", store_tables.readings()).table
    twice = clean("readings", once).table
    pd.testing.assert_frame_equal(once, twice)


def test_clean_tables_make_a_shelf():
    bases = clean("bases", store_tables.bases()).table
    flavourings = clean("flavourings", store_tables.flavourings()).table
    shelf = Shelf.from_tables(bases, flavourings, clean("tasters", pd.DataFrame({"taster": ["ana"]})).table)
    assert shelf.flavouring("quince").drop_mg == 30
    assert shelf.flavouring("clove").drop_mg is None


def test_extra_columns_are_noted_with_the_nearest_name():
    cleaned = clean("readings", cup(likng=7, shelf_no=3))
    assert any("'likng' is not used (did you mean liking" in n for n in cleaned.notes)
    assert any("'shelf_no' is not used" in n for n in cleaned.notes)


def test_a_missing_required_column_is_an_error_that_names_what_is_there():
    with pytest.raises(TableError, match=r"no column base_id and no column dose_g_per_kg .*; it has: trial_id, fl"):
        clean("readings", cup().drop(columns=["base_id", "dose_g_per_kg"]))
    with pytest.raises(TableError, match="no column flavouring_id"):
        clean("readings", cup().drop(columns="flavouring_id"))


def test_unknown_table():
    with pytest.raises(TableError, match="did you mean readings"):
        clean("reading", cup())


@pytest.mark.parametrize(
    ("changes", "column", "reason"),
    [
        ({"liking": 11}, "liking", "liking is 11, allowed is 1 to 9"),
        ({"strength": 2.5}, "strength", "a whole number is needed"),
        ({"strength": 6}, "strength", "allowed is 0 to 5"),
        ({"dose_g_per_kg": -1}, "dose_g_per_kg", "allowed is 0 to 999"),
        ({"dose_g_per_kg": 1000}, "dose_g_per_kg", "allowed is 0 to 999"),
        ({"dose_g_per_kg": math.inf}, "dose_g_per_kg", "allowed is 0 to 999"),
        ({"dose_g_per_kg": "a bit"}, "dose_g_per_kg", "is not a number"),
        ({"dose_g_per_kg": None}, "dose_g_per_kg", "neither dose_g_per_kg nor amount"),
        ({"dose_g_per_kg": None, "amount": "11 drops"}, "base_g", "amount without base_g"),
        ({"dose_g_per_kg": None, "amount": "lots", "base_g": 400}, "amount", "not an amount"),
        ({"trial_id": None}, "trial_id", "trial_id is empty"),
        ({"trial_id": "a\x07b"}, "trial_id", "control character U\\+0007"),
        ({"trial_id": "x" * 201}, "trial_id", "at most 200"),
        ({"note": "bell\x07"}, "note", "control character"),
        ({"ended": "finished"}, "ended", "is not known"),
        ({"tasted_at": "03/04/2026"}, "tasted_at", "two dates"),
        ({"attributes": "overall:x"}, "attributes", "is not a number"),
        ({"attributes": "overall:4;sweetness:6"}, "attributes", "sweetness is 6, allowed is 0 to 5"),
        ({"off_notes": "bitter:7"}, "off_notes", "is not understood"),
        ({"flavouring_id": None}, "dose_g_per_kg", "a dose without a flavouring_id"),
        ({"base_g": "400 kcal"}, "base_g", "does not fit"),
        ({"base_id": "#REF!"}, "base_id", "spreadsheet error"),
    ],
)
def test_a_bad_row_comes_back_in_full(changes, column, reason):
    frame = pd.DataFrame([row for one in (cup(trial_id="fine"), cup(**changes)) for row in one.to_dict("records")])
    cleaned = clean("readings", frame)
    assert cleaned.table["trial_id"].tolist() == ["fine"]
    row = only_refusal(cleaned)
    assert row["table"] == "readings"
    assert (row["row"], row["column"]) == (1, column)
    assert pd.Series([row["reason"]]).str.contains(reason).all(), row["reason"]
    assert row["remedy"]
    for name in frame.columns:
        given, back = frame[name].iloc[1], row[name if name in row else f"{name} (as given)"]
        assert given == back or (pd.isna(given) and pd.isna(back))


def test_raise_names_row_value_limit_and_remedy():
    with pytest.raises(TableError) as caught:
        clean("readings", cup(trial_id=["t", "u", "v"], liking=[7, 11, 12]), on_bad="raise")
    assert caught.value.message == "readings row 1: liking is 11, allowed is 1 to 9 (and 1 more rows)"
    assert caught.value.hint


def test_a_column_named_like_one_of_ours_comes_back_too():
    row = only_refusal(clean("readings", cup(liking=11, reason="felt like it")))
    assert row["reason (as given)"] == "felt like it"


def test_ids_stay_text():
    frame = pd.DataFrame({"base_id": ["0168", "Oat_2", " oat "], "name": ["a", "b", "c"]})
    assert clean("bases", frame).table["base_id"].tolist() == ["0168", "Oat_2", "oat"]


def test_ids_that_came_as_numbers_are_noted():
    for cells in ([168, 20], [168.0, np.nan], pd.array([168, 20], dtype="Int64")):
        cleaned = clean("bases", pd.DataFrame({"base_id": cells, "name": ["a", "b"]}))
        assert cleaned.table["base_id"].tolist()[0] == "168"
        assert any("leading zeros" in n for n in cleaned.notes)


@pytest.mark.parametrize("cell", [dt.datetime(2026, 3, 1), 1.5, True, 2.0**60])
def test_ids_that_a_spreadsheet_has_spoilt_are_refused(cell):
    frame = pd.DataFrame({"base_id": pd.Series([cell, "oat"], dtype=object), "name": ["a", "b"]})
    assert only_refusal(clean("bases", frame))["row"] == 0


def test_unicode_ids_are_brought_to_one_form():
    # published: Unicode Standard Annex #15, normalisation form C
    frame = pd.DataFrame({"base_id": ["cre\u0301me"], "name": ["x"]})
    assert clean("bases", frame).table["base_id"].tolist() == ["cr\u00e9me"]


@pytest.mark.parametrize(
    "c", ["\u200b", "\u200c", "\u200d", "\u200e", "\u202e", "\u2066", "\u2060", "\u00ad", "\U000e0061"]
)
def test_an_id_with_what_nobody_sees_is_refused_and_a_name_goes_without(c):
    frame = pd.DataFrame({"base_id": ["oat", f"o{c}at", None], "name": ["Oat", "Oat", f"P{c}ea"]})
    cleaned = clean("bases", frame)
    assert cleaned.table["base_id"].tolist() == ["oat", "pea"]
    assert cleaned.refused["row"].tolist() == [1]
    assert f"U+{ord(c):04X}" in cleaned.refused["reason"][0]
    assert "must not look alike" in cleaned.refused["remedy"][0]
    joins = c in "\u200c\u200d"  # some scripts and pictures need it
    assert cleaned.table["name"][1] == (f"P{c}ea" if joins else "Pea")
    assert joins or any(f"U+{ord(c):04X}" in note and "left out" in note for note in cleaned.notes)


def test_ids_of_scripts_that_need_joiners_keep_them():
    """Unicode Standard Annex 31, UAX31-R1a: a non-joiner after an Arabic letter, both after a virama."""
    ids = ["می\u200cخواهم", "क्\u200dष", "क्\u200cष", "ශ්\u200dරී"]
    frame = pd.DataFrame({"taster": ids})
    assert clean("tasters", frame).table["taster"].tolist() == ids


def test_a_scale_of_ten_is_told_by_its_heading_or_by_the_caller():
    frame = pd.DataFrame([cup(trial_id=f"t{i}", liking=i).iloc[0] for i in range(1, 11)])
    said = clean(
        "readings", frame.assign(strength=3).rename(columns={"liking": "Liked (1-10)", "strength": "Strong (1-5)"})
    )
    assert any("5 much too strong" in n for n in said.notes)
    given = clean("readings", frame.assign(liking=[f"{i}/10" for i in range(1, 11)]), liking_scale=10)
    for cleaned in (said, given):
        assert cleaned.table["liking"].tolist() == pytest.approx(np.linspace(1, 9, 10))
    undeclared = clean("readings", frame)
    assert "liking is 10, allowed is 1 to 9" in only_refusal(undeclared)["reason"]
    assert any("liking_scale=10" in n for n in undeclared.notes)
    assert "liking" in only_refusal(clean("readings", cup(liking="8/10")))["reason"]


def test_a_shorter_liking_scale_is_declared_and_rescaled():
    frame = cup(trial_id=[f"t{i}" for i in range(10)], liking=[1, 2, 3, 4, 5] * 2)
    cleaned = clean("readings", frame, liking_scale=5)
    assert cleaned.table["liking"].tolist()[:5] == [1, 3, 5, 7, 9]
    assert "liking on 1–5 is rescaled linearly to 1–9" in cleaned.notes
    undeclared = clean("readings", frame)
    assert undeclared.table["liking"].tolist()[:5] == [1, 2, 3, 4, 5]
    assert any("liking_scale=5" in n for n in undeclared.notes)
    assert "allowed is 1 to 5" in only_refusal(clean("readings", cup(liking=6), liking_scale=5))["reason"]
    with pytest.raises(TableError, match="liking_scale is 12"):
        clean("readings", cup(liking=6), liking_scale=12)


def test_energy_may_be_written_as_on_the_label():
    frame = store_tables.flavourings().assign(energy_kcal_per_g=["35 kcal per 8 g", "unknown"])
    cleaned = clean("flavourings", frame)
    energy = cleaned.table["energy_kcal_per_g"]
    assert energy[0] == 4.375
    assert math.isnan(energy[1])
    assert "energy_kcal_per_g: read '35 kcal per 8 g' as 4.375, 'unknown' as unknown" in cleaned.notes


def test_ambiguous_dates_are_decided_by_the_column_and_noted():
    frame = cup(trial_id=["t", "u", "v"], tasted_at=["03/04/2025", "25/12/2025", "03/04/2025"])
    cleaned = clean("readings", frame.set_index(pd.Index([7, 9, 12])))
    assert cleaned.table["tasted_at"].tolist() == ["2025-04-03", "2025-12-25", "2025-04-03"]
    said = "'03/04/2025' in rows 7, 12 is read as 2025-04-03, day first, as '25/12/2025' in row 9 shows"
    assert cleaned.notes == (f"tasted_at: {said}",)
    plain = cup(trial_id=["t", "u"], tasted_at=["25/12/2025", "03.04.2025"])
    assert clean("readings", plain).notes == ()


def test_every_fault_of_a_row_comes_with_its_remedy():
    cleaned = clean("readings", cup(strength=[7], liking=["so-so"], blind=["half"], mixing=[""]))
    row = cleaned.refused.iloc[0]
    assert row["reason"].count("; also: ") == 2
    assert "strength: correct it" in row["remedy"]
    assert "liking: write a number, or one of: dislike extremely" in row["remedy"]
    assert "blind: use one of: sighted, coded" in row["remedy"]


def test_datetime_columns_become_iso_text():
    days = pd.to_datetime(["2026-05-03", None])
    times = pd.to_datetime(["2026-05-03 14:30", None])
    zoned = pd.to_datetime(["2026-05-03 14:30", None]).tz_localize("UTC")
    wanted = (("2026-05-03", days), ("2026-05-03T14:30:00", times), ("2026-05-03T14:30:00+00:00", zoned))
    for text, cells in wanted:
        frame = cup(trial_id=["t", "u"]).assign(tasted_at=cells)
        assert clean("readings", frame).table["tasted_at"].tolist() == [text, None]


def test_choices_take_everyday_words():
    frame = cup(
        trial_id=["t", "u", "v"], stepped=["Y", "No", True], blind=["blind", "Coded", "open"], ended="Too_Strong"
    )
    table = clean("readings", frame).table
    assert table["stepped"].tolist() == ["yes", "no", "yes"]
    assert table["blind"].tolist() == ["coded", "coded", "sighted"]
    assert set(table["ended"]) == {"too strong"}


def test_other_dtypes_give_the_same_table():
    plain = store_tables.readings()
    want = clean("readings", plain).table
    category = plain.assign(base_id=plain["base_id"].astype("category"), trial_id=plain["trial_id"].astype("string"))
    nullable = plain.convert_dtypes()
    text = plain.astype(str)
    for frame in (category, nullable, text):
        pd.testing.assert_frame_equal(clean("readings", frame).table, want)


def test_nothing_given_is_changed():
    frame = store_tables.readings().assign(reading=np.nan)
    before = frame.copy(deep=True)
    clean("readings", frame)
    pd.testing.assert_frame_equal(frame, before)


def test_an_empty_table_is_fine():
    cleaned = clean("readings", cup().iloc[:0])
    assert cleaned.table.empty
    assert tuple(cleaned.table.columns) == TABLES["readings"].names


def test_a_large_log_shares_its_empty_columns():
    n = 150_000
    frame = pd.DataFrame(
        {"trial_id": np.arange(n).astype(str), "base_id": "oat", "flavouring_id": "quince", "dose_g_per_kg": 1.0}
    )
    table = clean("readings", frame).table
    assert len(table) == n
    assert table["note"].isna().all()
    assert table["note"].to_numpy().strides == (0,)
    assert table[table["trial_id"] == "7"]["liking"].isna().all()


ODD_CELLS = (
    *(
        "oat",
        "1,5",
        "3 g",
        "5 %",
        "0168",
        "2026-05-03",
        "3/4/26",
        "too weak",
        "11 drops",
        "none",
        "=1",
        " ",
        "",
        "\x00",
    ),
    *(
        "a\nb",
        "'=x",
        "''+",
        "#N/A",
        "9" * 30,
        "٣",
        "½",
        "1.5.2",
        "a:1;b",
        "a:-1",
        "bitter:2",
        "\ud800",
        "x" * 300,
        b"x",
    ),
    *("\x00", b"x", None, True, False, 0, -1, 10**30, 3, 1.5, math.nan, math.inf, 1e300, (1, 2), [1], {"a": 1}, {"b"}),
    *(dt.date(2026, 1, 1), dt.datetime(1, 1, 1), dt.time(5), pd.Timestamp("2026-01-01", tz="UTC"), pd.NaT, pd.NA),
)
SOUND = {"id": ["oat", "a", "b"], "number": [1.0, 2.0], "integer": [1, 2], "time": ["2026-01-01"], "amounts": ["a:1"]}


@pytest.mark.parametrize("table", sorted(TABLES))
def test_whatever_comes_every_row_is_kept_or_comes_back(table):
    rnd = random.Random(table)
    for _ in range(25):
        n = rnd.randint(1, 5)
        columns = [c for c in TABLES[table].columns if c.required or c.name == "flavouring_id" or rnd.random() < 0.5]
        cells = {
            c.name: [
                rnd.choice(ODD_CELLS) if rnd.random() < 0.3 else rnd.choice(SOUND.get(c.kind, c.choices or ["x"]))
                for _ in range(n)
            ]
            for c in columns
        }
        frame = pd.DataFrame({name: pd.Series(column, dtype=object) for name, column in cells.items()})
        cleaned = clean(table, frame)
        accounted = len(cleaned.table) + len(cleaned.refused) + len(cleaned.skipped)
        empty = [all(is_missing(c) for c in row) for row in frame.itertuples(index=False)]
        assert accounted == n - sum(empty)
        again = clean(table, cleaned.table, on_bad="raise")
        pd.testing.assert_frame_equal(again.table, cleaned.table)


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        (True, "dose_g_per_kg is True, which is no number"),
        (np.bool_(False), "dose_g_per_kg is False, which is no number"),
        (dt.date(2026, 5, 1), "dose_g_per_kg is the date or time 2026-05-01, not a number"),
        (pd.Timestamp("2026-05-01 12:30"), "dose_g_per_kg is the date or time 2026-05-01 12:30:00, not a number"),
        (dt.time(12, 30), "dose_g_per_kg is the date or time 12:30:00, not a number"),
    ],
)
def test_a_cell_that_is_no_number_is_refused_and_the_other_rows_go_in(cell, reason):
    cleaned = clean("readings", cup(trial_id=["t", "u", "v"], dose_g_per_kg=[1, cell, "1,5"]))
    assert cleaned.table["dose_g_per_kg"].tolist() == [1.0, 1.5]
    assert (only_refusal(cleaned)["reason"], only_refusal(cleaned)["row"]) == (reason, 1)


def test_a_column_of_true_and_false_is_no_column_of_numbers():
    assert len(clean("readings", cup(trial_id=["t", "u"], strength=[True, False])).refused) == 2


def test_lists_and_mappings_are_read_as_the_text_of_a_cell():
    frame = store_tables.bases().assign(
        allergens=[["milk", "soy"], frozenset()], sweeteners=[{"stevia": None, "sucralose": 1.5}, {}]
    )
    table = clean("bases", frame).table
    assert table["allergens"].tolist() == ["milk;soy", "none"]
    assert table["sweeteners"].tolist() == ["stevia;sucralose:1.5", "none"]


def test_headings_per_100_ml_are_weighed_by_the_density_of_their_row():
    rows = {
        "base_id": ["oat", "pea"],
        "name": ["Oat", "Pea"],
        "Energy (kcal per 100 ml)": [52, 61.8],
        "Density g/ml": [1.04, ""],
    }
    got = clean("bases", pd.DataFrame(rows))
    assert got.table["energy_kcal_per_100g"].tolist() == pytest.approx([50.0, 60.0])
    assert any("1.03 g per ml is assumed" in str(note) for note in got.notes)
    kj = clean("bases", pd.DataFrame({"base_id": ["oat"], "name": ["Oat"], "energy_kj_per_100ml": ["209,2"]}))
    assert kj.table["energy_kcal_per_100g"].tolist() == pytest.approx([209.2 / 4.184 / 1.03])


def test_a_base_poured_by_volume_is_weighed_by_its_density():
    row = {"trial_id": "t1", "base_id": "oat", "flavouring_id": "plum", "amount": "1 g", "liking": 7}
    table = clean(
        "readings", pd.DataFrame([row | {"base_g": "200 ml"}, row | {"trial_id": "t2", "base_g": "200"}])
    ).table
    assert table["base_ml"].tolist()[0] == 200
    assert table["base_g"].tolist()[1] == 200
    assert np.isnan(table["base_g"].iloc[0])
    both = clean("readings", pd.DataFrame([row | {"base_g": "200 ml", "base_ml": 150}]))
    assert len(both.refused) == 1
