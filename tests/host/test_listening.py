"""Listeners hear of every change of trials as what it is, and cost nobody the log."""

import pandas as pd
import pytest
from plugin_lab import HEAD, drop_in

from pairing import Bench, Cup

LISTENER = """
from pathlib import Path
@hookimpl
def pairing_logged(event):
    held = sorted(set(event.readings["trial_id"]))
    with (Path(__file__).parents[1] / "heard.txt").open("a") as file:
        file.write(f"{event.kind} {event.revision} {','.join(event.trial_ids)} {','.join(held)}\\n")
    {then}
@hookimpl
def pairing_trial_logged(trial):
    with (Path(__file__).parents[1] / "heard.txt").open("a") as file:
        file.write("old\\n")
"""


@pytest.fixture
def bench(tmp_path):
    made = Bench.create(tmp_path / "bench")
    made.load(
        bases=pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"]}),
        flavourings=pd.DataFrame({"flavouring_id": ["plum"], "name": ["Plum"], "label_dose_g_per_kg": [2.0]}),
    )
    return made


def listening(bench, tmp_path, then="pass"):
    drop_in(tmp_path / "bench", "lab", LISTENER.replace("{then}", then), head=HEAD.replace("(1, 0)", "(1, 1)"))
    return Bench.open(bench.place).choose_plugins("lab", False)


def change_everything(bench):
    trial = bench.log(Cup("oat", base_g=100).add("plum", g=0.2).read(strength={"plum": 3}), liking=7)
    bench.correct("readings", {"trial_id": trial}, {"liking": 8})
    bench.undo()
    more = pd.DataFrame(
        {"trial_id": ["t1", "t2"], "base_id": "oat", "flavouring_id": "plum", "dose_g_per_kg": 1.0, "liking": [5, 6]}
    )
    bench.load(readings=more)
    bench.undo()
    bench.undo(bench.revision)
    bench.correct("bases", "oat", {"ph": 6.5})
    return trial


def test_listeners_hear_every_change_of_trials(bench, tmp_path):
    first = bench.revision
    trial = change_everything(listening(bench, tmp_path))
    heard = (tmp_path / "bench" / "heard.txt").read_text().splitlines()
    assert heard == [
        "old",
        f"log {first + 1} {trial} {trial}",
        f"correct {first + 2} {trial} {trial}",
        f"undo {first + 3} {trial} {trial}",
        f"load {first + 4} t1,t2 t1,t2",
        f"undo {first + 5} t1,t2 ",
        f"undo {first + 6} t1,t2 t1,t2",
    ]


@pytest.mark.parametrize("then", ["raise BaseException('no')", "event.readings.drop(columns='base_id', inplace=True)"])
def test_a_fault_in_a_listener_costs_nothing(bench, tmp_path, then, caplog):
    trial = change_everything(listening(bench, tmp_path, then))
    assert set(bench.tables("readings")["trial_id"]) == {trial, "t1", "t2"}
    assert ("pairing_logged: BaseException: no" in caplog.text) == ("raise" in then)


def test_strict_plugins_stop_before_anything_is_stored(bench, tmp_path):
    from pairing.errors import PluginError

    drop_in(tmp_path / "bench", "lab", "1 / 0")
    strict, before = Bench.open(bench.place).choose_plugins("lab", True), bench.revision
    for change in (strict.undo, lambda: strict.correct("bases", "oat", {"ph": 6.5})):
        with pytest.raises(PluginError):
            change()
    assert bench.revision == before
