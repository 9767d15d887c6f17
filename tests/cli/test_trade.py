"""What the trade knows, at the command line: a full glass, off-notes, stand-ins, the lesson."""

import json
import re
import shutil

import pandas as pd
import pytest
from small_logs import BASES, FLAVOURINGS

from pairing import Bench, Flavouring, Recipe
from pairing.cli import main
from pairing.nutrition.seasoning import seasoned


@pytest.fixture
def ask(tmp_path, monkeypatch, capsys):
    path = tmp_path / "kitchen"
    monkeypatch.setenv("PAIRING_BENCH", str(path))
    Bench.create(path).load(bases=BASES, flavourings=FLAVOURINGS.assign(food_use="yes"))

    def run(*words):
        code = main(list(words))
        found = capsys.readouterr()
        return code, found.out + found.err

    return run


def test_a_recipe_is_kept_once_a_full_glass_was_drunk(ask, tmp_path):
    said = ask("recipe", "keep", "oat|quince=1.1", "--name", "dusk")[1]
    assert "(trying)" in said
    assert "some 85 %" in said
    assert "'oat|quince=0.935'" in said
    cup = ("log", "oat", "--base-g", "250", "--add", "quince=8drops", "--liking", "7")
    assert ask(*cup, "--glass", "full")[0] == 0
    assert set(Bench.open(tmp_path / "kitchen").tables("readings")["glass"]) == {"full"}
    assert "(kept)" in ask("recipe", "keep", "oat|quince=1.12", "--name", "dusk")[1]
    assert ask("log", "--go-on", "last", "--sip", "10", "--liking", "6")[0] == 0
    assert "full" in set(Bench.open(tmp_path / "kitchen").tables("readings")["glass"])


def test_off_notes_are_told_by_base(ask):
    for i in range(4):
        cup = ("log", "oat", "--base-g", "250", "--liking", "4", "--off-notes", "beany:2", "--trial-id", f"t{i}")
        assert ask(*cup)[0] == 0
    code, said = ask("off-notes")
    assert code == 0
    assert "beany 2" in said
    assert "no off-note 'soapy' was logged yet" in ask("suggest", "--mask", "soapy")[1]


def test_a_bottle_is_replaced_in_kept_recipes(ask):
    ask("recipe", "keep", "oat|quince=1.1", "--name", "dusk")
    code, said = ask("replace", "quince")
    assert code == 0
    assert "dusk" in said
    assert "pairing blind plan 'oat|quince=1.1'" in said
    assert "Care:" in said
    misspelt = ask("suggest", "--like", "oat|quince=1.1", "--avoid-allergens", "nutz")[1]
    assert "'nutz' is no allergen that is known" in misspelt


def test_a_lesson_is_poured_judged_and_logged(ask, tmp_path):
    code, sheet = ask("lesson", "oat|quince=1.6", "--taster", "ana", "--seed", "7", "--cup-g", "200", "--json")
    assert code == 0
    cups = json.loads(sheet)["cups"]
    strong = ",".join(f"{c['code']}={float(c['level'].split()[0]) * 4}" for c in cups)
    liked = ",".join(f"{c['code']}=6" for c in cups)
    words = ("lesson", "oat|quince=1.6", "--taster", "ana", "--seed", "7", "--cup-g", "200")
    code, said = ask(*words, "--strength", strong, "--liking", liked)
    assert code == 0
    assert re.search(r"ana: you tell .*2 × from 1 ×", said)
    rows = Bench.open(tmp_path / "kitchen").tables("readings")
    assert rows["trial_id"].nunique() == 5
    assert set(rows["blind"]) == {"coded"}


def test_a_ladder_that_is_right_ends_with_a_fresh_cup(ask):
    cup = ("log", "oat", "--base-g", "250", "--add", "quince=7drops", "--sip", "10", "--strength", "2", "--liking", "5")
    assert "Pour it fresh" not in ask(*cup, "--next")[1]
    more = ("log", "--go-on", "last", "--add", "quince=1drop", "--strength", "3", "--liking", "7", "--next")
    said = ask(*more)[1]
    again = ask("log", "--go-on", "last", "--strength", "quince=3", "--liking", "7", "--next")[1]
    assert "Pour it fresh" in said + again


