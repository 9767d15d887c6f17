"""What a column is, where its cells or the column beside it say so."""

import pandas as pd
import pytest

from pairing.errors import TableError
from pairing.model.columns import FLAVOURINGS, TABLES
from pairing.store.exchange import clean
from pairing.store.headings import match_headings
from pairing.store.placing import table_of


def log(**columns):
    one = {"cup": ["a"], "base": ["oat"], "flavouring": ["fig"]}
    return clean("readings", pd.DataFrame(one | {name: [cell] for name, cell in columns.items()}))


@pytest.mark.parametrize(
    ("columns", "amount"),
    [
        ({"base_g": "200", "Drops": 8}, "8 drops"),
        ({"base_g": "200", "Drops": 8.0}, "8 drops"),
        ({"base_g": "200", "Drops": "8 drops"}, "8 drops"),
        ({"base_g": "200", "g": "1.5"}, "1.5 g"),
        ({"base_ml": "200", "Drops": None, "Amount (g)": "1.5"}, "1.5 g"),
    ],
)
def test_a_column_of_drops_or_grams_is_the_amount(columns, amount):
    made = log(**columns)
    assert made.table["amount"].tolist() == [amount], made.refused
    assert any("in the cup so far" in note for note in made.notes)


def test_a_volume_beside_the_base_alone_is_not_taken_for_the_flavouring():
    made = log(ml="200", Drops="4")
    assert made.refused["reason"].tolist() == ["an amount without base_g or base_ml"]
    assert log(base_g="200", dose="4 drops").table["amount"].tolist() == ["4 drops"]
    assert log(base_g="200", dose="2 g/kg").refused["reason"].tolist() == ["neither dose_g_per_kg nor amount is given"]
    assert log(base_g="200", dose_g_per_kg="2", Drops="4").table["amount"].tolist() == [None]


@pytest.mark.parametrize(
    ("heading", "cell", "column", "poured"),
    [("How much", "300 ml", "base_ml", 300), ("Cup size", "0.2 l", "base_ml", 200), ("glass", "250 g", "base_g", 250)],
)
def test_how_much_beside_an_amount_is_the_base(heading, cell, column, poured):
    made = log(**{heading: cell, "Amount": "12 drops"})
    assert made.table[[column, "amount"]].to_numpy().tolist() == [[poured, "12 drops"]], made.refused
    assert any(f"{heading!r} is read as {column}" in note for note in made.notes)


def test_how_much_that_is_no_amount_of_base_is_not_and_the_refusal_names_it():
    (refused,) = log(**{"How much": "half a mug", "Amount": "12 drops"}).refused.to_dict("records")
    assert "How much says it, name that column base_g or base_ml" in refused["remedy"]
    assert len(log(**{"How much": "3 ml", "Amount": "12 drops"}).refused) == 1
    assert log(**{"How much": "3 ml", "base_g": "200"}).table["amount"].tolist() == ["3 ml"]
    assert log(glass="full", Drops="4", base_g="200").table["glass"].tolist() == ["full"]


def bottles(**columns):
    return clean("flavourings", pd.DataFrame({"name": ["Fig"], "label_dose": ["5 g/kg"]} | columns))


@pytest.mark.parametrize(
    ("columns", "cost"),
    [
        ({"Price": ["6.90"], "Size": ["30 g"]}, 0.23),
        ({"Price": ["6.90 EUR"], "Bottle size (ml)": ["30"]}, 0.23),
        ({"Price": ["€ 6.90"], "Contents": ["30 g"]}, 0.23),
        ({"Price": ["0.2 EUR/g"], "Size": ["30 g"]}, 0.2),
        ({"Price": ["6.90"], "Size": ["?"]}, None),
        ({"Price": ["6.90"], "Size": ["30"]}, None),
        ({"Price": ["?"], "Size": ["30 g"]}, None),
        ({"Price": ["6.90 EUR"]}, None),
        ({"Price": ["0.4"]}, 0.4),
        ({"cost_per_g": ["6.9"]}, 6.9),
        ({"Paid": ["£6.90"], "Bottle": ["30 g"]}, 0.23),
        ({"price per litre": ["1.95"]}, 0.00195),
    ],
)
def test_a_price_is_of_the_size_beside_it_and_never_of_a_gram_where_it_is_a_bottles(columns, cost):
    made = bottles(**columns)
    assert made.refused.empty, made.refused["reason"]
    assert made.table["cost_per_g"].map(lambda value: None if pd.isna(value) else round(value, 6)).tolist() == [cost]


