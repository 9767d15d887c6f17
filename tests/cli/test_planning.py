"""Planning from the command line: an evening, an override, a replay of the log."""

import json
import shutil

import numpy as np
import pytest
import simulated

from pairing import Bench
from pairing.cli import main
from pairing.model.base import Base
from pairing.model.flavouring import Flavouring


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    palate = simulated.make_palate(4, 2, 5)
    folder = tmp_path_factory.mktemp("planning") / "bench"
    log = palate.log(30, np.random.default_rng(4))
    Bench.create(folder).load(bases=palate.bases_df, flavourings=palate.flavourings_df, readings=log)
    return str(folder)


@pytest.fixture
def ask(bench, capsys):
    def answer(*words):
        capsys.readouterr()
        code = main([*words, "--bench", bench, "--plugins", "", "--json"])
        return code, json.loads(capsys.readouterr().out)

    return answer


def test_points_of_a_suggestion_are_explained(ask, bench, capsys):
    _, said = ask("suggest", "--explain", "-n", "2")
    for one, why in zip(said["suggestions"], said["explained"], strict=True):
        assert sum(part["points"] for part in why["parts"]) == pytest.approx(one["liking"])
        assert len(why["leans_on"]) == 5
    capsys.readouterr()
    main(["suggest", "--explain", "-n", "1", "--bench", bench, "--plugins", ""])
    shown = capsys.readouterr().out
    assert "Where the points of 1 come from, to the average taster" in shown
    assert "a point more there is" in shown


def test_an_evening_is_put_in_order(ask):
    code, said = ask("suggest", "--evening", "-n", "4", "--bases", "base-00", "--must-have", "flav-01")
    assert code == 0
    assert sorted(row["suggestion"] for row in said["evening"]) == [1, 2, 3, 4]
    assert all("rinse" in row["before"] for row in said["evening"])
    partners = [set(one["recipe"]["doses"]) - {"flav-01"} for one in said["suggestions"]]
    assert sum(map(len, partners)) >= 2
    (stock,) = (one for one in said["stock_cups"] if one["flavouring_id"] == "flav-01")
    assert stock["base_id"] == "base-00"
    assert all({partner} in partners for partner in stock["partners"])
    assert len(stock["partners"]) >= 2
    assert stock["base_g"] == 40 * len(stock["partners"])
    assert stock["saved_g"] == (250 - 40) * len(stock["partners"])


def test_a_replay_says_how_many_trials_the_planner_needs(ask):
    code, said = ask("evaluate", "--plan")
    assert code == 0
    assert 1 <= said["replay"]["planned_trials"] <= 30
    assert said["replay"]["own_trials"] >= 1


def test_a_ladder_pauses_and_goes_on_only_on_purpose(ask):
    words = ("dose", "base-00", "flav-01", "--base-g", "200", "--add", "flav-01=60g", "--sip", "10")
    code, paused = ask(*words, "--strength", "flav-01=0")
    assert code == 0
    assert paused["advice"]["paused"]
    _, going_on = ask(*words, "--strength", "flav-01=0", "--override")
    assert not going_on["advice"]["paused"]


def test_several_flavourings_are_advised_on_with_the_one_that_has_furthest_to_go_first(ask, bench, capsys):
    cup = ("--base-g", "400", "--add", "flav-01=0.1g", "--sip", "10", "--strength", "flav-01=1")
    code, said = ask("dose", "base-00", "flav-01,flav-02", *cup)
    assert code == 0
    assert [one["flavouring_id"] for one in said["advices"]] == ["flav-02", "flav-01"]
    assert "advice" not in said
    _, one = ask("dose", "base-00", "flav-01", *cup)
    assert one["advices"] == [one["advice"]]
    main(["dose", "base-00", "flav-01,flav-02", *cup, "--bench", bench, "--plugins", ""])
    assert "Add one at a time: Flavouring 2 first, then sip and ask again." in capsys.readouterr().out