def test_a_base_is_seasoned_before_any_aroma_and_kept(demo, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("PAIRING_BENCH", str(shutil.copytree(demo, tmp_path / "bench")))
    assert main(["season", "pea"]) == 0
    assert "0.24 % salt in the cup, the base's included: 0.05 to 0.1 % is where to start" in capsys.readouterr().out
    words = ["season", "oat", "salt=0.15g", "sweet-leaf=5drops", "--keep", "oat, seasoned"]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert said.index("Sweet leaf drops") < said.index("Salt brine")
    assert "contains gluten" in said
    assert "Kept as oat-seasoned" in said
    bench = Bench.open(tmp_path / "bench")
    assert bench.shelf().base("oat-seasoned").made_from["salt"] == pytest.approx(0.15 / 250.3675 * 1000, rel=1e-3)
    model = bench.learn()
    needed = model.needed_dose(["oat", "oat-seasoned"], ["quince"]).set_index("base_id")
    assert needed.loc["oat-seasoned", "dose_g_per_kg"] == pytest.approx(needed.loc["oat", "dose_g_per_kg"], rel=0.2)
    assert needed.loc["oat-seasoned", "log_sd"] > needed.loc["oat", "log_sd"]
    assert main(["season", "oat-seasoned", "--aroma", "vanilla=20drops"]) == 0
    said = capsys.readouterr().out.partition("Sweet again, with Vanilla extract in it:")[2]
    assert "pleasantly sweet" in said
    assert "of Sweet leaf drops." in said
    for refused, why in (
        (["season", "oat", "vanilla=1g"], "vanilla is no seasoning"),
        (["season", "oat", "salt=0.3"], "'0.3' is not an amount"),
        (["season", "oat", "--keep", "x"], "nothing goes into it"),
        (["season", "oat", "salt=0.3g", "--keep", "oat, seasoned"], "stands for another base"),
    ):
        assert main(refused) == 1
        assert why in capsys.readouterr().err


def test_the_plain_base_is_suggested_still_once_it_is_seasoned(ask, tmp_path):
    bench = Bench.open(tmp_path / "kitchen")
    salt = Flavouring(flavouring_id="brine", name="Brine", role="seasoning", sodium_mg_per_g=80, food_use="yes")
    bench.keep(salt)
    bench.keep(seasoned(Recipe("oat", {"brine": 2.0}), bench.shelf(), "oat, seasoned"))
    bases = {s.recipe.base_id for s in bench.learn().suggest(n=20, random_state=0)}
    assert {"oat", "oat-seasoned"} <= bases


def test_a_child_judges_by_faces(ask, tmp_path):
    bench = Bench.open(tmp_path / "kitchen")
    bench.load(tasters=pd.DataFrame([{"taster": "kim", "age_years": 9}, {"taster": "lo", "age_years": 4}]))
    cup = ("log", "oat", "--base-g", "100", "--yes")
    for who, said in (("kim", "yummy"), ("kim", "3"), ("lo", "so so"), ("ana", "like slightly"), ("ana", "6.5")):
        assert ask(*cup, "--taster", who, "--liking", said)[0] == 0
    found = Bench.open(tmp_path / "kitchen").tables("readings")
    assert found["liking"].tolist() == [9, 3, 5, 6, 6.5]
    code, text = ask(*cup, "--taster", "lo", "--liking", "9")
    assert code == 1
    assert "none of the 3 faces of lo (4 years)" in text
    assert "2 not nice, 5 so so, 8 yummy" in text
    assert "'lovely' is not on the scale" in ask(*cup, "--liking", "lovely")[1]


def test_a_child_gets_no_ladder_and_few_cups(ask, tmp_path):
    Bench.open(tmp_path / "kitchen").load(tasters=pd.DataFrame([{"taster": "kim", "age_years": 9}]))
    cup = ("log", "oat", "--base-g", "100", "--add", "quince=2drops", "--taster", "kim", "--liking", "nice", "--yes")
    said = [ask(*cup, "--next")[1] for _ in range(4)]
    assert "No ladder for a child" in said[0]
    assert ["enough for a child" in text for text in said] == [False, False, False, True]
    assert "no cup is stepped up for a child" in ask("dose", "oat", "quince", "--base-g", "100", "--taster", "kim")[1]
