"""Names, and ids in other capitals, at every door; a name of two is refused with the choices."""

import shlex

import pandas as pd
import pytest
from small_logs import BASES, FLAVOURINGS, cup, table

from pairing import Bench, Brief, Recipe
from pairing.cli import main
from pairing.errors import UnknownIdError
from pairing.model.flavouring import Flavouring
from pairing.report.compared import not_reached

CUPS = [cup("oat", {"quince": d}, s, k) for d, s, k in ((1.0, 2, 5), (2.0, 3, 7), (3.0, 4, 6))]


@pytest.fixture(scope="module")
def kitchen(tmp_path_factory):
    bench = Bench.create(tmp_path_factory.mktemp("names") / "kitchen")
    both = FLAVOURINGS.assign(food_use="yes")
    twice = both.tail(1).assign(flavouring_id=["rose-2"])
    bench.load(bases=BASES, flavourings=both)
    bench.load(flavourings=twice, readings=table(*CUPS))
    return bench


@pytest.fixture
def said(kitchen, capsys):
    def run(*words):
        code = main([*words, "--bench", kitchen._db.name])
        found = capsys.readouterr()
        return code, found.out + found.err

    return run


@pytest.mark.parametrize(
    "words",
    [
        ("dose", "Oat drink", "Quince drops"),
        ("dose", "OAT", "quince", "--base-g", "250", "--add", "Quince Drops=4drops", "--strength", "QUINCE=2"),
        ("suggest", "--bases", "oat drink", "--must-have", "Quince drops", "-n", "1"),
        ("suggest", "--new-base", "Rice drink", "-n", "1"),
        ("suggest", "--new-flavouring", "Smoke", "-n", "1"),
        ("evening", "--bases", "Oat drink", "--use-first", "Quince drops", "--cups", "1"),
        ("card", "Oat drink|Quince drops=1.5"),
        ("compare", "Oat drink", "RICE"),
        ("compare", "oat|quince=1", "Oat drink|Quince drops=1.5"),
        ("graph", "partners", "Quince drops", "--base", "Oat drink"),
        ("replace", "Quince drops", "--on-hand", "Smoke,clove"),
        ("shelf", "label-read", "Clove extract"),
        ("season", "OAT drink"),
        ("stock", "buy", "Quince drops", "30 ml", "--price", "12 EUR"),
        ("recipe", "keep", "Oat Drink|QUINCE=1.5", "--name", "dusk"),
        ("blind", "plan", "Oat drink|Quince drops=1.5", "oat|quince=1"),
    ],
)
def test_a_name_stands_where_an_id_does(said, words):
    code, text = said(*words)
    assert code == 0, text


def test_a_cup_is_logged_by_names_under_ids(kitchen, said):
    words = ("log", "Oat drink", "--base-g", "250", "--add", "Quince drops=4drops", "--add", "clove extract=0.1g")
    code, text = said(*words, "--strength", "Clove=3", "--liking", "7", "--trial-id", "mine", "--next", "Quince Drops")
    assert code == 0, text
    rows = kitchen.trial("mine")["readings"]
    assert set(rows["base_id"]) == {"oat"}
    assert set(rows["flavouring_id"]) == {"quince", "clove"}
    code, text = said("log", "--again", "mine", "--add", "Quince drops=6drops", "--liking", "6", "--trial-id", "next")
    assert code == 0, text
    assert kitchen.cup("next").steps[-1].as_entered == "6 drops"
    assert sum(step.item_id == "quince" for step in kitchen.cup("next").steps) == 1


def test_a_name_of_two_is_refused_with_the_choices(said):
    for words in (("dose", "oat", "Rose water"), ("card", "oat|Rose water=1"), ("suggest", "--never", "ROSE water")):
        code, text = said(*words)
        assert code == 1
        assert "may be flavouring rose or rose-2" in text


def test_a_dose_that_nobody_looked_for_is_not_said_to_be_not_reached():
    assert not_reached(3) == "not reached at any sensible dose"
    assert "not tasted yet" in not_reached(0)