def test_a_price_that_is_left_out_is_said_with_its_remedy():
    assert any("price of a bottle: write '6.90 EUR per 30 ml'" in note for note in bottles(Price=["6.90"]).notes)
    bases = clean("bases", pd.DataFrame({"name": ["Oat"], "Price": ["1.80"], "Size": ["1 kg"]}))
    assert bases.table["cost_per_kg"].tolist() == [1.8]


@pytest.mark.parametrize(
    ("table", "cell", "value"),
    [("bases", "45 kcal", 45), ("bases", "418.4 kJ", 100), ("bases", "45", None), ("bases", "?", None),
     ("flavourings", "35 kcal per 8 g", 4.375), ("flavourings", "120 kcal", None)],
)  # fmt: skip
def test_an_energy_is_read_where_its_cells_name_their_unit(table, cell, value):
    rows = pd.DataFrame({"name": ["Oat"], "label_dose_g_per_kg": [5], "Energy": [cell]})
    found = clean(table, rows).table.filter(like="energy").iloc[0, 0]
    assert (None if pd.isna(found) else pytest.approx(found)) == value


def test_headings_in_a_kitchens_words():
    said = {"Kind": "form", "Drop weight (mg)": "drop_mg", "Food grade": "food_use", "Category": "family"}
    found, _ = match_headings(FLAVOURINGS, list(said))
    assert {column.source: name for name, column in found.items()} == said


def test_what_matters_and_is_not_there_is_named_once_where_columns_are_not_used():
    rows = pd.DataFrame({"name": ["Fig"], "label_dose": ["5 g/kg"], "colour": ["red"], "shelf": ["top"]})
    (note,) = [note for note in clean("flavourings", rows).notes if "counts once" in note]
    assert note.endswith("called as here: food_use, form, carrier, drop_mg, allergens, cost_per_g")
    assert not [n for n in clean("flavourings", rows.drop(columns=["shelf", "colour"])).notes if "counts once" in n]


def test_a_strength_in_words_of_the_table_is_read_and_said():
    words = ["weak", "a bit weak", "OK", "strong", "very strong", "nothing", "too weak", "strnog"]
    rows = {"trial_id": list("abcdefgh"), "base_id": "oat", "flavouring_id": "fig", "dose_g_per_kg": 1.0}
    made = clean("readings", pd.DataFrame(rows | {"strength": words}))
    assert made.table["strength"].tolist() == [2, 2, 3, 4, 5, 0, 2]
    assert made.refused["value"].tolist() == ["strnog"]
    assert any(note.startswith("strength: read 'weak' as 2, 'a bit weak' as 2") for note in made.notes)


def test_numbers_for_names_are_noted_once():
    rows = {
        "#": [1.0, 2.0],
        "base": "oat",
        "aroma": "fig",
        "dose_g_per_kg": 1.0,
        "Strength (0-5)": [3, 4],
        "score 1-7": 5,
    }
    made = clean("readings", pd.DataFrame(rows))
    assert made.table[["trial_id", "strength"]].to_numpy().tolist() == [["1", 3.0], ["2", 4.0]]
    assert made.table["liking"].tolist() == pytest.approx([1 + 4 * 8 / 6] * 2)  # of a scale of 7
    assert sum("leading zeros" in note for note in made.notes) == 1


def test_a_log_with_tasters_is_no_table_of_tasters():
    log = ["#", "day", "taster", "mug", "g mug", "aroma", "amount", "strength 0-5"]
    with pytest.raises(TableError, match=r"comes nearest to readings by .* lacks: base_id"):
        table_of("log.csv", log)
    assert table_of("us.csv", ["taster", "avoid"]) == "tasters"
    assert table_of("us.csv", ["taster", "shoe size"]) == "tasters"


def test_a_plainer_heading_goes_first():
    readings = TABLES["readings"]
    found, _ = match_headings(readings, ["No", "Day", "Cup", "Date", "Like", "Liking"])
    assert {name: column.source for name, column in found.items()} == {
        "trial_id": "Cup",
        "tasted_at": "Date",
        "liking": "Liking",
    }
    assert {*match_headings(readings, ["No", "Day", "Like"])[0]} == {"trial_id", "tasted_at", "liking"}
