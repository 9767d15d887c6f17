"""What plugins print never gets into an answer, at load or at run, and is told under their name."""

import io
import json
import shutil
import subprocess
import sys
import threading

import pytest
from plugin_lab import HEAD, drop_in

from pairing import host, running
from pairing.cli import main

LOUD = """
import atexit, os, subprocess, sys, threading
def shout(where):
    print("print at", where)
    sys.stdout.write("no end of line")
    sys.__stdout__.write("old stdout at " + where + "\\n")
    sys.__stdout__.flush()
    os.write(1, b"descriptor at " + where.encode() + b"\\n")
    subprocess.run(["echo", "process at", where])
shout("import")
threading.Timer(0.3, shout, ["thread"]).start()
atexit.register(shout, "exit")
def feature(table):
    shout("scoring")
    return table.base_index * 0.0
@hookimpl
def pairing_rules(settings):
    shout("hook")
    return [rule("loud", feature)]
@hookimpl
def pairing_trial_logged(trial):
    shout("logging")
def say(arguments):
    print('{"own": 1}' if arguments.json else "own words", flush=True)
    os.write(1, b"own descriptor\\n")
@hookimpl
def pairing_commands():
    return [Command(name="say", summary="Say", run=say)]
"""


def pairing(*words):
    code = "from pairing.cli import main; raise SystemExit(main())"
    return subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def loud(learned_demo, tmp_path_factory):
    """Return a demo bench with a plugin that prints in every way wherever it can."""
    folder = shutil.copytree(learned_demo, tmp_path_factory.mktemp("loud") / "bench")
    drop_in(folder, "loud", LOUD)
    return folder


def test_an_answer_is_one_document_whatever_plugins_print(loud):
    done = pairing("suggest", "--bench", str(loud), "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["suggestions"]
    for where in ("import", "hook", "scoring"):
        for what in ("print", "old stdout", "descriptor", "process"):
            assert f"plugin loud printed: {what} at {where}" in done.stderr
    for where in ("thread", "exit"):
        assert f"descriptor at {where}" in done.stderr
    assert "plugin loud printed: no end of line\n" in done.stderr


def test_a_command_of_a_plugin_answers_on_the_standard_output(loud):
    done = pairing("say", "--bench", str(loud))
    assert done.stdout == "own words\nown descriptor\n"
    assert json.loads(pairing("say", "--bench", str(loud), "--json").stdout) == {"own": 1}
    assert "print at" not in pairing("say", "--bench", str(loud), "--help").stdout


def test_a_command_that_prints_words_gives_a_document_all_the_same(tmp_path, capsys):
    drop_in(tmp_path, "lab", """
    @hookimpl
    def pairing_commands():
        return [Command(name="tally", summary="Count", run=lambda arguments: print("one\\ntwo"))]
    """)  # fmt: skip
    assert main(["tally", "--bench", str(tmp_path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"printed": ["one", "two"]}


def test_a_program_keeps_its_own_standard_output(tmp_path, capsys):
    drop_in(tmp_path, "lab", "print('mine')\n")
    before = sys.stdout
    host.load(tmp_path, only="lab")
    assert sys.stdout is before
    print("ours")
    assert capsys.readouterr() == ("ours\n", "plugin lab printed: mine\n")


def test_what_others_print_meanwhile_goes_through(capsys):
    with running.running("one"):
        print("a", end="")
        with running.running("two"):
            print("b")
        other = threading.Thread(target=print, args=["elsewhere"])
        other.start()
        other.join()
        print("c")
    assert capsys.readouterr() == ("elsewhere\n", "plugin two printed: b\nplugin one printed: ac\n")


def test_a_standard_output_that_is_closed_is_no_fault():
    code = "import sys, os; os.close(1); sys.stdout = None; from pairing.cli import main; raise SystemExit(main())"
    done = subprocess.run(
        [sys.executable, "-c", code, "plugins", "--quick", "--plugins", "", "--bench", "nowhere"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stderr


def test_a_thread_that_keeps_the_program_alive_is_named(tmp_path):
    drop_in(tmp_path, "lab", """
    import threading
    threading.Thread(target=threading.Event().wait, args=[1.5], name="counter").start()
    """)  # fmt: skip
    done = pairing("plugins", "--bench", str(tmp_path), "--quick")
    assert "plugin lab: its thread 'counter' keeps the program from ending" in done.stderr


def test_everything_that_a_plugin_raises_is_caught(tmp_path):
    for raised in ("KeyboardInterrupt", "GeneratorExit", "SystemExit(3)", "type('Own', (BaseException,), {})('x')"):
        drop_in(tmp_path, "lab", f"raise {raised}\n")
        (plugin,) = [p for p in host.load(tmp_path, only="lab").plugins if p.name == "lab"]
        assert plugin.state == "off"
        assert "lab.py:" in plugin.reason


@pytest.mark.usefixtures("interruptible")
def test_ctrl_c_names_the_plugin_that_ran(tmp_path, capsys):
    drop_in(tmp_path, "lab", "import os, signal, time\nos.kill(os.getpid(), signal.SIGINT)\ntime.sleep(5)\n", head=HEAD)
    assert main(["plugins", "--bench", str(tmp_path), "--quick"]) == 1
    assert "stopped while plugin lab ran" in capsys.readouterr().err


class Words(io.StringIO):
    """Standard error that lets a plugin go on as soon as somebody has said that it is waited for."""

    said = threading.Event()

    def write(self, text):
        if "Still waiting for plugin lab" in text:
            self.said.set()
        return super().write(text)


@pytest.mark.usefixtures("interruptible")
@pytest.mark.parametrize("words", [["plugins", "--quick"], ["of-a-plugin"]])
def test_a_plugin_that_never_ends_is_named_while_it_is_waited_for(tmp_path, monkeypatch, words):
    monkeypatch.setattr(running, "WAIT_S", 0.01)
    monkeypatch.setattr(sys, "stderr", told := Words())
    monkeypatch.setattr(Words, "said", threading.Event())
    ends = "assert sys.stderr.said.wait(60)\nos.kill(os.getpid(), signal.SIGINT)\nwhile True: pass\n"
    drop_in(tmp_path, "lab", f"import os, signal, sys\n{ends}")
    assert main([*words, "--bench", str(tmp_path), "--plugins", "lab"]) == 1
    first, *_, last = told.getvalue().splitlines()
    assert first.startswith("Still waiting for plugin lab: Ctrl+C ends the command; --plugins ")
    assert told.getvalue().count("Still waiting for plugin lab") == 1
    assert "stopped while plugin lab ran" in told.getvalue()
    assert "with --plugins and the names of others" in last


def test_what_passes_is_no_fault():
    from pairing.host.guard import attempt

    class Again(BaseException):
        pass

    def again():
        raise Again

    with pytest.raises(Again):
        attempt(again, plugin="p", stage="view", passing=(Again,))
    assert attempt(again, plugin="p", stage="view")[1].error == "Again"
