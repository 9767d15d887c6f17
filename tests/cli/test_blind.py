"""A blind check from the command line, from the plan to the log."""

from __future__ import annotations

import json

import pandas as pd
import pytest

from pairing import Bench
from pairing.blind.kept import resume
from pairing.cli import main


@pytest.fixture
def kitchen(tmp_path):
    bench = Bench.create(tmp_path / "kitchen")
    bench.load(
        bases=pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"], "allergens": ["gluten"]}),
        flavourings=pd.DataFrame(
            {
                **{"flavouring_id": ["plum"], "name": ["Plum drops"], "label_dose_g_per_kg": [1.2]},
                **{"allergens": ["none"], "food_use": ["yes"]},
            }
        ),
        tasters=pd.DataFrame({"taster": ["ana"], "avoid_allergens": ["gluten"]}),
    )
    return tmp_path / "kitchen"


@pytest.fixture
def blind(kitchen, capsys):
    def run(*words):
        code = main(["blind", *words, "--bench", str(kitchen)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


PLAN = ("plan", "oat|plum=1.6", "oat|plum=1.1", "--name", "c1")


def _pick(kitchen, letter):
    serving = resume(Bench.open(kitchen)).next_serving
    return serving.codes[serving.contents.index(letter)]


def test_from_the_plan_to_the_log(kitchen, blind):
    code, said, _ = blind(*PLAN)
    assert code == 0
    assert "next is serving 1 of session 1" in said
    answered = 0
    while "finished" not in said:
        code, said, _ = blind("answer", _pick(kitchen, "a"))
        answered += 1
        assert code == 0
        if "finished" not in said:
            assert "plum" not in said
    assert answered <= 8
    assert "oat|plum=1.6 tastes stronger than oat|plum=1.1" in said
    assert len(Bench.open(kitchen).tables("comparisons")) == answered
    code, said, _ = blind("result", "--check", "c1", "--json")
    assert code == 0
    assert json.loads(said)["finished"][0]["n"] == answered


def test_stopped_half_way_it_goes_on_where_it_was(kitchen, blind):
    blind(*PLAN)
    blind("answer", _pick(kitchen, "b"))
    code, said, err = blind("result")
    assert code == 1
    assert "not finished: 1 of at most 60 servings done" in err
    code, said, _ = blind()
    assert code == 0
    assert "c1" in said
    code, said, _ = blind("skip", "--note", "spilled")
    assert "2 of at most 60" in said
    code, said, _ = blind("back")
    assert "1 of at most 60" in said
    assert Bench.open(kitchen).tables("comparisons").empty


def test_slips_are_refused_and_nothing_is_lost(kitchen, blind):
    blind(*PLAN, "--servings", "6")
    first = _pick(kitchen, "a")
    blind("answer", first)
    for words, message in (
        (("answer", first), "which is answered already"),
        (("answer", "99"), "'99' is no code"),
        (("answer", _pick(kitchen, "a"), "--serving", "4"), "serving 2 has no answer yet"),
        (("answer", "tie"), "a tie is no answer"),
        (("answer", "500", "--check", "other"), "no open check 'other'"),
        (PLAN, "a check 'c1' already"),
    ):
        code, _, err = blind(*words)
        assert code == 1
        assert message in err
    assert len(resume(Bench.open(kitchen)).answers) == 1


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--servings", "0"), "0 servings cannot be planned"),
        (("--servings", "10000"), "10000 servings cannot be planned"),
        (("--servings", "3"), "cannot show any difference"),
        (("--taster", "ana"), "ana must not taste this"),
        (("--method", "triangle"), "does not go with triangle"),
        (("--risk", "1.5"), "alpha is 1.5"),
    ],
)
def test_what_cannot_be_planned(blind, words, message):
    code, _, err = blind(*PLAN, *words)
    assert code == 1
    assert message in err


def test_sheets_are_printed_and_written(kitchen, blind, tmp_path):
    blind(*PLAN, "--alone")
    code, said, _ = blind("sheet", "taster")
    assert code == 0
    assert "plum" not in said.casefold()
    assert "gluten" in said
    for which in ("taster", "helper", "stickers"):
        path = tmp_path / f"{which}.html"
        code, _, _ = blind("sheet", which, "--to", str(path))
        assert code == 0
        assert ("Plum" in path.read_text("utf-8")) == (which != "taster")  # who tastes alone mixes both sides


def test_orders_of_several_cups(capsys):
    assert main(["blind", "orders", "plain", "plum", "date", "--rows", "6", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    codes = {row["code"]: row["cup"] for row in said["codes"]}
    assert len(codes) == 3
    for place in ("cup 1", "cup 2", "cup 3"):
        assert sorted(codes[row[place]] for row in said["orders"]) == sorted(["plain", "plum", "date"] * 2)
    assert main(["blind", "orders", "plum", "plum"]) == 1
    assert "plum is named twice" in capsys.readouterr().err
    assert main(["blind", "orders", "plum"]) == 1


def test_how_many_servings_without_a_bench(capsys):
    assert main(["blind", "servings", "--method", "3-afc", "--power", "0.8", "--json"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["servings"]
    assert row["fixed"] == 16
    assert row["different"] < row["fixed"] < row["cap"]


def test_a_check_can_be_put_away_and_undo_says_that_it_does_not_reach_it(kitchen, blind, capsys):
    blind(*PLAN)
    assert main(["undo", "--bench", str(kitchen)]) == 0
    assert "Blind checks in hand are as they were" in capsys.readouterr().out
    assert blind("drop", "c1")[0] == 0
    code, _, said = blind("drop", "c1")
    assert code == 1
    assert "no open check 'c1'" in said


def test_closer_needs_a_target(blind):
    code, _, said = blind("plan", "oat|plum=1.6", "oat|plum=1.1", "--question", "closer")
    assert code == 1
    assert "--target" in said
