"""Recipe cards and trial reports from the command line."""

from __future__ import annotations

import json

import pandas as pd
import pytest

from pairing import Bench
from pairing.cli import main


@pytest.fixture(scope="module")
def kitchen(tmp_path_factory):
    place = tmp_path_factory.mktemp("card") / "kitchen"
    bench = Bench.create(place, currency="EUR")
    bench.load(
        bases=pd.DataFrame(
            {
                "base_id": ["oat", "pea"],
                "name": ["Oat drink", "Pea shake"],
                "serving_g": [250, 300],
                "allergens": "none",
            }
        ),
        flavourings=pd.DataFrame(
            {
                "flavouring_id": ["plum", "date"],
                "name": ["Plum drops", "Date syrup"],
                "form": ["drops", "syrup"],
                "label_dose_g_per_kg": [1.2, 30.0],
                "food_use": "yes",
                "drop_mg": [36.0, None],
            }
        ),
        readings=pd.DataFrame(
            [
                (f"t{i}", b, f, d, s, y, f"2024-05-0{i}T18:00:00", "right")
                for i, (b, f, d, s, y) in enumerate(
                    [
                        ("oat", "plum", 1.0, 2, 5),
                        ("oat", "plum", 1.5, 3, 7),
                        ("pea", "date", 40.0, 3, 6),
                        ("pea", "plum", 1.6, 3, 6),
                    ],
                    start=1,
                )
            ],
            columns=[
                "trial_id",
                "base_id",
                "flavouring_id",
                "dose_g_per_kg",
                "strength",
                "liking",
                "tasted_at",
                "ended",
            ],
        ),
    )
    return place


def run(kitchen, capsys, *words):
    code = main(["card", "--bench", str(kitchen), *words])
    return code, capsys.readouterr()


def test_a_card_is_printed_for_people(kitchen, capsys):
    code, said = run(kitchen, capsys, "oat|plum=1.5")
    assert code == 0
    for words in ("Oat drink with Plum drops", "Pour 250 g Oat drink", "10 drops", "liked 7.0", "licensed practice"):
        assert words in said.out
    assert "\\|" not in said.out


def test_the_same_as_json(kitchen, capsys):
    code, said = run(kitchen, capsys, "oat|plum=1.5", "--servings", "8", "--json")
    card = json.loads(said.out)["card"]
    assert code == 0
    assert card["batch"]["base_g"] == 2000
    assert card["batch"]["lines"][0]["by"] == "weight"
    assert card["evidence"]["cups"] == 1
    assert card["currency"] == "EUR"


def test_open_doses_are_filled_and_trials_are_found(kitchen, capsys):
    code, said = run(kitchen, capsys, "oat|plum", "--json")
    assert code == 0
    assert 0.8 < json.loads(said.out)["card"]["doses_g_per_kg"]["plum"] < 3
    code, said = run(kitchen, capsys, "t2", "--json")
    assert json.loads(said.out)["card"]["recipe"] == "oat|plum=1.5"
    code, said = run(kitchen, capsys, "pea", "--json")
    assert json.loads(said.out)["card"]["doses_g_per_kg"] == {}


@pytest.mark.parametrize("ending", ["html", "md", "json"])
def test_a_card_is_written_to_a_file(kitchen, capsys, tmp_path, ending):
    path = tmp_path / f"card.{ending}"
    code, said = run(kitchen, capsys, "oat|plum=1.5", "--to", str(path))
    assert code == 0
    assert str(path) in said.out.replace("\n", "")
    assert "Plum drops" in path.read_text("utf-8")


def test_a_batch_is_logged_with_what_goes_in(kitchen, capsys):
    code, said = run(kitchen, capsys, "oat|plum=1.5;date=20", "--litres", "5", "--log-batch", "--json")
    assert code == 0
    answer = json.loads(said.out)
    bench = Bench.open(kitchen)
    steps = bench.tables("steps")
    steps = steps[steps["trial_id"] == answer["trial_id"]]
    added = steps[steps["kind"] == "add"].set_index("item_id")["amount_g"].to_dict()
    assert added == {line["flavouring_id"]: line["g"] for line in answer["card"]["batch"]["lines"]}
    bench.undo()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["oat|plum=1", "--servings", "0"], "0 servings of 250 g cannot be made, allowed is 1 to 82"),
        (["oat|plum=1", "--servings", "10000"], "10000 servings of 250 g cannot be made"),
        (["oat|plum=1", "--litres", "25"], "25 litres cannot be made"),
        (["oat|prune=1"], "no flavouring 'prune'"),
        (["oot"], "'oot' is neither a recipe nor a trial"),
        (["oat|plum=1", "--to", "card.txt"], "card.txt ends in .txt"),
        ([], "a card needs a recipe, a report a file"),
        (["--report", "x.html", "--since", "2030-01-01"], "no cup was tasted from 2030-01-01"),
        (["--report", "x.json"], "x.json ends in .json"),
    ],
)
def test_refusals_name_value_and_remedy(kitchen, capsys, words, message):
    code, said = run(kitchen, capsys, *words)
    assert code == 1
    assert message in said.err
    assert "What to do: " in said.err


def test_a_report_is_written(kitchen, capsys, tmp_path):
    path = tmp_path / "trials.html"
    code, _ = run(kitchen, capsys, "--report", str(path), "--since", "2024-05-02", "--unit", "g", "-n", "1")
    page = path.read_text("utf-8")
    assert code == 0
    assert "Trials 2024-05-02" in page
    assert "3 cups of 2 bases" in page
    assert "What is next" in page
    assert "sighted, one taster" in page