def test_a_pre_dilution_that_is_advised_can_be_kept(tmp_path, capsys):
    folder = tmp_path / "bench"
    bench = Bench.create(folder)
    bench.keep(
        Base(base_id="oat", name="Oat drink"),
        Flavouring(flavouring_id="clove", name="Clove oil", label_dose_g_per_kg=0.05, food_use="yes"),
        Flavouring(flavouring_id="plum", name="Plum syrup", label_dose_g_per_kg=40.0, food_use="yes"),
    )
    words = ("--base-g", "250", "--keep-dilution", "--bench", str(folder), "--plugins", "")
    assert main(["dose", "oat", "clove", *words]) == 0
    thin = [f for f in bench.shelf().flavourings if f.startswith("clove-1in")]
    assert len(thin) == 1
    assert bench.shelf().flavouring(thin[0]).version_of == "clove"
    capsys.readouterr()
    assert main(["dose", "oat", "plum", *words]) == 0
    assert "nothing to keep" in capsys.readouterr().err
    assert main(["dose", "oat", "clove", *words[2:]]) == 1
    assert "add --base-g" in capsys.readouterr().err


@pytest.fixture
def kitchen(tmp_path, capsys):
    bench = Bench.create(tmp_path / "bench")
    bench.keep(
        Base(base_id="oat", name="Oat drink", energy_kcal_per_100g=45.0),
        Base(base_id="pea", name="Pea shake"),
        Flavouring(
            flavouring_id="clove", name="Clove oil", label_dose_g_per_kg=0.05, max_dose_g_per_kg=0.4, food_use="yes"
        ),
        Flavouring(
            flavouring_id="trace", name="Trace", label_dose_g_per_kg=0.002, max_dose_g_per_kg=0.003, food_use="yes"
        ),
        Flavouring(
            flavouring_id="dust", name="Dust", label_dose_g_per_kg=0.00002, max_dose_g_per_kg=0.00003, food_use="yes"
        ),
        Flavouring(flavouring_id="plum", name="Plum", label_dose_g_per_kg=20.0, food_use="yes"),
        Flavouring(
            flavouring_id="maple",
            name="Maple",
            form="syrup",
            density_g_per_ml=1.32,
            label_dose="1 oz/gal",
            food_use="yes",
        ),
        Flavouring(flavouring_id="raw", name="Raw resin", label_dose_g_per_kg=20.0, food_use="unknown"),
    )

    def say(*words):
        capsys.readouterr()
        code = main([*words, "--bench", str(tmp_path / "bench"), "--plugins", ""])
        said = capsys.readouterr()
        return code, " ".join((said.out + said.err).split())

    return say


def test_each_base_has_its_own_dilution(kitchen):
    for base in ("oat", "pea"):
        code, said = kitchen("dose", base, "clove", "--base-g", "250", "--keep-dilution")
        assert code == 0
        assert f"clove-1in100-{base}" in said
        assert "diluted first" in said


def test_how_a_label_is_understood_is_said_wherever_it_counts(kitchen):
    basis = "1 oz per gal of base = 9.913 g/kg finished"
    ounce = "the label of Maple: oz of the flavouring: fluid ounces, as it is liquid; by mass the dose is −27 %"
    for words in (["dose", "oat", "maple"], ["dose", "oat", "maple", "--base-g", "250"]):
        said = kitchen(*words)[1]
        assert basis in said
        assert said.count(ounce) == 1
    assert basis in kitchen("card", "oat|maple=9")[1]
    assert ounce in kitchen("dose")[1]
    assert "correct '1 oz/gal': write fl oz or g" in kitchen("doctor")[1]


def test_a_trace_is_diluted_further_and_what_cannot_be_measured_is_said(kitchen):
    assert "1 g in 999 g, in 3 steps" in kitchen("dose", "oat", "trace", "--base-g", "250")[1]
    said = kitchen("dose", "oat", "dust", "--base-g", "250", "--keep-dilution")[1]
    assert "pour more base" in said
    assert "nothing is to be added" in said


def test_what_is_not_for_food_and_who_is_not_known_is_said(kitchen):
    assert "not known to be meant for food" in kitchen("dose", "oat", "raw", "--base-g", "250")[1]
    code, said = kitchen("dose", "oat", "plum", "--taster", "nobody")
    assert code == 1
    assert "no taster 'nobody'" in said


