"""A unit may stand in the heading, in the cell or in both: the number is brought to our unit once."""

import openpyxl
import pandas as pd
import pytest

from pairing.store.exchange import clean

BASE = {"base_id": ["oat"], "name": ["Oat drink"]}
DROPS = {"flavouring_id": ["plum"], "name": ["Plum"], "label_dose_g_per_kg": [2.0]}
CUP = {"trial_id": ["t"], "base_id": ["oat"], "flavouring_id": ["plum"]}
ROWS = {"bases": BASE, "flavourings": DROPS, "readings": CUP}


@pytest.mark.parametrize(
    ("table", "heading", "cells", "column", "value"),
    [
        ("bases", "energy_kJ_per_100g", "190; 190 kJ; 190 kJ/100 g", "energy_kcal_per_100g", 190 / 4.184),
        ("bases", "salt_g_per_100g", "0.1; 0.1 g; 100 mg; 0.1 g/100 g; 0.1 %", "sodium_mg_per_100g", 40.0),
        ("bases", "cost_per_100g", "0.15; 0.15 €; 1.50 €/kg", "cost_per_kg", 1.5),
        ("flavourings", "energy kcal per 100 g", "300; 300 kcal; 300 kcal/100 g; 3 kcal/g", "energy_kcal_per_g", 3.0),
        ("flavourings", "sugars_g_per_100g", "60; 60 g; 60 %; 0.6 g/g", "sugars_g_per_g", 0.6),
        ("flavourings", "cost_per_kg", "12.90; 12.90 €; 12.90 €/kg", "cost_per_g", 0.0129),
        ("readings", "dose %", "0.5; 0.5 %; 5 g/kg; 0.5 g per 100 g", "dose_g_per_kg", 5.0),
        ("readings", "dose ppm", "5000; 5000 ppm; 0.5 %; 5 g/kg", "dose_g_per_kg", 5.0),
        ("readings", "base_kg", "0.25; 0.25 kg; 250 g", "base_g", 250.0),
        ("readings", "base_l", "0.25; 0.25 l; 250 ml", "base_ml", 250.0),
    ],
)
def test_a_unit_is_converted_once(table, heading, cells, column, value):
    for cell in cells.split("; "):
        row = ROWS[table] | ({"dose_g_per_kg": [1.0]} if heading.startswith("base_") else {})
        cleaned = clean(table, pd.DataFrame({**row, heading: [cell]}))
        assert cleaned.refused.empty, cell
        assert cleaned.table[column].tolist() == [pytest.approx(value, rel=1e-12)], cell


def test_what_is_noted_is_what_is_kept():
    notes = clean("bases", pd.DataFrame({**BASE, "salt_g_per_100g": ["0.1 g"]})).notes
    assert "sodium_mg_per_100g: read '0.1 g' as 40" in notes


def test_a_mass_is_no_share():
    refused = clean("readings", pd.DataFrame({**CUP, "dose %": ["0.5 g"]})).refused
    assert refused["reason"].tolist() == ["dose_g_per_kg: the unit 'g' does not fit"]
    assert refused["remedy"].tolist() == ["write the number in the unit of dose_pct"]


def test_a_cell_shown_as_per_cent_under_a_heading_in_per_cent(tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["trial_id", "base_id", "flavouring_id", "dose %"])
    sheet.append(["t", "oat", "plum", 0.005])
    sheet["D2"].number_format = "0.0%"
    book.save(tmp_path / "log.xlsx")
    assert clean("readings", tmp_path / "log.xlsx").table["dose_g_per_kg"].tolist() == [5.0]


def test_a_number_with_the_unit_wanted_is_that_very_number():
    cells = [f"{x / 7:.15g}" for x in range(1, 200)]
    frame = pd.DataFrame({"flavouring_id": [f"f{i}" for i in range(199)], "name": "F", "label_dose_g_per_kg": 1.0})
    for heading, unit in (("drop_mg", "mg"), ("sodium_mg_per_g", "mg/g"), ("sugars_g_per_100g", "g/100 g")):
        bare = clean("flavourings", frame.assign(**{heading: cells})).table
        said = clean("flavourings", frame.assign(**{heading: [f"{c} {unit}" for c in cells]})).table
        pd.testing.assert_frame_equal(bare, said, check_exact=True)


def test_a_volume_is_weighed_by_the_density_of_its_row():
    rows = {
        "flavouring_id": ["mint", "plum", "rose", "sage"],
        "name": "Drops",
        "label_dose_g_per_kg": 2.0,
        "stock_g": ["30 ml", "30 ml", "1 fl oz", "30 ml"],
        "cost_per_g": ["12 EUR per 30 ml", "0.4", "12 EUR per 30 ml", ""],
        "density_g_per_ml": [0.8, 1.25, 1.0, None],
    }
    cleaned = clean("flavourings", pd.DataFrame(rows))
    # published: 1 US fluid ounce is 29.5735295625 ml (NIST Handbook 44, Appendix C)
    assert cleaned.table["stock_g"].tolist() == pytest.approx([24.0, 37.5, 29.5735295625, 30.0])
    assert cleaned.table["cost_per_g"].tolist()[:3] == pytest.approx([0.5, 0.4, 0.4])
    assert "stock_g: '30 ml': 1.00 g per ml is assumed, the density is not known" in map(str, cleaned.notes)


def test_servings_and_energies_may_be_of_a_volume_too():
    row = {"serving_g": ["200 ml"], "energy_kcal_per_100g": ["41.2 kcal per 100 ml"], "density_g_per_ml": ["1,03"]}
    table = clean("bases", pd.DataFrame(BASE | row)).table
    assert table["serving_g"].tolist() == [pytest.approx(206)]
    assert table["energy_kcal_per_100g"].tolist() == [pytest.approx(40)]
