"""From words to a command: names, exit codes, errors without a traceback."""

from __future__ import annotations

import importlib
import json
import subprocess
import sys
from types import ModuleType

import pytest

from pairing.cli import COMMANDS, entry, main
from pairing.cli.common import number
from pairing.cli.names import module_of
from pairing.errors import PairingError


def fake(run, add=lambda parser: None):
    module = ModuleType("fake")
    module.add_arguments, module.run = add, run
    return module


@pytest.fixture
def only(monkeypatch):
    """Make ``fake`` the one command there is."""

    def install(run, **options):
        monkeypatch.setattr(entry, "COMMANDS", {"fake": "a fake"})
        monkeypatch.setitem(sys.modules, "pairing.cli.fake", fake(run, **options))

    return install


def refusing(args, out):
    raise PairingError("the dose is 1200 g/kg, at most 999 fits", "lower it")


def test_every_command_has_a_summary_and_a_file():
    wanted = ["demo", "init", "load", "suggest", "dose", "log", "undo", "calibrate", "compare", "export", "bench-check"]
    assert set(wanted) <= set(COMMANDS)
    for name, summary in COMMANDS.items():
        module = importlib.import_module(module_of(name))
        assert summary
        assert "\n" not in summary
        assert module.__doc__
        assert callable(module.run)


@pytest.mark.parametrize("words", [["--help"], *([name, "--help"] for name in COMMANDS)], ids=" ".join)
def test_help_says_what_it_is_for(words, capsys):
    with pytest.raises(SystemExit) as stop:
        main(words)
    assert stop.value.code == 0
    text = capsys.readouterr().out
    assert "--json" in text if len(words) == 2 else all(name in text for name in COMMANDS)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "suggest what to try next"),
        (["sugest"], "did you mean suggest? Or see pairing --help"),
        (["suggest", "--no-such"], "unrecognized arguments: --no-such\nWhat to do: see pairing --help"),
        (
            ["load", "a.csv", "--flavourings", "b.csv", "c.csv"],
            "c.csv\nWhat to do: put what belongs to no option right after",
        ),
        (["suggest", "--goal", "likin"], "did you mean liking? Or see pairing suggest --help"),
        (["log"], "see pairing log --help"),
        (
            ["log", "oat", "--base-g", "400kcal"],
            "the unit 'kcal' does not fit — write the number in the unit of base_g",
        ),
        (["suggest", "--max-added-kcal", "1,000"], "'1,000' may be 1000 or 1.000"),
        (["suggest", "--max-added-kcal", "nan"], "'nan' is not a number"),
        (["undo", "--history", ""], "it is empty"),
        (["export", " "], "it is empty"),
        (["graph", "export", ""], "it is empty"),
        (["graph", "gaps", "-n", "0"], "no whole number from 1"),
        (["graph", "difference", "a", "b", "-n", "-2"], "no whole number from 1"),
        (["suggest", "-n", "0"], "no whole number from 1"),
        (["calibrate", "plum", "40=1", "--scale-g", "0"], "is not above 0"),
        (["init", "--scale-g=-1"], "is not above 0"),
    ],
)
def test_wrong_usage_is_two_and_names_the_remedy(words, says, capsys):
    with pytest.raises(SystemExit) as stop:
        main(words)
    assert stop.value.code == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert says in printed.err


def test_wrong_usage_in_json_is_one_document(capsys):
    with pytest.raises(SystemExit) as stop:
        main(["suggest", "--goal", "likin", "--json"])
    assert stop.value.code == 2
    said = json.loads(capsys.readouterr().out)
    assert "'likin'" in said["error"]
    assert "did you mean liking" in said["hint"]


@pytest.mark.parametrize(("text", "value"), [("20,5", 20.5), ("0,125", 0.125), (" 7 ", 7.0), ("-1e-3", -0.001)])
def test_numbers_may_have_a_decimal_comma(text, value):
    assert number(text) == value


def test_refusal_is_one_and_names_the_remedy(only, capsys):
    only(refusing)
    assert main(["fake"]) == 1
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err == "the dose is 1200 g/kg, at most 999 fits\nWhat to do: lower it\n"


def test_refusal_in_json_is_one_document(only, capsys):
    only(refusing)
    assert main(["fake", "--json"]) == 1
    assert json.loads(capsys.readouterr().out) == {
        "error": "the dose is 1200 g/kg, at most 999 fits",
        "hint": "lower it",
    }


def missing_file(args, out):
    open("/no/such/file", encoding="utf-8").close()


def interrupted(args, out):
    raise KeyboardInterrupt


@pytest.mark.parametrize(("run", "word"), [(missing_file, "No such file"), (interrupted, "stopped")])
def test_trouble_outside_is_told_without_a_traceback(only, capsys, run, word):
    only(run)
    assert main(["fake"]) == 1
    error = capsys.readouterr().err
    assert word in error
    assert "What to do" in error
    assert "Traceback" not in error


def test_bench_comes_from_option_then_environment_then_folder(only, monkeypatch, capsys):
    from pairing.cli.common import bench_path

    seen = []
    only(lambda args, out: seen.append(bench_path(args)) or 0)
    monkeypatch.delenv("PAIRING_BENCH", raising=False)
    main(["fake"])
    monkeypatch.setenv("PAIRING_BENCH", "from-environment")
    main(["fake"])
    main(["fake", "--bench", "from-option"])
    assert seen == ["bench", "from-environment", "from-option"]


def test_reader_that_goes_away_is_no_fault():
    command = f"{sys.executable} -c 'from pairing.cli import main; main()' --help"
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {command} | true"], capture_output=True, text=True, check=False
    )
    assert "Traceback" not in done.stderr


def test_a_table_whose_reader_goes_away_is_no_refusal():
    code = (
        "from pairing.cli.output import Output; import sys\n"
        "out = Output()\n"
        "try:\n"
        "    for i in range(20000): out.say(f'line {i}')\n"
        "except BrokenPipeError:\n"
        "    print('quietly', file=sys.stderr); sys.stderr.flush(); __import__('os')._exit(0)\n"
    )
    done = subprocess.run(
        ["bash", "-c", 'set -o pipefail; "$0" -c "$1" | head -1', sys.executable, code],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "line 0\n"
    assert "quietly" in done.stderr
    assert done.returncode == 0


def test_the_start_loads_few_modules():
    """What takes time at the start is loading; `tests/benchmarks/time_start.py` says how long."""

    def loaded(code):
        count = "import sys; before = set(sys.modules)\n{}\nprint(len(set(sys.modules) - before), file=sys.stderr)"
        done = subprocess.run([sys.executable, "-c", count.format(code)], capture_output=True, text=True, check=True)
        return int(done.stderr)

    ask = "import contextlib\nwith contextlib.suppress(SystemExit):\n    from pairing.cli import main; main(['--help'])"
    assert loaded("import pairing") <= 20
    assert loaded(ask) <= 120