def test_a_dose_over_the_maximum_or_beyond_sense_is_said_when_it_is_logged(kitchen):
    words = ("log", "oat", "--base-g", "250", "--add", "clove=2g", "--liking", "2")
    code, said = kitchen(*words)
    assert code == 1
    assert "Clove oil is at 7.94 g/kg, its maximum dose is 0.4 g/kg: nothing is stored yet" in said
    assert "check the unit" in said
    code, said = kitchen(*words, "--yes")
    assert code == 0
    assert "do not drink more of it" in said
    assert "check the unit" not in kitchen("log", "oat", "--base-g", "250", "--add", "plum=5g", "--liking", "7")[1]


def test_a_dose_far_past_the_label_is_asked_about_before_it_is_stored(kitchen, tmp_path):
    words = ("log", "oat", "--base-g", "60", "--add", "plum=30g", "--liking", "2", "--trial-id", "slip")
    code, said = kitchen(*words)
    assert code == 1
    assert "17 × its label of 20 g/kg: nothing is stored yet" in said
    assert "--yes" in said
    readings = Bench.open(tmp_path / "bench").tables("readings")
    assert "slip" not in set(readings["trial_id"])
    assert kitchen(*words, "--yes")[0] == 0
    assert set(Bench.open(tmp_path / "bench").tables("readings")["note"]) == {"past 3 × the label on purpose: plum"}


def test_at_a_terminal_the_question_is_asked_and_an_n_stores_nothing(kitchen, monkeypatch):
    import io

    class Terminal(io.StringIO):
        def isatty(self):
            return True

    monkeypatch.setattr("pairing.cli.asking.answer", Terminal)
    words = ("log", "oat", "--base-g", "60", "--add", "plum=30g", "--liking", "2")
    for typed, code in (("n\n", 1), ("\n", 1), ("y\n", 0)):
        monkeypatch.setattr("sys.stdin", Terminal(typed))
        found = kitchen(*words)
        assert found[0] == code
        assert "Is that what is in the cup?" in found[1]


def test_a_pause_says_how_to_go_on_and_the_log_keeps_it(kitchen, tmp_path):
    cup = ("--base-g", "250", "--add", "plum=20g", "--sip", "10", "--strength", "plum=1")
    said = kitchen("dose", "oat", "plum", *cup)[1]
    assert "log the cup with that override" in said
    assert "--override here, --override plum when the cup is logged" in said
    assert "--override" not in kitchen("dose", "oat", "clove", "--base-g", "250", "--add", "clove=0.1g")[1]
    kitchen("log", "oat", *cup, "--liking", "6", "--note", "sweet", "--override", "plum")
    assert set(Bench.open(tmp_path / "bench").tables("readings")["note"]) == {
        "sweet; past 3 × the label on purpose: plum"
    }
    code, said = kitchen("log", "oat", *cup, "--override", "plum,clove")
    assert code == 1
    assert "not in the cup" in said


def test_the_same_trial_again_offers_no_undo(kitchen):
    words = ("log", "oat", "--base-g", "250", "--add", "plum=5g", "--liking", "7", "--trial-id", "a1")
    assert "pairing undo" in kitchen(*words)[1]
    code, said = kitchen(*words)
    assert code == 0
    assert "nothing was added" in said
    assert "undo" not in said


def test_a_logged_cup_can_be_corrected(kitchen):
    words = ("log", "oat", "--base-g", "250", "--add", "plum=5g", "--trial-id", "a1", "--liking")
    kitchen(*words, "7")
    code, said = kitchen(*words, "4")
    assert code == 1
    assert "--on-conflict revise" in said
    code, said = kitchen(*words, "4", "--on-conflict", "revise")
    assert code == 0
    assert "Corrected trial a1" in said
    assert "Logged trial a2" in kitchen(*words[:-2], "a2", "--liking", "4", "--on-conflict", "revise")[1]


