"""Rules of a bench's files run in a process of their own: what they do to it, they do to it alone."""

import os
import signal
import threading

import numpy as np
import pytest
from plugin_lab import drop_in, load_one

from pairing import host
from pairing.api import Base, Flavouring, Recipe
from pairing.errors import StoppedInPlugin
from pairing.host.scoring import because
from pairing.host.tables import addition_table, recipe_table
from pairing.model.shelf import Shelf

SHELF = Shelf.of(
    [Base(base_id="oat", name="Oat", fat_g_per_100g=1.5), Base(base_id="whey", name="Whey", fat_g_per_100g=0.2)],
    [Flavouring(flavouring_id=name, name=name, fat_loving=0.5) for name in ("plum", "clove", "pear")],
)
TABLE = recipe_table(SHELF, ["oat", "whey", "oat"], [("plum",), ("plum", "clove"), ()], [(1,), (2, 3), ()])

RULES = """
import os, sys, threading, time
import numpy as np
def ends(table): os._exit(3)
def loops(table):
    while True: pass
def takes_all(table): return np.ones((4_000_000_000 // 8,))[: len(table)]
def raises(table):
    return 1 / 0
def leaves_a_thread(table):
    threading.Thread(target=time.sleep, args=(600,)).start()
    return table.base_index * 0.5
def prints(table):
    print("hello")
    return table.base_index * 0.5
def writes(table):
    table.base_index[0] = 7
    return table.base_index * 0.5
def good(table): return (table.base_fat_g_per_100g > 1) * 0.5
def pid(table): return np.full(len(table), 0.0)
pid.because = lambda recipe: str(os.getpid())
@hookimpl
def pairing_rules(settings):
    return [rule(name, globals()[name], because=getattr(globals()[name], "because", lambda recipe: "x"))
            for name in settings["rules"].split(",")]
"""


def load(tmp_path, rules, **worker):
    lines = "\n".join(f"{name} = {str(value).lower()}" for name, value in worker.items())
    (tmp_path / "plugins.toml").write_text(f'[lab]\nrules = "{rules}"\n[worker]\n{lines}\n')
    return load_one(tmp_path, RULES)[0]


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ("ends", "it ended its process with exit code 3"),
        ("loops", "it took more than 2 s and was stopped"),
        ("takes_all", "it took more than 300 MB of memory and was stopped"),
    ],
)
def test_what_ends_the_process_is_named_and_off_and_the_answer_goes_on(tmp_path, wrong, told):
    loaded = load(tmp_path, f"good,{wrong}", seconds=2, memory_mb=300)
    matrix, (fault,) = loaded.features(loaded.rules, TABLE)
    assert matrix[:, 0].tolist() == [0.5, 0, 0.5]
    assert not matrix[:, 1].any()
    assert fault.line.startswith(f"plugin lab: rule lab:{wrong} skipped: {told}")
    _, again = loaded.features(loaded.rules, TABLE)
    assert all("not asked again" in fault.line for fault in again), "it is not tried a second time"


def test_the_others_are_asked_in_a_new_process(tmp_path):
    drop_in(tmp_path, "other", RULES)
    drop_in(tmp_path, "lab", RULES)
    settings = {"lab": {"rules": "ends,good"}, "other": {"rules": "good"}}
    loaded = host.load(tmp_path, only="lab,other", settings=settings)
    matrix, faults = loaded.features(loaded.rules, TABLE)
    assert [fault.subject for fault in faults] == ["lab:ends", "lab:good"]
    assert matrix[:, 2].tolist() == [0.5, 0, 0.5]


def test_a_fault_has_the_place_in_the_plugin(tmp_path):
    loaded = load(tmp_path, "raises")
    _, (fault,) = loaded.features(loaded.rules, TABLE)
    assert "ZeroDivisionError" in fault.line
    assert fault.where.endswith("lab.py:15")


def test_what_a_rule_prints_is_told_under_its_name(tmp_path, capsys):
    loaded = load(tmp_path, "prints")
    assert loaded.features(loaded.rules, TABLE)[1] == ()
    out, err = capsys.readouterr()
    assert out == ""
    assert "plugin lab printed: hello\n" in err


def test_a_thread_of_a_rule_keeps_nobody_alive(tmp_path):
    before = threading.active_count()
    loaded = load(tmp_path, "leaves_a_thread")
    assert loaded.features(loaded.rules, TABLE)[1] == ()
    assert threading.active_count() == before + 1, "the one that listens"
    assert all(thread.daemon for thread in threading.enumerate() if thread is not threading.main_thread())


def test_tables_are_read_only_there_too(tmp_path):
    loaded = load(tmp_path, "writes")
    assert "read-only" in loaded.features(loaded.rules, TABLE)[1][0].line


def test_words_come_from_there_and_a_setting_brings_rules_back_here(tmp_path):
    recipe = Recipe("oat", {"plum": 1})
    loaded = load(tmp_path, "pid")
    there = because(loaded.rules[0], recipe)[0]
    assert int(there) != os.getpid()
    assert because(loaded.rules[0], recipe)[0] == there, "one process for all questions"
    here = load(tmp_path, "pid", on=False)
    assert int(because(here.rules[0], recipe)[0]) == os.getpid()


def test_the_same_answer_there_and_here(tmp_path):
    body = """
import numpy as np
@hookimpl
def pairing_rules(settings):
    return [rule("dose", lambda t: np.clip(t.base_fat_g_per_100g * t.fat_loving * (1 + t.companions), -1, 1),
                 acts_on="dose", needs=("base_fat_g_per_100g",)),
            rule("liking", lambda t: np.tanh(t.total(t.dose_g_per_kg * t.fat_loving)) * t.incidence[:, 0])]
"""
    found = []
    for on in ("true", "false"):
        (tmp_path / "plugins.toml").write_text(f"[worker]\non = {on}\n")
        loaded, _ = load_one(tmp_path, body)
        additions = addition_table(SHELF, ["oat", "whey"], [("plum", "clove"), ("pear",)])
        found.append([loaded.features(loaded.rules[:1], additions)[0], loaded.features(loaded.rules[1:], TABLE)[0]])
    for there, here in zip(*found, strict=True):
        assert there.any()
        np.testing.assert_array_equal(there, here)


def test_settings_of_the_process_are_checked(tmp_path):
    loaded = load(tmp_path, "good", secnds=3)
    assert "plugin worker: secnds: there is no setting 'secnds' — did you mean seconds?" in loaded.faults[0].line
    drop_in(tmp_path, "worker", RULES)
    assert any("worker is a table of the settings" in fault.line for fault in host.load(tmp_path).faults)


def test_ctrl_c_names_the_plugin_and_the_next_answer_is_its_own(tmp_path, interruptible):
    loaded = load(tmp_path, "good,pid")
    assert loaded.features(loaded.rules, TABLE)[1] == ()
    worker = loaded.rules[0].feature.__closure__
    (mine,) = [cell.cell_contents for cell in worker if type(cell.cell_contents).__name__ == "Worker"]

    class Pressed:
        def get(self, timeout):
            signal.raise_signal(signal.SIGINT)

    mine._process.answers = Pressed()
    with pytest.raises(StoppedInPlugin, match="plugin lab"):
        loaded.features(loaded.rules, TABLE)
    matrix, faults = loaded.features(loaded.rules, TABLE)
    assert faults == ()
    assert matrix[:, 0].tolist() == [0.5, 0, 0.5]
