import json

import pytest
from plugin_lab import BROKEN, GOOD_RULE, drop_in

from pairing.cli import main

WEIGH = """
def arguments(parser):
    parser.add_argument("grams", type=float)
def weigh(arguments):
    print(f"{arguments.grams:g} g")
    return 1 if arguments.grams > 100 else None
@hookimpl
def pairing_commands():
    return [Command(name="weigh", summary="Weigh a cup", add_arguments=arguments, run=weigh),
            Command(name="suggest", summary="Mine", run=weigh),
            Command(name="breaks", summary="Breaks", run=lambda arguments: 1 / 0)]
"""


@pytest.fixture
def bench(tmp_path):
    """Return a folder with plugins; no log is needed to show them."""
    drop_in(tmp_path, "lab", WEIGH)
    return tmp_path


def test_plugins_are_shown_with_state_reason_and_priors(bench, capsys):
    body, head = BROKEN["wrong-api"]
    drop_in(bench, "old", body, head=head)
    drop_in(bench, "kitchen", GOOD_RULE)
    assert main(["plugins", "--bench", str(bench), "--json", "--quick"]) == 0
    out, err = capsys.readouterr()
    shown = json.loads(out)
    plugins = {p["name"]: p for p in shown["plugins"]}
    assert plugins["kitchen"]["state"] == "loaded"
    assert plugins["kitchen"]["objects"] == {"rules": 1}
    assert plugins["kitchen"]["api"] == "1.0"
    assert plugins["kitchen"]["load_ms"] > 0
    assert plugins["old"]["state"] == "off"
    assert "PAIRING_API is 2.0" in plugins["old"]["reason"]
    (rule,) = [r for r in shown["rules"] if r["rule"] == "kitchen:good"]
    assert rule["prior"] == {"mean": 0.5, "sd": 1.0, "unit": "points"}
    assert rule["learned"] is None
    assert any("plugin old" in line for line in shown["faults"])
    assert any("command suggest is out of reach" in line for line in shown["faults"])
    assert len(err.splitlines()) == 2


def test_plugins_as_a_table(bench, capsys):
    drop_in(bench, "kitchen", GOOD_RULE)
    assert main(["plugins", "--bench", str(bench), "--quick"]) == 0
    out, _ = capsys.readouterr()
    assert "kitchen:good" in out
    assert "+0.50 ± 1.00 points" in out


def test_only_and_strict_are_obeyed(bench, capsys):
    body, head = BROKEN["exits"]
    drop_in(bench, "bad", body, head=head)
    assert main(["plugins", "--bench", str(bench), "--plugins", "lab", "--json", "--quick"]) == 0
    states = {p["name"]: p["state"] for p in json.loads(capsys.readouterr().out)["plugins"]}
    assert states["lab"] == "loaded"
    assert set(states.values()) == {"loaded", "left out"}
    assert main(["plugins", "--bench", str(bench), "--strict-plugins", "--quick"]) == 1
    assert "plugin bad" in capsys.readouterr().err
    assert main(["plugins", "--bench", str(bench), "--plugins", "labb", "--quick"]) == 1
    assert "did you mean lab" in capsys.readouterr().err


def test_a_plugins_command_runs_under_its_own_name(bench, capsys):
    assert main(["weigh", "12.5", "--bench", str(bench)]) == 0
    assert capsys.readouterr().out == "12.5 g\n"
    assert main(["weigh", "120", "--bench", str(bench)]) == 1


def test_a_plugins_command_that_breaks_is_refused_in_one_line(bench, capsys):
    assert main(["breaks", "--bench", str(bench)]) == 1
    err = capsys.readouterr().err
    assert err.startswith("plugin lab: ")
    assert "ZeroDivisionError" in err
    assert len(err.splitlines()) == 1


def test_an_unknown_command_is_a_wrong_usage_and_a_wrong_plugin_is_refused(bench, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["weight", "--bench", str(bench)])
    assert ended.value.code == 2
    assert main(["weigh", "1", "--bench", str(bench), "--plugins", "nobody"]) == 1
    assert "no plugin 'nobody'" in capsys.readouterr().err
    with pytest.raises(SystemExit) as ended:
        main(["weigh", "1", "--bench", str(bench), "--plugins", ""])
    assert ended.value.code == 2
