"""What the trade knows, at the command line: a full glass, off-notes, stand-ins, the lesson."""

import json
import re

import pytest
from small_logs import BASES, FLAVOURINGS

from pairing import Bench
from pairing.cli import main


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
    assert "(trying)" in ask("recipe", "keep", "oat|quince=1.1", "--name", "dusk")[1]
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
