import json
import shutil

import pandas as pd
import pytest
from plugin_lab import BROKEN, GOOD_RULE, drop_in

from pairing import Bench
from pairing.cli import main
from pairing.errors import PluginError
from pairing.host import load
from pairing.testing.check import check_file

WEIGH = """
def arguments(parser):
    parser.add_argument("grams", type=float)
def weigh(arguments):
    print(f"{arguments.grams:g} g")
    return 1 if arguments.grams > 100 else None
@hookimpl
def pairing_commands():
    return [Command(name="weigh", summary="Weigh 100 % of a %(prog)s cup", add_arguments=arguments, run=weigh),
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
    assert "+0.50 ± 1.28 points" in out


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


TALLY = """
def tally(arguments, bench, out):
    print("aside")
    out.table("bases", [{"base": b} for b in bench.shelf().bases], [("base", "base")])
@hookimpl
def pairing_commands():
    return [Command(name="tally", summary="Tally the [bold]bases[/bold]", run=tally)]
"""


def test_a_command_gets_the_opened_bench_and_answers_through_out(tmp_path, capsys):
    bench = tmp_path / "bench"
    Bench.create(bench).load(bases=pd.DataFrame({"base_id": ["oat"], "name": ["Oat drink"]}))
    drop_in(bench, "lab", TALLY)
    assert main(["tally", "--bench", str(bench)]) == 0
    assert "oat" in capsys.readouterr().out
    assert main(["tally", "--bench", str(bench), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"bases": [{"base": "oat"}], "printed": ["aside"]}


def test_commands_of_plugins_stand_in_the_help_once_they_were_loaded(tmp_path, capsys, monkeypatch):
    bench = tmp_path / "bench"
    monkeypatch.setenv("PAIRING_BENCH", str(bench))
    Bench.create(bench)
    drop_in(bench, "lab", TALLY)
    assert main(["plugins", "--bench", str(bench), "--quick"]) == 0
    with pytest.raises(SystemExit):
        main(["--help"])
    assert "tally" in (said := capsys.readouterr().out)
    assert "Tally the [bold]bases[/bold] (plugin)" in " ".join(said.split())
    (bench / ".plugin-commands.json").write_text('{"evil\\u001b[31m": "x\\u0007", "suggest": "mine"}')
    with pytest.raises(SystemExit):
        main(["--help"])
    said = capsys.readouterr().out
    assert "\x1b" not in said
    assert "mine" not in said
    (bench / "plugins" / "lab.py").unlink()
    main(["plugins", "--bench", str(bench), "--quick"])
    assert not (bench / ".plugin-commands.json").exists()


def test_what_is_on_offer_says_how_to_take_it(learned_demo, tmp_path, capsys):
    bench = shutil.copytree(learned_demo, tmp_path / "bench")
    capsys.readouterr()
    remedy = "pairing plugins --take plain-bases:oat-drink"
    for words in (
        ["suggest", "--bases", "plain-bases:oat-drink"],
        ["stock", "weigh", "plain-bases:oat-drink", "5"],
        ["graph", "partners", "plain-bases:oat-drink"],
    ):
        assert main([*words, "--bench", str(bench)]) == 1
        assert remedy in capsys.readouterr().err, words
    row = {"trial_id": ["x"], "base_id": "plain-bases:oat-drink", "flavouring_id": "quince", "dose_g_per_kg": 1.0}
    assert remedy in Bench.open(bench).load(readings=pd.DataFrame(row)).refused["remedy"].iloc[0]
    assert main(["plugins", "--take", "plain-bases:oat-drink", "--bench", str(bench)]) == 0
    assert main(["dose", "plain-bases:oat-drink", "quince", "--bench", str(bench)]) == 0


def test_settings_are_shown_and_set_and_comments_stay(tmp_path, capsys):
    bench = tmp_path / "bench"
    Bench.create(bench)
    (bench / "plugins.toml").write_text("# mine\n[cup-limits]\nmax_acids_g_per_100g = 1 # a lot\n")
    asked = ["plugins", "--bench", str(bench), "--json"]
    change = ["--set", "cup-limits.max_sugars_g_per_100g=5", "--set", "use_up.points.quince=0,2"]
    assert main([*asked, *change]) == 0
    rows = {(r["plugin"], r["setting"]): r for r in json.loads(capsys.readouterr().out)["settings"]}
    assert rows["cup-limits", "max_sugars_g_per_100g"]["now"] == 5.0
    assert rows["use-up", "points"]["now"] == {"quince": 0.2}
    assert rows["worker", "seconds"]["default"] == 10.0
    text = (bench / "plugins.toml").read_text()
    assert text.startswith("# mine\n[cup-limits]\nmax_acids_g_per_100g = 1 # a lot\n")
    assert main([*asked, "--set", "cup-limits.max_acids_g_per_100g="]) == 0
    assert "acids" not in (bench / "plugins.toml").read_text()
    kept = (bench / "plugins.toml").read_text()
    for wrong, told in {
        "cup-limit.max_acids_g_per_100g=1": "did you mean cup-limits",
        "cup-limits.max_acid_g_per_100g=1": "did you mean max_acids_g_per_100g",
        "cup-limits.max_acids_g_per_100g=-1": "allowed is number, 0 or more",
        "cup-limits.max_acids_g_per_100g=much": "much",
        "use-up.points=1": "a value for each",
        "use-up": "sets nothing",
    }.items():
        assert main([*asked, "--set", wrong]) == 1
        assert told in capsys.readouterr().err, wrong
    assert (bench / "plugins.toml").read_text() == kept


def test_a_file_is_checked_before_it_is_trusted(tmp_path, capsys):
    path = drop_in(tmp_path, "lab", GOOD_RULE, trusted=False)
    assert main(["plugins", "--check", str(path), "--bench", str(tmp_path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["ok"]
    assert {one["result"] for one in found["contract"]} == {"kept"}
    (plugin,) = [p for p in load(tmp_path).plugins if p.name == "lab"]
    assert plugin.state == "not trusted", "a check trusts nothing"
    path.write_text(path.read_text().replace("* 1.0", "* 3.0"))
    assert main(["plugins", "--check", str(path), "--json"]) == 1
    broken = [one for one in json.loads(capsys.readouterr().out)["contract"] if one["result"] == "broken"]
    assert "features are in range" in {one["test"] for one in broken}
    assert all("allowed is -1 to 1" in one["found"] for one in broken)
    path.write_text(path.read_text().replace("return [", "return 3 or ["))
    assert main(["plugins", "--check", str(path), "--json"]) == 1
    (found,) = {one["found"] for one in json.loads(capsys.readouterr().out)["contract"]} - {""}
    assert "pairing_rules: it returned int, a list is needed" in found
    assert f"({path}:" in found, "the place is not cut off"
    path.write_text("import os\nos._exit(7)\n")
    assert main(["plugins", "--check", str(path)]) == 1
    assert "ended the check" in capsys.readouterr().err


def test_a_check_that_does_not_end_is_stopped(tmp_path):
    path = drop_in(tmp_path, "lab", "while True: pass", trusted=False)
    with pytest.raises(PluginError, match="does not end: it was stopped after 3 s"):
        check_file(path, seconds=3)


def test_a_summary_is_text_in_the_help(bench, capsys):
    with pytest.raises(SystemExit):
        main(["weigh", "--help", "--bench", str(bench)])
    assert "Weigh 100 % of a %(prog)s cup" in capsys.readouterr().out
