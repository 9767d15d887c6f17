"""Every command on a real bench: what it prints, what it keeps, and how it refuses."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pairing.bench import Bench
from pairing.cli import main
from pairing.model.caution import Caution, together

ROOT = Path(__file__).parents[2]
MESSY = [str(ROOT / "demo_data" / "messy" / name) for name in ("bases.csv", "flavourings.xlsx", "log.csv")]
IN_A_FOLDER = pytest.mark.parametrize("engine", ["sqlite"], indirect=True)


def test_demo_gives_three_suggestions_per_base_with_figures_and_reasons(demo, ask):
    code, said = ask("demo", "--bench", str(demo))
    assert code == 0
    for base_id in ("oat", "pea", "milk", "barley"):
        assert len(said[base_id]) == 3
        for one in said[base_id]:
            assert one["recipe"]["base_id"] == base_id
            assert 1 <= len(one["recipe"]["doses"]) <= 2
            assert set(one["grams"]) == set(one["drops"]) == set(one["recipe"]["doses"])
            assert 1 <= one["liking_low"] < one["liking"] < one["liking_high"] <= 9
            assert one["added_cost"] > 0
            assert one["reasons"]
            assert one["cautions"]


def test_demo_prints_for_people(demo, capsys):
    assert main(["demo", "--bench", str(demo)]) == 0
    text = capsys.readouterr().out
    for words in (
        "per serving",
        "dose, g/kg (80 %)",
        "liking (80 %)",
        "+kcal",
        "cost, EUR",
        "drops (",
        "Care:",
        "contains",
    ):
        assert words in text


def test_demo_says_each_general_caution_once_and_names_all_that_it_is_about(demo, ask, capsys):
    words = ("demo", "--bench", str(demo), "-n", "8")
    _, said = ask(*words)
    suggestions = [one for base_id in ("oat", "pea", "milk", "barley") for one in said[base_id]]
    names = Bench.open(demo).shelf().names
    cautions = [Caution.from_dict(caution) for one in suggestions for caution in one["cautions"]]
    kept = [together([caution], names) for caution in cautions]
    capsys.readouterr()
    assert main([*words]) == 0
    care = " ".join(capsys.readouterr().out.partition("Care:")[2].split())
    for begin in ("undiluted ", "out of the fridge ", "pour separate portions"):
        texts = [text for text in kept if text.startswith(begin)]
        assert len(texts) > 1, "every suggestion keeps its own"
        assert care.count(f": {begin}") == 1
        for text in texts:
            assert text.rpartition(": ")[2] in care
    listed = care.partition(": undiluted ")[2].partition(":")[0].split(", ")
    wanted = {
        item for t in kept if t.startswith("undiluted ") for item in t[len("undiluted ") :].split(":")[0].split(", ")
    }
    assert len(listed) == len(set(listed))
    assert set(listed) == wanted
    for allergen in ("milk", "gluten"):
        assert care.count(f": contains {allergen} (") == 1
        named = care.partition(f": contains {allergen} (")[2].partition(")")[0].split(", ")
        texts = [text for text in kept if text.startswith(f"contains {allergen} (")]
        assert set(named) == {one for t in texts for one in t.partition("(")[2].rstrip(")").split(", ")}
    sides = {caution.severity for caution, text in zip(cautions, kept, strict=True) if "propylene glycol" in text}
    assert care.count("propylene glycol") == len(sides) > 0, "once above a limit, once below"


@IN_A_FOLDER
def test_demo_run_again_adds_nothing(bench, capsys):
    before = Bench.open(bench).revision
    assert main(["demo", "--bench", bench]) == 0
    assert Bench.open(bench).revision == before


@IN_A_FOLDER
def test_demo_leaves_what_was_changed_in_it_and_says_so(bench, capsys):
    Bench.open(bench).correct("bases", "oat", {"name": "Our oat drink"})
    assert main(["demo", "--bench", bench]) == 0
    printed = capsys.readouterr()
    assert "1 rows of the demo differ" in printed.err
    assert "Our oat drink" in printed.out


def test_demo_leaves_a_bench_of_ones_own_alone(tmp_path, capsys):
    own = str(tmp_path / "mine")
    main(["init", "--bench", own])
    assert main(["demo", "--bench", own]) == 1
    assert "leaves it alone" in capsys.readouterr().err
    assert len(Bench.open(own).tables("bases")) == 0


def test_init_makes_a_bench_once(tmp_path, capsys):
    place = str(tmp_path / "b")
    assert main(["init", "--bench", place, "--currency", "CHF", "--jurisdiction", "US"]) == 0
    assert dict(Bench.open(place).settings)["currency"] == "CHF"
    assert main(["init", "--bench", place]) == 1
    assert "What to do" in capsys.readouterr().err


def test_load_takes_good_rows_and_hands_back_the_others(tmp_path, ask):
    place, refused = str(tmp_path / "b"), tmp_path / "refused.csv"
    main(["init", "--bench", place])
    code, said = ask("load", *MESSY, "--bench", place, "--refused", str(refused))
    assert code == 1
    assert {row["table"]: row["accepted"] for row in said["tables"]}.keys() == {"bases", "flavourings", "readings"}
    assert [row["column"] for row in said["refused"]] == ["strength", "base_id", "amount"]
    assert all(row["remedy"] for row in said["refused"])
    assert len(refused.read_text("utf-8").splitlines()) == 4
    code, again = ask("load", *MESSY, "--bench", place)
    assert [row["accepted"] for row in again["tables"]] == [0, 0, 0]


def test_load_tells_what_it_does_not_know(tmp_path, capsys):
    main(["init", "--bench", str(tmp_path / "b")])
    (tmp_path / "odd.csv").write_text("colour,size\nred,3\n", encoding="utf-8")
    assert main(["load", str(tmp_path / "odd.csv"), "--bench", str(tmp_path / "b")]) == 1
    assert "fit no table" in capsys.readouterr().err
    assert main(["load", "--bench", str(tmp_path / "b")]) == 1
    assert main(["load", str(tmp_path / "none.csv"), "--bench", str(tmp_path / "b")]) == 1
    assert main(["load", MESSY[0], MESSY[0], "--bench", str(tmp_path / "b")]) == 1


def test_suggest_keeps_hard_limits(demo, ask):
    limits = [
        "--max-added-kcal",
        "15",
        "--max-added-cost",
        "0.5",
        "--avoid-allergens",
        "milk,sesame",
        "--never",
        "salt",
    ]
    code, said = ask("suggest", "--bench", str(demo), "-n", "8", *limits)
    assert code == 0
    assert said["suggestions"]
    allergens = {row.flavouring_id: row.allergens for row in Bench.open(demo).shelf().flavourings.values()}
    for one in said["suggestions"]:
        assert one["added_kcal"] <= 15
        assert one["added_cost"] <= 0.5
        assert one["recipe"]["base_id"] != "milk"
        assert "salt" not in one["recipe"]["doses"]
        assert not [f for f in one["recipe"]["doses"] if allergens[f] & {"milk", "sesame"}]


def test_suggest_takes_every_field_of_a_brief(demo, ask):
    words = "--bases oat --tasters ana --must-have vanilla --on-hand vanilla,date,quince --max-flavourings 2"
    code, said = ask(
        "suggest",
        "--bench",
        str(demo),
        *words.split(),
        "--serving-g",
        "200",
        "--max-total-kcal",
        "400",
        "--max-ethanol-pct-vv",
        "2",
    )
    assert code == 0
    for one in said["suggestions"]:
        assert "vanilla" in one["recipe"]["doses"]
        assert set(one["recipe"]["doses"]) <= {"vanilla", "date", "quince"}
        assert one["total_kcal"] <= 400
    code, said = ask("suggest", "--bench", str(demo), "--goal", "likeness", "--target-id", "clubhouse-cake", "-n", "2")
    assert code == 0
    assert all(0 <= one["likeness"] <= 10 for one in said["suggestions"])


def test_suggest_starts_a_new_flavouring_a_new_base_and_an_empty_log(demo, ask, tmp_path):
    _, said = ask("suggest", "--new-flavouring", "lime-leaf", "--bases", "milk", "--bench", str(demo))
    assert all("lime-leaf" in one["recipe"]["doses"] for one in said["suggestions"])
    _, said = ask("suggest", "--new-base", "milk", "-n", "2", "--bench", str(demo))
    assert {one["recipe"]["base_id"] for one in said["suggestions"]} == {"milk"}
    empty = str(tmp_path / "empty")
    main(["init", "--bench", empty])
    main(["load", *MESSY[:2], "--bench", empty])
    for words in (["suggest", "--first"], ["suggest"]):
        code, said = ask(*words, "--bench", empty)
        assert code == 0
        assert said["suggestions"]
    assert main(["suggest", "--bench", empty]) == 0


def test_same_log_and_seed_give_the_same_answer(demo, ask):
    assert ask("suggest", "--bench", str(demo)) == ask("suggest", "--bench", str(demo))


@pytest.mark.parametrize(
    ("words", "remedy"),
    [
        (["suggest", "--bases", "oatt"], "did you mean oat?"),
        (["suggest", "--max-total-kcal", "5"], "max_total_kcal"),
        (["suggest", "--max-flavourings", "9"], "1 to 6"),
        (["suggest", "--goal", "likeness"], "target"),
        (["suggest", "--plugins", "no-such"], "known are"),
        (["dose", "oat", "vanila"], "did you mean vanilla"),
        (["dose", "oat", "vanilla", "--add", "vanilla=3drops"], "--base-g"),
        (["dose", "--base-g", "200"], "one base"),
        (["compare", "--family", "frut"], "fruit"),
        (["compare", "--family", "fruit", "--flavourings", "vanilla"], "of vanilla none is of family"),
        (["log", "oat", "--base-g", "250", "--add", "vanilla=3bottles"], "drops"),
        (["undo", "--history", "c0001"], "c001"),
        (["calibrate", "vanilla", "forty"], "40=0.93"),
        (["evaluate", "--splits", "later"], "later cups"),
    ],
)
def test_refusals_say_what_to_do(demo, capsys, words, remedy):
    assert main([*words, "--bench", str(demo)]) == 1
    assert remedy in capsys.readouterr().err


def test_a_bench_that_is_not_there_is_told_how_to_make_one(tmp_path, capsys):
    assert main(["suggest", "--bench", str(tmp_path / "none")]) == 1
    assert "pairing init" in capsys.readouterr().err


def test_hints_of_two_sentences_have_a_stop_between_them(tmp_path, demo, capsys):
    for name in ("alpha", "beta"):
        main(["init", "--bench", str(tmp_path / name)])
    capsys.readouterr()
    assert main(["suggest", "--bench", str(tmp_path / "zzz")]) == 1
    assert "known are: alpha, beta. Or make one with pairing init" in capsys.readouterr().err
    assert main(["suggest", "--bench", str(tmp_path / "alpah")]) == 1
    assert "did you mean alpha? Or make one" in capsys.readouterr().err
    assert main(["suggest", "--bench", str(demo), "--tasters", "zzzzzz"]) == 1
    assert ". A guest is 'new'" in capsys.readouterr().err


def test_log_is_stored_and_undone_and_stays_in_the_history(bench, ask):
    words = ["oat", "--base-g", "250", "--add", "sour-plum=11drops", "--strength", "sour-plum=3", "--liking", "7"]
    code, said = ask("log", *words, "--taster", "ana", "--ended", "right", "--bench", bench, "--trial-id", "tonight")
    assert (code, said["trial_id"]) == (0, "tonight")
    kept = Bench.open(bench).tables("readings").query("trial_id == 'tonight'").iloc[0]
    assert (kept["strength"], kept["liking"], kept["taster"], kept["ended"]) == (3, 7, "ana", "right")
    assert kept["dose_g_per_kg"] == pytest.approx(said["dose_g_per_kg"]["sour-plum"], rel=1e-6)
    revision = Bench.open(bench).revision
    assert ask("log", *words, "--taster", "ana", "--ended", "right", "--bench", bench, "--trial-id", "tonight")[0] == 0
    assert Bench.open(bench).revision == revision  # the same again is not a second trial
    assert ask("undo", "--bench", bench)[0] == 0
    assert not len(Bench.open(bench).tables("readings").query("trial_id == 'tonight'"))
    code, said = ask("undo", "--history", "tonight", "--bench", bench)
    assert {row["state"] for row in said["history"]} >= {"added", "taken back"}


def test_a_logged_cup_changes_the_answer(bench, ask):
    _, before = ask("suggest", "--bench", bench, "--bases", "pea", "-n", "3")
    first = before["suggestions"][0]
    add = [word for f, g in first["grams"].items() for word in ("--add", f"{f}={g:.2f}g", "--strength", f"{f}=3")]
    steps = [*add[:2], *add[4:6], *add[2:4], *add[6:8]]
    assert ask("log", "pea", "--base-g", "300", *steps, "--liking", "2", "--bench", bench, "--yes")[0] == 0
    _, after = ask("suggest", "--bench", bench, "--bases", "pea", "-n", "3")
    assert after["suggestions"] != before["suggestions"]


def test_dose_names_what_is_not_reached(demo, ask, capsys):
    _, said = ask("dose", "pea", "violet,vanilla", "--bench", str(demo))
    reachable = {row["flavouring_id"]: row["reachable"] for row in said["needed_dose"]}
    assert reachable == {"violet": False, "vanilla": True}
    main(["dose", "pea", "violet", "--bench", str(demo)])
    assert "not reached at any sensible dose" in capsys.readouterr().out


def test_dose_says_of_two_bases_what_one_needs_beside_the_other(demo, ask, capsys):
    main(["dose", "oat,pea", "quince", "--bench", str(demo)])
    told = " ".join(capsys.readouterr().out.split())
    assert re.match(r"Pea protein shake needs [\d.]+ × what .* needs of Quince drops \(.*, 80 %\)\.", told)


def test_a_round_up_counts_no_more_drops_than_anybody_does(demo, ask, capsys):
    main(["compare", "--family", "citrus", "--bench", str(demo)])
    told = capsys.readouterr().out
    assert re.search(r"\d drops", told)
    assert not any(int(n) > 20 for n in re.findall(r"(\d+) drops", told))


def test_dose_advises_on_the_cup_in_hand(demo, ask):
    cup = ["--base-g", "400", "--add", "sour-plum=8drops", "--strength"]
    code, weak = ask("dose", "oat", "sour-plum", *cup, "sour-plum=1", "--bench", str(demo))
    assert code == 0
    assert weak["advice"]["add_g"] > 0
    assert not weak["advice"]["stop"]
    full = ["--base-g", "400", "--add", "sour-plum=3g", "--strength", "sour-plum=5"]
    _, strong = ask("dose", "oat", "sour-plum", *full, "--bench", str(demo))
    assert strong["advice"]["stop"]
    assert strong["advice"]["add_g"] == 0


def test_compare_is_a_round_up_of_a_family(demo, ask):
    code, said = ask("compare", "--family", "spice", "--bases", "oat,pea", "--bench", str(demo))
    assert code == 0
    cups = {(row["flavouring_id"], row["base_id"]): row["cups"] for row in said["comparison"]}
    assert cups == {
        ("cardamom", "oat"): 9,
        ("cardamom", "pea"): 5,
        ("fennel", "oat"): 3,
        ("fennel", "pea"): 1,
        ("ginger", "oat"): 5,
        ("ginger", "pea"): 4,
    }
    for row in said["comparison"]:
        assert row["low"] < row["dose_g_per_kg"] < row["high"]
        assert 0 <= row["p_best"] <= 1


def test_calibrate_keeps_good_countings_and_queries_odd_ones(bench, ask):
    before = Bench.open(bench).shelf().flavouring("fennel").drop_mg
    code, said = ask("calibrate", "fennel", "40=0.93", "40=0.95", "--scale-g", "0.01", "--bench", bench)
    assert code == 0
    assert said["calibration"]["low"] < 23.5 < said["calibration"]["high"]
    assert before is None
    assert Bench.open(bench).shelf().flavouring("fennel").drop_mg == pytest.approx(23.5, rel=0.02)
    rows = len(Bench.open(bench).tables("calibrations"))
    code, said = ask("calibrate", "mint", "20=2.6", "--bench", bench)
    assert code == 1
    assert "8–70 mg" in said["error"]
    assert len(Bench.open(bench).tables("calibrations")) == rows


def test_the_round_up_says_which_money(demo, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert main(["compare", "--family", "fruit", "--bench", str(demo)]) == 0
    assert "cost, EUR" in capsys.readouterr().out


def test_export_comes_back_byte_for_byte(bench, tmp_path, capsys):
    first, second, copy = tmp_path / "first", tmp_path / "second", str(tmp_path / "copy")
    assert main(["export", str(first), "--bench", bench]) == 0
    assert main(["init", "--bench", copy]) == 0
    assert main(["load", str(first), "--bench", copy]) == 0
    assert main(["export", str(second), "--bench", copy]) == 0
    for name in ("bases.csv", "flavourings.csv", "readings.csv", "tasters.csv", "calibrations.csv"):
        assert (first / name).read_bytes() == (second / name).read_bytes()


def test_doctor_lists_open_points(demo, ask):
    code, said = ask("doctor", "--bench", str(demo))
    assert code == 0
    assert {row["table"]: row["rows"] for row in said["tables"]}["bases"] == 4
    assert any("drop_mg" in row["point"] and "fennel" in row["about"] for row in said["open_points"])
    assert said["damage"] == []


@IN_A_FOLDER
def test_doctor_finds_a_damaged_file(bench, capsys):
    file = Path(bench) / "bench.sqlite"
    whole = file.read_bytes()
    page = int.from_bytes(whole[16:18], "big")
    file.write_bytes(whole[: 3 * page] + bytes(4 * page) + whole[7 * page :])
    assert main(["doctor", "--bench", bench]) == 1
    assert "go back to a copy" in capsys.readouterr().err


def test_evaluate_tells_errors_beside_simpler_guesses(demo, ask, capsys):
    main(["evaluate", "--splits", "later cups", "--bench", str(demo)])
    said = capsys.readouterr().out
    assert said.startswith("Later cups: off by ")
    assert not [words for words in ("ridge", "natural log") if words in said]
    code, said = ask("evaluate", "--splits", "new combinations", "--bench", str(demo))
    assert code == 0
    everything = said["likings"][0]
    assert everything["model"] < everything["average"]
    assert said["sentences"]


def test_a_likeness_is_taken_apart_as_likeness(demo, ask):
    words = ["suggest", "--goal", "likeness", "--target-id", "clubhouse-cake", "--explain", "-n", "1"]
    code, said = ask(*words, "--bench", str(demo))
    assert code == 0
    parts = said["explained"][0]["parts"]
    assert sum(part["points"] for part in parts) == pytest.approx(said["suggestions"][0]["likeness"])
