"""`pairing graph`: every question on a small bench."""

import json

import pandas as pd
import pytest
from defusedxml import ElementTree

from pairing import Bench
from pairing.cli import main
from pairing.model.constants import Z80

BASES = pd.DataFrame({"base_id": ["oat", "whey"], "name": ["Oat", "Whey"]})
IDS = ["date", "fig", "mint", "plum", "sage"]
ALLERGENS = ["none", "sulphites", None, "none", "none"]


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    path = tmp_path_factory.mktemp("bench") / "b"
    flavourings = pd.DataFrame(
        {
            "flavouring_id": IDS,
            "name": [id_.title() for id_ in IDS],
            "family": ["fruit", "fruit", "herb", "fruit", "herb"],
            "label_dose_g_per_kg": 1.0,
            "food_use": "yes",
            "allergens": ALLERGENS,
        }
    )
    cups = [("date", "fig", 8), ("date", "mint", 4), ("fig", "mint", 5), ("plum", "sage", 4), ("date", None, 5)] * 4
    cups += [("fig", None, 5), ("mint", None, 5), ("plum", "date", 7)] * 3
    rows = [
        {
            "trial_id": f"t{i}",
            "base_id": ("oat", "whey")[i % 2],
            "flavouring_id": id_,
            "dose_g_per_kg": 1.0,
            "strength": 3,
            "liking": liking,
        }
        for i, (*ids, liking) in enumerate(cups)
        for id_ in ids
        if id_
    ]
    Bench.create(path).load(bases=BASES, flavourings=flavourings, readings=pd.DataFrame(rows))
    Bench.open(path).choose_plugins("").learn()  # kept spreads are rounded: every answer comes from the same state
    return str(path)


@pytest.fixture
def ask(bench, capsys):
    def answer(*words):
        assert main(["graph", *words, "--bench", bench, "--plugins", "", "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return answer


def test_partners_tried_and_predicted_apart(ask):
    found = ask("partners", "date")
    assert found["tested"][0]["partner"] == "fig"
    assert {row["partner"] for row in found["predicted"]} == {"sage"}
    assert found["tested"][0].keys() >= {"synergy", "sd", "low", "high", "p_positive", "trials", "bases", "verdict"}


def test_twins_are_named(ask):
    note = ask("partners", "sage")["tested"][0]["note"]
    assert note.startswith("sage was never judged without plum")


def test_one_base(ask):
    assert ask("partners", "date", "--base", "oat")["tested"][0]["bases"] == ["oat"]


def test_stand_ins_without_an_allergen_leave_out_the_unknown(ask):
    assert "fig" in {row["stand_in"] for row in ask("stand-ins", "date")["stand_ins"]}
    meant = ask("stand-ins", "date", "--avoid-allergens", "sulfites")
    assert "fig" not in {row["stand_in"] for row in meant["stand_ins"]}, "another word for the same allergen"
    free = ask("stand-ins", "date", "--avoid-allergens", "Sulphites")
    assert {row["stand_in"] for row in free["stand_ins"]} <= {"plum", "sage"}
    assert free["allergens_unknown"] == ["mint"]
    assert ask("stand-ins", "date", "--among", "fig,plum")["allergens_unknown"] == []


def test_the_other_questions_answer(ask):
    assert "between" in ask("between", "fig", "plum")
    assert "groups" in ask("groups")
    assert {(row["flavouring_a"], row["flavouring_b"]) for row in ask("gaps")["gaps"]} == {
        ("date", "sage"),
        ("fig", "plum"),
        ("fig", "sage"),
        ("mint", "plum"),
        ("mint", "sage"),
    }
    assert len(ask("bottles", "-n", "3", "--have", "mint")["bottles"]) == 3
    assert ask("difference", "oat", "whey", "-n", "2")["difference"][0].keys() >= {"difference", "p_positive"}


def test_tables_for_people(bench, capsys):
    for words in (["partners", "date"], ["stand-ins", "date", "--avoid-allergens", "nuts"], ["groups"], ["gaps"]):
        assert main(["graph", "--bench", bench, "--plugins", "", *words]) == 0
    shown = capsys.readouterr().out
    assert "Partners of Date, tried" in shown
    assert "read the label of the bottle in your hand" in shown
    assert "Left out, allergens unknown: Mint." in shown


def test_files(ask, tmp_path):
    file = tmp_path / "g.svg"
    assert ask("picture", str(file), "--base", "oat", "--clashes")["file"] == str(file)
    assert "What goes with what in Oat" in "".join(ElementTree.parse(file).getroot().itertext())
    ask("export", str(tmp_path / "g.txt"), "--format", "csv", "--bases")
    assert (tmp_path / "g.txt").read_text(encoding="utf-8").count("affinity") == 1 + 2 * len(IDS)


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["partners", "dates"], "date"),
        (["partners", "date", "--base", "ote"], "oat"),
        (["bottles", "-n", "9"], "1 to 5"),
        (["export", "g.docx"], "graphml"),
        (["difference", "oat", "oat"], "two different"),
    ],
)
def test_refused_with_a_remedy(bench, capsys, words, hint):
    assert main(["graph", *words, "--bench", bench, "--plugins", ""]) == 1
    assert hint in capsys.readouterr().err


def test_without_a_question_it_sums_up(ask, bench, capsys, monkeypatch):
    found = ask()
    assert found.keys() == {"cups_with_pairs", "tested", "gaps", "groups"}
    monkeypatch.setattr("pairing.cli.graph.EARLY", found["cups_with_pairs"])
    best = found["tested"][0]
    assert {best["flavouring_a"], best["flavouring_b"]} == {"date", "fig"}, "liked 8 together, 5 each alone"
    lows = [row["synergy"] - Z80 * row["sd"] for row in found["tested"]]
    assert lows == sorted(lows, reverse=True)
    assert all(row["tested"] and row["p_positive"] > 0.5 for row in found["tested"])
    assert 0 < len(found["gaps"]) <= 5
    assert found["gaps"] == ask("gaps", "-n", "5")["gaps"]
    assert found["groups"] == ask("groups")["groups"]
    assert main(["graph", "--bench", bench, "--plugins", ""]) == 0
    shown = capsys.readouterr().out
    for words in ("Best pairs, tried", "Nobody has tried, most to gain first", "Groups", "pairing graph partners"):
        assert words in shown


def test_an_empty_bench_is_told_what_to_do(tmp_path, capsys):
    Bench.create(tmp_path / "b")
    assert main(["graph", "--bench", str(tmp_path / "b"), "--plugins", ""]) == 1
    assert "What to do" in capsys.readouterr().err


def test_usage():
    with pytest.raises(SystemExit) as stopped:
        main(["graph", "no-such-question"])
    assert stopped.value.code == 2
