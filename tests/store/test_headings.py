import pandas as pd
import pytest

from pairing.model.columns import BASES, FLAVOURINGS, READINGS, TABLES
from pairing.store.exchange import clean
from pairing.store.headings import heading_row, match_headings


@pytest.mark.parametrize(
    ("table", "heading", "column"),
    [
        (BASES, "Base ID", "base_id"),
        (BASES, "BASE_ID", "base_id"),
        (BASES, "Fat (g/100 g)", "fat_g_per_100g"),
        (BASES, "Fibre [g per 100g]", "fibre_g_per_100g"),
        (BASES, "Fiber g/100g", "fibre_g_per_100g"),
        (BASES, "pH", "ph"),
        (BASES, "Viscosity (mPa·s)", "viscosity_mpa_s"),
        (BASES, "Energy (kcal/100g)", "energy_kcal_per_100g"),
        (FLAVOURINGS, "Flavor ID", "flavouring_id"),
        (FLAVOURINGS, "Label direction", "label_dose"),
        (FLAVOURINGS, "price per g", "cost_per_g"),
        (READINGS, "Temperature (°C)", "temperature_c"),
        (READINGS, "Dose (g/kg)", "dose_g_per_kg"),
        (READINGS, "Panellist", "taster"),
        (READINGS, "Date", "tasted_at"),
        (READINGS, "Strong (1-5)", "strength"),
        (READINGS, "Strong", "strength"),
        (READINGS, "Liked (1-10)", "liking"),
        (FLAVOURINGS, "How to use (label)", "label_dose"),
    ],
)
def test_headings_as_people_write_them(table, heading, column):
    found, notes = match_headings(table, [heading])
    assert list(found) == [column]
    assert found[column].source == heading
    assert notes == []


def test_every_column_is_found_under_its_own_name():
    for table in TABLES.values():
        found, notes = match_headings(table, list(reversed(table.names)))
        assert set(found) == set(table.names)
        assert notes == []


def test_an_exact_name_wins_over_a_synonym():
    found, notes = match_headings(READINGS, ["score", "liking"])
    assert found["liking"].source == "liking"
    assert "'score' is not used (liking is already there)" in notes[0]


def test_a_bare_dose_is_not_guessed():
    found, notes = match_headings(READINGS, ["dose"])
    assert found == {}
    assert "dose_g_per_kg" in notes[0]


def test_labels_per_100_g_are_brought_to_one_g():
    found, notes = match_headings(FLAVOURINGS, ["sugars_g_per_100g"])
    assert (found["sugars_g_per_g"].times, found["sugars_g_per_g"].divide) == (1.0, 100.0)
    assert "is read as sugars_g_per_g (× 0.01)" in notes[0]


def test_sugar_per_100_ml_needs_no_gram_and_a_strength_of_another_scale_is_not_ours():
    found, _ = match_headings(BASES, ["Sugar (per 100ml)"])
    assert found["sugars_g_per_100g"].by_volume
    assert match_headings(READINGS, ["Strong (1-10)"])[0] == {}


def test_salt_becomes_sodium():
    # published: Regulation (EU) No 1169/2011, Annex I no. 11: salt = sodium × 2.5
    found, _ = match_headings(BASES, ["salt_g_per_100g"])
    heading = found["sodium_mg_per_100g"]
    assert 2.5 * heading.times / heading.divide == 1000


def test_headings_that_differ_in_case_are_one_column():
    found, notes = match_headings(BASES, ["allergens", "Allergens", "ALLERGENS "])
    assert (found["allergens"].source, found["allergens"].also) == ("allergens", ("Allergens", "ALLERGENS "))
    assert notes[0] == "columns 'allergens' and 'Allergens' are read as one"


def test_the_filled_one_of_two_equal_headings_counts_and_two_answers_are_refused():
    rows = {
        "base_id": ["a", "b", "c", "d"],
        "name": ["A", "B", "C", "D"],
        "allergens": ["", "milk", None, "soy"],
        "Allergens": ["celery", " ", None, "egg"],
    }
    cleaned = clean("bases", pd.DataFrame(rows))
    assert cleaned.table["allergens"].tolist() == ["celery", "milk", None]
    (row,) = cleaned.refused.to_dict("records")
    assert (row["row"], row["column"]) == (3, "allergens")
    assert row["reason"] == "column 'allergens' says 'soy', column 'Allergens' says 'egg'"


def test_only_a_column_that_is_near_is_offered():
    _, notes = match_headings(BASES, ["Phone", "densty_g_per_ml", "viscosity"])
    assert notes == [
        "column 'Phone' is not used",
        "column 'densty_g_per_ml' is not used (did you mean density_g_per_ml?)",
        "column 'viscosity' is not used (did you mean viscosity_mpa_s?)",
    ]


def test_the_row_that_names_columns_is_the_first_with_two_names():
    assert heading_row([["name", "colour"], ["oat", "Oat"]]) == 0
    assert heading_row([["Stock", None], [3, "spring"], ["Base ID", "Name"], ["base_id", "name"]]) == 2
    assert heading_row([["taster"], ["ana"]]) == 0


def test_a_bare_price_is_taken_per_unit_with_a_note():
    for table, column in ((BASES, "cost_per_kg"), (FLAVOURINGS, "cost_per_g")):
        found, notes = match_headings(table, ["Price"])
        assert found[column].source == "Price"
        assert notes == [f"column 'Price' is read as {column}: name the unit in the heading if it is another"]


def test_a_column_called_as_the_things_are_holds_their_names_where_nothing_else_does():
    flavourings = TABLES["flavourings"]
    assert match_headings(flavourings, ["Flavour", "Form"])[0].keys() == {"name", "form"}
    assert match_headings(flavourings, ["Flavour", "Name"])[0].keys() == {"flavouring_id", "name"}
    assert match_headings(TABLES["readings"], ["Drink", "Flavour"])[0].keys() == {"base_id", "flavouring_id"}
