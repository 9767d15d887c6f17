"""Plugin files of a bench at the command line: named until they are trusted, and never run before."""

import contextlib
import json
import shutil
import subprocess
import sys

import pytest
from plugin_lab import drop_in

from pairing import Bench
from pairing.cli import main
from pairing.host.trusted import EDITED

STRANGER = """
from pathlib import Path
Path(__file__).parents[1].joinpath("it-ran").touch()
def weigh(arguments):
    print("weighed")
@hookimpl
def pairing_commands():
    return [Command(name="weigh", summary="Weigh", run=weigh)]
@hookimpl
def pairing_rules():
    return [rule("good", lambda table: table.base_index * 0.0 + 1)]
"""


@pytest.fixture
def stranger(tmp_path):
    """Return a bench with a plugin file that came with it."""
    bench = tmp_path / "stranger"
    Bench.create(bench)
    drop_in(bench, "lab", STRANGER, trusted=False)
    return bench


def states(bench, capsys, *words):
    capsys.readouterr()
    assert main(["plugins", "--quick", "--bench", str(bench), "--json", *words]) == 0
    return {p["name"]: p["state"] for p in json.loads(capsys.readouterr().out)["plugins"]}


@pytest.mark.parametrize(
    "words",
    [
        ["suggest"],
        ["plugins"],
        ["plugins", "--quick"],
        ["doctor"],
        ["log", "oat", "--base-g", "200", "--add", "plum=0.5g", "--liking", "7"],
        ["load", "readings.csv"],
        ["weigh"],
        ["weigh", "--help"],
        ["evaluate"],
        ["graph"],
    ],
)
def test_no_command_runs_the_files_of_a_strangers_bench_and_most_name_them(stranger, words, capsys, monkeypatch):
    monkeypatch.chdir(stranger)
    (stranger / "readings.csv").write_text("trial_id,base_id,flavouring_id,dose_g_per_kg,liking\nt1,oat,plum,1,7\n")
    (stranger / "b.csv").write_text("base_id,name\noat,Oat\n")
    (stranger / "f.csv").write_text("flavouring_id,name,label_dose_g_per_kg\nplum,Plum,1\n")
    assert main(["load", "b.csv", "f.csv", "--bench", str(stranger)]) == 0
    capsys.readouterr()
    with pytest.raises(SystemExit) if words[0] == "weigh" else contextlib.nullcontext():
        main([*words, "--bench", str(stranger)])
    assert not (stranger / "it-ran").exists()
    lines = capsys.readouterr().err.splitlines()
    named = [line for line in lines if line.startswith("plugin lab: not trusted")]
    assert len(named) == 1, lines
    assert f"pairing plugins --trust --bench {stranger}" in named[0]


def test_trusted_once_it_runs_until_something_changes(stranger, capsys):
    assert states(stranger, capsys)["lab"] == "not trusted"
    assert main(["plugins", "--quick", "--trust", "--bench", str(stranger)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert f"Trusted: what is in {stranger / 'plugins'} (lab.py), as it is now; a change asks again." in out
    assert states(stranger, capsys)["lab"] == "loaded"
    assert main(["weigh", "--bench", str(stranger)]) == 0
    (stranger / "plugins" / "_helper.py").write_text("")
    assert states(stranger, capsys)["lab"] == "not trusted"


def test_while_editing_it_is_trusted_in_this_process_only(stranger):
    code = """
import sys
from pathlib import Path
from pairing.cli import main
assert main(["plugins", "--quick", "--trust", "--editing", "--bench", sys.argv[1]]) == 0
(Path(sys.argv[1]) / "plugins" / "_helper.py").write_text("")
assert main(["weigh", "--bench", sys.argv[1]]) == 0
"""
    done = subprocess.run([sys.executable, "-c", code, stranger], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.endswith("weighed\n")
    again = "import sys; from pairing.cli import main; main(['weigh', '--bench', sys.argv[1]])"
    done = subprocess.run([sys.executable, "-c", again, stranger], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "not trusted" in done.stderr


def test_the_dashboard_is_told_which_folder_is_being_edited(stranger, monkeypatch, capsys):
    started = []

    def start(command, env, **options):
        started.append(env)
        return real([sys.executable, "-c", ""])

    real = subprocess.Popen
    monkeypatch.setattr(subprocess, "Popen", start)
    assert main(["dashboard", "--headless", "--bench", str(stranger)]) == 0
    assert main(["dashboard", "--headless", "--trust", "--editing", "--bench", str(stranger)]) == 0
    assert EDITED not in started[0]
    assert started[1][EDITED] == str(stranger / "plugins")
    assert "not trusted" not in capsys.readouterr().err


@pytest.mark.parametrize("came", ["nothing", "plugins that are trusted", "a file that is not"])
def test_a_new_plugin_is_trusted_unless_something_else_came_with_its_folder(tmp_path, came, capsys):
    bench = tmp_path / "bench"
    Bench.create(bench)
    if came != "nothing":
        drop_in(bench, "lab", STRANGER, trusted="not" not in came)
    assert main(["new-plugin", "salt", "--file", "--bench", str(bench)]) == 0
    said = capsys.readouterr().out
    trusted = "not" not in came or came == "nothing"
    assert ("does not run yet" in said) == (not trusted)
    assert states(bench, capsys)["salt"] == ("loaded" if trusted else "not trusted")


def test_a_folder_that_is_being_edited_is_not_kept_by_a_new_plugin(stranger, monkeypatch, capsys):
    monkeypatch.setenv(EDITED, str(stranger / "plugins"))
    assert main(["new-plugin", "salt", "--file", "--bench", str(stranger)]) == 0
    monkeypatch.delenv(EDITED)
    assert states(stranger, capsys)["salt"] == "not trusted"


def test_a_server_has_no_folder_to_trust_and_a_bench_without_one_neither(tmp_path, capsys):
    assert main(["plugins", "--trust", "--bench", "postgresql+psycopg://kitchen/bench"]) == 1
    assert "a bench on a server has no plugin folder" in capsys.readouterr().err
    bench = tmp_path / "bench"
    Bench.create(bench)
    shutil.rmtree(bench / "plugins")
    assert main(["plugins", "--trust", "--bench", str(bench)]) == 1
    assert "there is no folder" in capsys.readouterr().err
