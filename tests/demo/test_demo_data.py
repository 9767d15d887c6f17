"""The demo's tables: made by their script, clean, and showing the phenomena of the trade."""

from __future__ import annotations

import ast
import importlib.util
import itertools
import sys
from pathlib import Path

import demo_truth as truth
import openpyxl
import pandas as pd
import pytest

from pairing.model.shelf import Shelf
from pairing.quantities.directions import label_dose
from pairing.store.exchange import clean, read

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_data"


def script(name):
    spec = importlib.util.spec_from_file_location(f"demo_{name}", DEMO / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules.setdefault(spec.name, module)  # where dataclasses look up annotations
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def tables():
    names = ("bases", "flavourings", "tasters", "targets", "readings", "calibrations", "recipes")
    known = {name: pd.read_csv(DEMO / f"{name}.csv").iloc[:, 0] for name in ("bases", "flavourings", "targets")}
    return {name: clean(name, read(DEMO / f"{name}.csv"), known=known) for name in names}


@pytest.fixture(scope="module")
def readings(tables):
    return tables["readings"].table


def test_script_makes_the_same_season_again(tmp_path):
    script("make").make(tmp_path)
    for name in ("readings.csv", "calibrations.csv"):
        assert (tmp_path / name).read_bytes() == (DEMO / name).read_bytes()


def test_script_makes_the_same_untidy_files_again(tmp_path):
    script("make").untidy(tmp_path)
    for name in ("bases.csv", "log.csv"):
        assert (tmp_path / name).read_bytes() == (DEMO / "messy" / name).read_bytes()
    made, kept = (openpyxl.load_workbook(folder / "flavourings.xlsx") for folder in (tmp_path, DEMO / "messy"))
    assert list(made.active.values) == list(kept.active.values)


def test_nothing_is_refused(tables):
    assert {name: len(cleaned.refused) for name, cleaned in tables.items()} == dict.fromkeys(tables, 0)


def test_size_is_a_season_of_three_tasters(tables, readings):
    assert len(tables["bases"].table) == 4
    assert 18 <= len(tables["flavourings"].table) <= 22
    assert 200 <= readings["trial_id"].nunique() <= 240
    assert set(readings["taster"]) == set(truth.TASTERS)
    assert readings["tasted_at"].str[:7].nunique() >= 6


def test_labels_come_to_what_the_truth_says(tables):
    shelf = Shelf.from_tables(tables["bases"].table, tables["flavourings"].table)
    for flavouring_id, flavouring in shelf.flavourings.items():
        direction = label_dose(flavouring)
        assert direction is not None
        assert direction.mid == pytest.approx(truth.LABEL_G_PER_KG[flavouring_id], rel=0.09)


def test_forms_carriers_and_suppliers_differ(tables):
    shelf = tables["flavourings"].table
    assert {"drops", "extract", "syrup", "paste", "powder"} <= set(shelf["form"])
    carriers = " ".join(shelf["carrier"].dropna())
    assert all(word in carriers for word in ("ethanol", "propylene glycol", "glycerol", "triglycerides", "water"))
    assert shelf["source"].nunique() >= 3
    assert shelf["drop_mg"].isna().any()  # one bottle whose drops nobody has weighed
    assert {"milk", "gluten", "sesame"} <= {word for cell in shelf["allergens"].dropna() for word in cell.split(";")}
    assert shelf["energy_kcal_per_g"].max() > 5  # a paste that brings many calories


def test_no_nut_and_no_red_fruit(tables):
    names = " ".join(tables["flavourings"].table["name"]).casefold()
    nuts = ("almond", "hazelnut", "walnut", "pecan", "pistachio", "cashew", "peanut", "macadamia", "nut ")
    reds = ("strawberry", "raspberry", "cherry", "cranberry", "redcurrant", "pomegranate")
    assert not [word for word in (*nuts, *reds) if word in names]


def test_one_base_needs_far_more_than_the_label_says():
    off = [truth.needed_log_dose("pea", f) - truth.needed_log_dose("barley", f) for f in truth.LABEL_G_PER_KG]
    assert sorted(off)[len(off) // 2] > 0.6


def test_violet_is_not_detected_in_the_pea_shake(readings):
    cups = readings[(readings["base_id"] == "pea") & (readings["flavouring_id"] == "violet")]
    assert cups["trial_id"].nunique() >= 3
    assert cups["strength"].max() <= 2
    assert "not reached" in set(cups["ended"])


def test_acid_curdles_milk(readings):
    spoiled = readings[readings["ended"] == "spoiled"]
    assert set(spoiled["base_id"]) == {"milk"}
    assert spoiled["off_notes"].str.contains("curdled").all()
    assert spoiled["liking"].mean() < 4


def test_cucumber_fades_overnight(readings):
    cucumber = readings[readings["flavouring_id"] == "cucumber"]
    late = cucumber[cucumber["minutes_since_addition"] > 600].set_index("trial_id")["strength"]
    before = cucumber[cucumber["minutes_since_addition"] < 600].groupby("trial_id")["strength"].last()
    assert len(late) >= 3
    assert (late < before[late.index]).all()


def test_salt_and_sweetness_flatter_some_and_spoil_others():
    for helper in ("salt", "sweet-leaf"):
        effects = [truth.synergy(helper, other) for other in truth.LABEL_G_PER_KG if other != helper]
        assert max(effects) > 0.8
        assert min(effects) < -0.8


def test_a_carrier_has_an_off_note(readings):
    notes = readings.loc[readings["off_notes"].fillna("").str.contains("bitter"), "trial_id"]
    with_pear = readings.loc[readings["flavouring_id"] == "green-pear", "trial_id"]
    assert len(set(notes)) >= 5
    assert set(notes) <= set(with_pear)


def test_tasters_disagree_about_mint():
    likings = [truth.liking("oat", {"mint": None}, taster) for taster in truth.TASTERS]
    assert max(likings) - min(likings) > 2


def test_most_pairs_are_mud_and_a_few_become_something_new(readings):
    pairs = [truth.synergy(a, b) for a, b in itertools.combinations(truth.LABEL_G_PER_KG, 2)]
    assert sum(points < 0 for points in pairs) / len(pairs) > 0.75
    assert sum(points > 1.2 for points in pairs) in range(3, 12)
    assert readings["reminds_of"].nunique() >= 3


def test_package_never_reads_the_truth():
    for path in (ROOT / "pairing").rglob("*.py"):
        assert "demo_truth" not in path.read_text("utf-8")
    tree = ast.parse((DEMO / "__init__.py").read_text("utf-8"))
    modules = [node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    assert modules == ["__future__", "pathlib"]
