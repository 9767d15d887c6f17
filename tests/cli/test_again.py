"""Cups of before: poured once more, gone on with, taken back, looked at."""

import json

import pytest
from small_logs import BASES, FLAVOURINGS

from pairing import Bench
from pairing.cli import main

CUP = (
    "log oat --yes --base-g 250 --add quince=8drops --add rose=12.5g --strength quince=2 --liking 5 "
    "--taster ana --trial-id"
)


@pytest.fixture
def kitchen(tmp_path, monkeypatch):
    path = tmp_path / "kitchen"
    monkeypatch.setenv("PAIRING_BENCH", str(path))
    Bench.create(path).load(bases=BASES, flavourings=FLAVOURINGS)
    return path


def say(words, capsys):
    code = main(words.split())
    found = capsys.readouterr()
    return code, found.out + found.err


def rows(path, trial_id):
    table = Bench.open(path).tables("readings")
    return table[table["trial_id"] == trial_id]


def test_the_same_cup_and_what_changed(kitchen, capsys):
    assert say(f"{CUP} tuesday", capsys)[0] == 0
    code, said = say("log --again tue --add quince=10drops --add clove=0.1g --liking 7 --trial-id wednesday", capsys)
    assert code == 0
    assert "12.5 g Rose" in said
    steps = Bench.open(kitchen).tables("steps")
    new = steps[steps["trial_id"] == "wednesday"]
    assert new[new["kind"] == "add"][["item_id", "as_entered"]].to_numpy().tolist() == [
        ["rose", "12.5 g"],
        ["quince", "10 drops"],
        ["clove", "0.1 g"],
    ]
    assert set(rows(kitchen, "wednesday")["stepped"]) == {"no"}
    assert rows(kitchen, "tuesday")["liking"].tolist() == [5, 5]


def test_a_cup_of_a_table_is_poured_again_by_its_last_reading(kitchen, capsys):
    import pandas as pd

    row = {
        "trial_id": "old",
        "base_id": "oat",
        "flavouring_id": "rose",
        "dose_g_per_kg": 40.0,
        "base_g": 240,
        "liking": 6,
    }
    Bench.open(kitchen).load(readings=pd.DataFrame([row]))
    assert say("log --again old --liking 7 --trial-id new", capsys)[0] == 0
    assert rows(kitchen, "new")["dose_g_per_kg"].iloc[0] == pytest.approx(40.0, rel=1e-3)
    code, said = say("log --go-on old --sip 10 --liking 7", capsys)
    assert code == 1
    assert "--again" in said


def test_going_on_with_yesterdays_cup_keeps_its_id_and_its_readings(kitchen, capsys):
    say(f"{CUP} tuesday", capsys)
    code, said = say(
        "log --go-on tuesday --sip 10 --add quince=2drops --strength quince=3 --liking 7 --ended right", capsys
    )
    assert code == 0
    assert said.startswith("Corrected trial tuesday")
    kept = rows(kitchen, "tuesday")
    quince = kept[kept["flavouring_id"] == "quince"].set_index("reading")
    assert quince["strength"].tolist() == [2, 3]
    assert quince["dose_g_per_kg"].is_monotonic_increasing
    assert quince["stepped"].tolist() == ["no", "yes"]
    assert set(kept["ended"]) == {"right"}


def test_an_older_cup_is_taken_back_alone(kitchen, capsys):
    say(f"{CUP} tuesday", capsys)
    say(f"{CUP} wednesday", capsys)
    assert say("undo tue", capsys)[0] == 0
    assert rows(kitchen, "tuesday").empty
    assert not rows(kitchen, "wednesday").empty
    code, said = say("undo tuesday", capsys)
    assert code == 1
    assert "taken back already" in said


def test_a_beginning_must_be_of_one_cup(kitchen, capsys):
    say(f"{CUP} t-1", capsys)
    say(f"{CUP} t-2", capsys)
    code, said = say("undo --history t-", capsys)
    assert code == 1
    assert "2 trials begin with 't-': t-1, t-2" in said
    assert say("log --again t- --liking 5", capsys)[0] == 1
    with pytest.raises(SystemExit) as stop:
        main(["log", "--liking", "5"])
    assert stop.value.code == 2
    assert "--again" in capsys.readouterr().err


def test_the_history_shows_amounts_and_names(kitchen, capsys):
    say(f"{CUP} tuesday", capsys)
    _, said = say("undo --history last", capsys)
    assert "8 drops" in said
    assert "too weak, liking 5" in said
    assert Bench.open(kitchen).shelf().flavouring("quince").name in said
    main(["undo", "--history", "tuesday", "--json"])
    assert json.loads(capsys.readouterr().out)["history"][0]["trial_id"] == "tuesday"


def test_the_history_of_a_correction_shows_what_changed_in_words(kitchen, capsys):
    assert say("log oat --base-g 250 --add quince=8drops --strength 2 --liking 5", capsys)[0] == 0
    assert say("log --go-on last --liking 6 --strength 2 --ended right", capsys)[0] == 0
    (trial_id,) = Bench.open(kitchen).trials()
    _, said = say("undo --history last", capsys)
    assert f"History of {trial_id[:6]}" in said
    changed = next(line for line in said.splitlines() if "changed" in line)
    assert "the cup ended just right" in changed
    assert "too weak" not in changed
    assert "1." not in changed, "the dose is as it was"
    for words in (f"undo {trial_id[:8]}", f"undo {trial_id}"):
        assert trial_id not in say(words, capsys)[1]


def test_a_trial_is_kept_as_a_recipe_by_the_beginning_of_its_id(kitchen, capsys):
    assert say("log oat --base-g 250 --add quince=8drops --liking 7", capsys)[0] == 0
    assert say("log rice --base-g 250 --add quince=8drops --liking 7 --trial-id zz-1", capsys)[0] == 0
    first = next(one for one in Bench.open(kitchen).trials() if one != "zz-1")
    assert say(f"recipe keep {first[:7]} --name dusk", capsys)[0] == 0
    assert say("recipe keep zz --name dawn", capsys)[0] == 0
    kept = Bench.open(kitchen).tables("recipes").set_index("recipe_id")["base_id"]
    assert (kept["dusk"], kept["dawn"]) == ("oat", "rice")
    assert say("card last", capsys)[0] == 0
    code, said = say("recipe keep nothing --name dusk", capsys)
    assert code == 1
    assert first not in said


def test_going_on_takes_the_taster_and_says_what_comes_next(kitchen, capsys):
    assert say("log oat --base-g 250 --add quince=8drops --sip 10 --strength 2 --taster ana", capsys)[0] == 0
    code, said = say("log --go-on last --add quince=6drops --strength 3 --liking 7 --next", capsys)
    assert code == 0
    kept = Bench.open(kitchen).tables("readings")
    assert set(kept["taster"]) == {"ana"}
    assert kept["strength"].tolist() == [2, 3]
    assert "more Quince drops" in said or "Quince drops is" in said
    assert "Rose" in say("log --again last --liking 6 --next rose", capsys)[1]


def test_a_base_poured_by_volume_is_weighed_by_its_density(kitchen, capsys):
    assert say("log oat --base-g 200ml --liking 6 --taster ana --trial-id v", capsys)[0] == 0
    assert rows(kitchen, "v")["base_g"].iloc[0] == pytest.approx(206.0)
    with pytest.raises(SystemExit):
        say("log oat --base-g much --liking 6", capsys)