def test_remedies_of_the_command_line_can_be_typed_there(kitchen, tmp_path):
    other = tmp_path / "bases.csv"
    other.write_text("base_id,name\noat,Another\n", encoding="utf-8")
    assert "--on-conflict revise" in kitchen("load", str(other))[1]
    assert "--ended spoiled" in kitchen("log", "oat", "--base-g", "250")[1]
    while kitchen("undo")[0] == 0:
        pass
    assert "undo --history TRIAL" in kitchen("undo")[1]


def test_what_is_unknown_and_so_left_out_is_said_below_the_table(kitchen):
    assert (
        "unknown energy leaves out"
        in kitchen("suggest", "--max-added-kcal", "20", "-n", "1", "--max-flavourings", "1")[1]
    )


def test_what_contradicts_itself_is_refused(kitchen):
    code, said = kitchen("log", "oat", "--base-g", "250", "--add", "plum=5g", "--likeness", "5")
    assert code == 1
    assert "--target" in said
    with pytest.raises(SystemExit) as stop:
        kitchen("card", "oat|plum=1", "--litres", "2", "--servings", "4")
    assert stop.value.code == 2


def test_drops_and_millilitres_that_rest_on_a_guess_are_said(kitchen):
    words = ("log", "oat", "--base-g", "250", "--liking", "7", "--add")
    assert "which nobody weighed" in kitchen(*words, "plum=10drops")[1]
    assert "1.00 g per ml" in kitchen(*words, "plum=3ml")[1]
    assert "nobody" not in kitchen(*words, "plum=3g")[1]


def test_spoons_and_dashes_are_said_with_what_they_were_taken_for(kitchen):
    words = ("log", "oat", "--base-g", "250", "--liking", "7", "--add")
    spoon = kitchen(*words, "plum=1/2tsp")[1]
    assert "1.00 g per ml" in spoon
    assert "tsp: US measure assumed" in spoon
    assert "a dash is no standard measure" in kitchen(*words, "plum=1 dash")[1]
    assert "1.00 g per ml" in kitchen(*words, "plum=3 cc")[1]
    assert "Oat drink was taken for 1.03 g per ml" in kitchen(*words, "plum=3g", "--pour", "50 ml")[1]
    assert "1.03" not in kitchen(*words, "plum=3g", "--pour", "50 g")[1]
    assert "a dash is no standard" in kitchen("dose", "oat", "plum", "--base-g", "250", "--add", "plum=1 dash")[1]


def test_less_than_nothing_is_not_added(kitchen):
    code, said = kitchen("log", "oat", "--base-g", "250", "--liking", "7", "--add", "plum=-20g")
    assert code == 1
    assert "write what went in" in said
    assert "total" not in said


def test_a_needed_dose_is_that_of_the_taster_who_is_named(tmp_path, capsys):
    palate = simulated.make_palate(9, 2, 4, 2)
    Bench.create(tmp_path / "b").load(
        bases=palate.bases_df, flavourings=palate.flavourings_df, readings=palate.log(120, np.random.default_rng(9))
    )
    said = {}
    for taster in palate.tasters:
        words = ["dose", "--taster", taster, "--bench", str(tmp_path / "b"), "--plugins", "", "--json"]
        assert main(words) == 0
        said[taster] = [row["dose_g_per_kg"] for row in json.loads(capsys.readouterr().out)["needed_dose"]]
    assert said["taster-1"] != said["taster-2"]


def test_what_a_limit_of_a_plugin_leaves_out_is_said_once(demo, tmp_path, capsys):
    limited = shutil.copytree(demo, tmp_path / "bench")
    (limited / "plugins.toml").write_text("[cup-limits]\nmax_sugars_g_per_100g = 5\n")
    assert main(["suggest", "--bench", str(limited)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert said.count("Not looked at: at most 5 g sugars per 100 g of drink (cup-limits:sugars): leaves out") == 1


def test_amounts_are_said_in_the_measures_of_the_bench(kitchen):
    words = ("suggest", "--bases", "oat", "-n", "20", "--max-flavourings", "1")
    assert " g (" in kitchen(*words)[1]
    assert kitchen("settings", "--amounts", "ml", "--volumes", "US")[0] == 0
    assert "tsp (" in kitchen(*words)[1]