def test_python_takes_names_too(kitchen):
    model = kitchen.learn()
    named, by_id = Recipe("Oat drink", {"Quince drops": 2.0}), Recipe("oat", {"quince": 2.0})
    assert model.predict([named])["liking"].equals(model.predict([by_id])["liking"])
    (one,) = model.suggest(Brief(bases=("Oat drink",), must_have=("Quince drops",), max_flavourings=1), 1)
    assert (one.recipe.base_id, *one.recipe.doses) == ("oat", "quince")
    assert model.needed_dose("Oat drink", "Quince drops")["flavouring_id"].tolist() == ["quince"]
    assert kitchen.recipe("Oat drink|Quince drops=1") == Recipe("oat", {"quince": 1.0})
    assert model.graph("Oat drink").graph["base_id"] == "oat"
    with pytest.raises(UnknownIdError, match="no base 'Oats drink'"):
        kitchen.recipe("Oats drink|quince=1")


@pytest.mark.parametrize(
    ("words", "flavourings"),
    [
        (
            ("suggest", "--bases", "oat", "--must-have", "quince,smoke", "--tasters", "me", "-n", "1"),
            {"quince", "smoke"},
        ),
        (
            ("dose", "oat", "quince", "--base-g", "250ml", "--add", "smoke=1drop", "--add", "quince=1drop"),
            {"quince", "smoke"},
        ),
    ],
)
def test_advice_ends_with_the_line_that_logs_it(kitchen, said, words, flavourings):
    code, text = said(*words)
    assert code == 0, text
    (line,) = [line for line in text.splitlines() if line.startswith("  pairing log ")]
    command = shlex.split(line.replace("--liking …", "--liking 7").replace("…", "3"))
    code, text = said(*command[1 : command.index("--bench")], "--trial-id", f"as-{words[0]}")
    assert code == 0, text
    cup = kitchen.cup(f"as-{words[0]}")
    assert set(cup.dose_g_per_kg) == flavourings
    assert cup.readings[-1].liking == 7
    assert set(cup.readings[-1].strength) <= flavourings


def test_no_line_logs_what_nobody_is_to_drink(said):
    code, text = said("dose", "oat", "quince", "--base-g", "250", "--add", "quince=100g", "--strength", "2")
    assert (code, "pairing log" in text) == (0, False), text


def test_rows_are_corrected_and_recipes_loaded_by_names(tmp_path):
    bench = Bench.create(tmp_path / "by-names")
    bench.load(bases=BASES, flavourings=FLAVOURINGS, readings=table(cup("oat", {"quince": 1.0}, 2, 5, trial_id="a")))
    bench.correct("flavourings", "Quince drops", {"drop_mg": 25})
    bench.correct("bases", "OAT drink", {"serving_g": 300})
    bench.correct(
        "readings", {"trial_id": "a", "flavouring_id": "Quince Drops"}, {"strength": 3, "base_id": "oat Drink"}
    )
    assert (bench.shelf().flavouring("quince").drop_mg, bench.shelf().base("oat").serving_g) == (25, 300)
    with pytest.raises(UnknownIdError, match="no row with flavouring_id 'Quinze'"):
        bench.correct("flavourings", "Quinze", {"drop_mg": 25})
    kept = {"recipe_id": ["dusk", "dawn"], "version": [1, 1], "base_id": ["Oat drink"] * 2}
    report = bench.load(
        recipes=pd.DataFrame(kept | {"doses": ["Quince drops=1.5;SMOKE=0,2", "Quince drops=1;quince=2"]})
    )
    assert bench.tables("recipes")["doses"].tolist() == ["quince=1.5;smoke=0.2"]
    assert report.refused["reason"].tolist() == ["doses: 'Quince drops=1;quince=2' names one flavouring twice"]


def test_a_label_that_is_not_known_is_none():
    assert Flavouring(flavouring_id="a", name="A", label_dose=" ? ").label_dose is None
    assert Flavouring(flavouring_id="a", name="A", label_dose="2 g/kg").label_dose == "2 g/kg"
