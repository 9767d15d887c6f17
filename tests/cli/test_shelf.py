"""What labels say is answered once: what is meant for food, and what the name of a bottle suggests."""

import json

import pandas as pd
import pytest

import pairing
from pairing import Bench, Recipe
from pairing.cli import main

FLAVOURINGS = (
    "flavouring_id,name,label_dose,allergens,food_use\nrose,Rose,2 g/kg,none,\nmint,Mint oil,0.2 g/kg,none,yes\n"
)


@pytest.fixture
def bench(tmp_path, capsys):
    place = str(tmp_path / "b")
    main(["init", "--bench", place])
    (tmp_path / "bases.csv").write_text("base_id,name,allergens\noat,Oat drink,gluten\n", "utf-8")
    (tmp_path / "flavourings.csv").write_text(FLAVOURINGS, "utf-8")
    files = [str(tmp_path / name) for name in ("bases.csv", "flavourings.csv")]
    assert main(["load", *files, "--bench", place]) == 0
    return place, capsys.readouterr().out


def said(capsys, *words):
    code = main([*words, "--json"])
    out, err = capsys.readouterr()
    return code, json.loads(out), err


def test_an_empty_food_use_is_unknown_and_load_says_how_to_answer(bench, capsys):
    place, out = bench
    assert "1 of 2 flavourings do not say that they are meant for food" in " ".join(out.split())
    assert "pairing shelf food-use yes" in out
    code, answer, _ = said(capsys, "suggest", "--bench", place, "-n", "9")
    assert code == 0
    assert {f for one in answer["suggestions"] for f in one["recipe"]["doses"]} == {"mint"}
    assert any(r["what"] == "food use" and r["item_ids"] == ["rose"] for r in answer["suggestions"][0]["reasons"])


def test_it_is_answered_once_for_the_whole_bench(bench, capsys):
    place, _ = bench
    code, answer, _ = said(capsys, "shelf", "food-use", "yes", "--bench", place)
    assert (code, answer["flavourings"]) == (0, ["rose"])
    assert said(capsys, "shelf", "food-use", "yes", "--bench", place)[1]["flavourings"] == []
    _, answer, _ = said(capsys, "suggest", "--bench", place, "-n", "9")
    assert {f for one in answer["suggestions"] for f in one["recipe"]["doses"]} == {"mint", "rose"}
    assert said(capsys, "shelf", "food-use", "no", "rose", "--bench", place)[1]["flavourings"] == ["rose"]
    assert Bench.open(place).shelf().flavouring("rose").food_use == "no"
    assert main(["undo", "--bench", place]) == 0
    assert Bench.open(place).shelf().flavouring("rose").food_use == "yes"
    assert main(["shelf", "food-use", "yes", "rsoe", "--bench", place]) == 1
    assert "did you mean rose?" in capsys.readouterr().err


def test_with_nothing_declared_the_refusal_says_how_to_answer(tmp_path, capsys):
    bench = Bench.create(tmp_path / "b")
    bench.load(
        bases=pd.DataFrame({"base_id": ["oat"], "name": ["Oat"]}),
        flavourings=pd.DataFrame({"flavouring_id": ["fig"], "name": ["Fig"], "label_dose_g_per_kg": [2.0]}),
    )
    assert main(["suggest", "--bench", str(tmp_path / "b")]) == 1
    err = capsys.readouterr().err
    assert "pairing shelf food-use yes" in err
    assert "without flavourings declared for food use" not in err, "drinking what is no food is not offered"


def test_a_whole_file_is_answered_while_it_is_loaded(tmp_path, capsys):
    bench = Bench.create(tmp_path / "b")
    (tmp_path / "f.csv").write_text(FLAVOURINGS.replace("mint,Mint oil,0.2 g/kg,none,yes", "mint,Mint,1 g/kg,none,no"))
    assert main(["load", str(tmp_path / "f.csv"), "--food-use", "yes", "--bench", str(tmp_path / "b")]) == 0
    kept = bench.shelf().flavourings
    assert (kept["rose"].food_use, kept["mint"].food_use) == ("yes", "no"), "what the file says stays"


def test_tables_without_the_column_take_yes_in_python():
    bases = pd.DataFrame({"base_id": ["oat"], "name": ["Oat"]})
    flavourings = pd.DataFrame({"flavouring_id": ["fig"], "name": ["Fig"], "label_dose_g_per_kg": [2.0]})
    readings = pd.DataFrame(
        {"trial_id": ["t"], "base_id": ["oat"], "flavouring_id": ["fig"], "dose_g_per_kg": [2.0], "liking": [7]}
    )
    assert pairing.learn(bases, flavourings, readings).suggest()
    with pytest.raises(pairing.PairingError, match="declared for food use"):
        pairing.learn(bases, flavourings.assign(food_use=None), readings).suggest()


def test_a_name_is_answered_once_per_bottle(bench, capsys):
    place, _ = bench

    def asked():
        found = pairing.cautions(Recipe("oat", {"mint": 1.0}), Bench.open(place).shelf())
        return [c.severity for c in found if c.kind == "name"]

    assert asked() == ["warn"], "an oil without a maximum"
    assert main(["shelf", "label-read", "mint", "--max", "0.4", "--bench", place]) == 1
    assert "has no unit" in capsys.readouterr().err
    assert asked() == ["warn"], "nothing was written"
    code, answer, _ = said(capsys, "shelf", "label-read", "mint", "--max", "400 ppm", "--bench", place)
    assert code == 0
    assert answer["changes"]["max_dose_g_per_kg"] == pytest.approx(0.4, rel=1e-3)
    assert asked() == []
    stopped = pairing.cautions(Recipe("oat", {"mint": 1.0}), Bench.open(place).shelf())[0]
    assert (stopped.severity, stopped.kind) == ("stop", "dose")
    assert main(["shelf", "label-read", "oat", "--max", "1 g/kg", "--bench", place]) == 1
    assert main(["shelf", "label-read", "oat", "--bench", place]) == 0
    assert "label-read" in Bench.open(place).shelf().base("oat").tags


def test_the_earlier_name_of_the_check_goes_on_working(bench, capsys):
    place, _ = bench
    assert main(["doctor", "--bench", place]) == 0
    assert main(["bench-check", "--bench", place]) == 0
    capsys.readouterr()
    with pytest.raises(SystemExit):
        main(["--help"])
    listed = capsys.readouterr().out
    assert "bench-check" in listed
    assert "doctor" not in listed
