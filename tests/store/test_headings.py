import pytest

from pairing.model.columns import BASES, FLAVOURINGS, READINGS, TABLES
from pairing.store.headings import match_headings


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


def test_salt_becomes_sodium():
    # published: Regulation (EU) No 1169/2011, Annex I no. 11: salt = sodium × 2.5
    found, _ = match_headings(BASES, ["salt_g_per_100g"])
    heading = found["sodium_mg_per_100g"]
    assert 2.5 * heading.times / heading.divide == 1000
