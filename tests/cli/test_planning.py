"""Planning from the command line: an evening, an override, a replay of the log."""

import json

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


def test_an_evening_is_put_in_order(ask):
    code, said = ask("suggest", "--evening", "-n", "4")
    assert code == 0
    assert sorted(row["suggestion"] for row in said["evening"]) == [1, 2, 3, 4]
    assert all("rinse" in row["before"] for row in said["evening"])
    assert isinstance(said["stock_cups"], list)


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


def test_a_pre_dilution_that_is_advised_can_be_kept(tmp_path, capsys):
    folder = tmp_path / "bench"
    bench = Bench.create(folder)
    bench.keep(
        Base(base_id="oat", name="Oat drink"),
        Flavouring(flavouring_id="clove", name="Clove oil", label_dose_g_per_kg=0.05),
        Flavouring(flavouring_id="plum", name="Plum syrup", label_dose_g_per_kg=40.0),
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
