"""Plugins and a whole bench: what people see of them."""

import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from plugin_lab import BROKEN, GOOD_RULE, drop_in, install

import pairing
import pairing_demo_data
from pairing import Bench, Cup
from pairing.api import CORE_COLUMNS, Rule
from pairing.cli import main
from pairing.errors import LogError, PluginError
from pairing.host import load
from pairing.host.scoring import features
from pairing.host.tables import recipe_table
from pairing.learned.each_rule import each_rule
from pairing.learning import strength

DEMO = Path(pairing_demo_data.__file__).parent
TABLES = ("bases", "flavourings", "tasters", "targets", "readings")


@pytest.fixture(scope="module")
def demo_bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "bench"
    Bench.create(folder).load(**{name: DEMO / f"{name}.csv" for name in TABLES})
    return folder


@pytest.fixture
def bench(demo_bench, tmp_path):
    return shutil.copytree(demo_bench, tmp_path / "bench")


def pairing_command(*words, path=None):
    """Run the tool in a process of its own; plugins on the path are found by it."""
    environment = {**os.environ, "PYTHONPATH": str(path)} if path else dict(os.environ)
    command = [sys.executable, "-c", "from pairing.cli import main; raise SystemExit(main())", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, env=environment)


def test_six_broken_plugins_and_suggest_still_answers(bench, tmp_path):
    site = tmp_path / "site"
    site.mkdir()
    for name, (body, head) in BROKEN.items():
        install(site, name, body, head=head)
    drop_in(bench, "good", GOOD_RULE)
    for time in ("learned afresh", "from what is kept"):
        run = pairing_command("suggest", "--bench", bench, "-n", 1, "--json", path=site)
        assert run.returncode == 0, run.stderr
        assert len(json.loads(run.stdout)["suggestions"]) == 1
        lines = run.stderr.splitlines()
        named = {name: [line for line in lines if f"plugin {name}: " in line] for name in BROKEN}
        assert {name: len(found) for name, found in named.items()} == dict.fromkeys(BROKEN, 1), (time, lines)
        assert "rule nan:nan skipped" in named["nan"][0]
        assert "rule wrong-length:short skipped" in named["wrong-length"][0]
        assert "Traceback" not in run.stderr
    strict = pairing_command("suggest", "--bench", bench, "-n", 1, "--strict-plugins", path=site)
    assert strict.returncode == 1
    none = pairing_command("suggest", "--bench", bench, "-n", 1, "--plugins", "", path=site)
    assert (none.returncode, none.stderr) == (0, "")


def test_plugins_show_prior_and_learned_weight_side_by_side(bench, capsys):
    drop_in(bench, "good", GOOD_RULE)
    assert main(["plugins", "--bench", str(bench), "--json"]) == 0
    (rule,) = [r for r in json.loads(capsys.readouterr().out)["rules"] if r["rule"] == "good:good"]
    assert rule["prior"] == {"mean": 0.5, "sd": 1.0, "unit": "points"}
    assert rule["learned"]["sd"] < 1.0
    assert rule["ms_per_1000"] > 0
    assert rule["learned"]["mean"] != 0.5


def log_of(effect, n=240, seed=0):
    """Likings in which two flavourings together are worth ``effect`` points, whoever they are, and little else is."""
    rng = np.random.default_rng(seed)
    names = [f"f{i}" for i in range(8)]
    rows = []
    for trial in range(n):
        chosen = rng.choice(names, 1 + trial % 2, replace=False)
        liking = np.clip(np.round(5 + effect * (len(chosen) > 1) + rng.normal(0, 0.8)), 1, 9)
        base = f"b{trial // 2 % 2}"
        rows += [
            {"trial_id": f"t{trial}", "base_id": base, "flavouring_id": f, "dose_g_per_kg": 2.0, "liking": liking,
             "strength": 3}
            for f in chosen
        ]  # fmt: skip
    bases = pd.DataFrame({"base_id": ["b0", "b1"], "name": ["Base 0", "Base 1"]})
    flavourings = pd.DataFrame({"flavouring_id": names, "name": names, "label_dose_g_per_kg": 2.0, "food_use": "yes"})
    return bases, flavourings, pd.DataFrame(rows)


def together(prior_mean, prior_sd):
    """Return a rule on 'two at once in base b0', which no column of the model repeats."""
    return Rule(
        id="lab:together",
        summary="Two flavourings in the first base",
        source="from memory",
        acts_on="liking",
        prior_mean=prior_mean,
        prior_sd=prior_sd,
        feature=lambda table: (table.n_flavourings > 1) * (table.base_index == 0) * 1.0,
        because=lambda recipe: "two at once",
    )


def half_effect(effect, **options):
    bases, flavourings, readings = log_of(0.0, **options)
    both = readings.groupby("trial_id")["flavouring_id"].transform("size") > 1
    readings["liking"] = np.clip(readings["liking"] + effect * (both & (readings["base_id"] == "b0")), 1, 9)
    return bases, flavourings, readings


def test_a_rule_that_the_log_contradicts_ends_near_its_data():
    weights = pairing.learn(*half_effect(-2.0), rules=[together(1.0, 0.6)], random_state=0).rule_weights()
    (row,) = weights.to_dict("records")
    assert (row["prior_mean"], row["prior_sd"]) == (1.0, 0.6)
    assert row["learned_mean"] < -1.0, "expected +1, the log says −2"
    assert row["learned_sd"] < 0.6


def test_a_rule_that_no_cup_speaks_of_keeps_its_prior():
    bases, flavourings, readings = half_effect(0.0)
    alone = readings[readings.groupby("trial_id")["flavouring_id"].transform("size") == 1]
    (row,) = pairing.learn(bases, flavourings, alone, rules=[together(1.0, 0.6)]).rule_weights().to_dict("records")
    assert row["learned_mean"] == pytest.approx(1.0, abs=0.02)
    assert row["learned_sd"] == pytest.approx(0.6, abs=0.02)


def test_the_more_cups_the_less_the_prior_counts():
    learned = [
        pairing.learn(*half_effect(-2.0, n=n), rules=[together(1.0, 0.6)]).rule_weights()["learned_mean"].iloc[0]
        for n in (8, 40, 240)
    ]
    assert learned[0] > learned[1] > learned[2]


def test_columns_that_a_rule_may_inform_are_those_of_the_model():
    assert set(CORE_COLUMNS) <= {block.name for block in strength.BLOCKS}
    for column in CORE_COLUMNS:
        rule = replace(together(0.8, 0.05), acts_on="dose", column=column, feature=lambda table: table.companions * 0.0)
        (row,) = pairing.learn(*half_effect(0.0, n=8), rules=[rule]).rule_weights().to_dict("records")
        assert row["learned_mean"] == pytest.approx(0.8, abs=0.1), column


def test_a_suggestion_carries_the_cautions_and_the_words_of_rules(bench, capsys):
    drop_in(
        bench,
        "lab",
        """
def everywhere(table):
    return table.base_index * 0.0 + 1
@hookimpl
def pairing_rules():
    return [rule("mind", everywhere, acts_on="caution", because=lambda recipe: f"mind the {recipe.base_id}"),
            rule("better", everywhere, prior_mean=2.0, prior_sd=0.05, because=lambda recipe: "it is always better"),
            rule("odd", lambda table: 1 / 0, acts_on="caution")]
""",
    )
    assert main(["suggest", "--bench", str(bench), "-n", "1", "--json", "--plugins", "lab"]) == 0
    out, err = capsys.readouterr()
    (suggestion,) = json.loads(out)["suggestions"]
    assert f"mind the {suggestion['recipe']['base_id']}" in [caution["text"] for caution in suggestion["cautions"]]
    (why,) = (r for r in suggestion["reasons"] if r["kind"] == "rule")
    assert (why["rule_id"], why["text"]) == ("lab:better", "it is always better")
    assert why["sentence"].startswith("it is always better (lab:better): ")
    assert [line for line in err.splitlines() if "lab:odd skipped" in line]
    assert {r["rule"] for r in json.loads(out)["rules"]} == {"lab:better"}


def test_strict_stops_at_a_rule_that_fails_only_when_it_is_asked(bench, capsys):
    body, head = BROKEN["nan"]
    drop_in(bench, "nan", body, head=head)
    assert main(["suggest", "--bench", str(bench), "-n", "1", "--plugins", "nan", "--strict-plugins"]) == 1
    assert "rule nan:nan skipped" in capsys.readouterr().err


def test_without_rules_nothing_of_them_is_in_the_answer():
    assert pairing.learn(*half_effect(-2.0)).rule_weights().empty


def test_the_feature_of_a_rule_is_what_the_model_learned_from():
    model = pairing.learn(*half_effect(-2.0), rules=[together(1.0, 0.6)])
    recipes = [pairing.Recipe("b0", {"f0": 2, "f1": 2}), pairing.Recipe("b1", {"f0": 2, "f1": 2})]
    table = recipe_table(model.shelf, ["b0", "b1"], [("f0", "f1")] * 2, [(2, 2)] * 2)
    assert features(model.rules, table)[0].tolist() == [[1], [0]]
    parts = [model.explain(recipe) for recipe in recipes]
    points = [p.loc[p["kind"] == "rule", "points"].sum() for p in parts]
    assert points[0] == pytest.approx(model.rule_weights()["learned_mean"].iloc[0], abs=1e-6)
    assert points[1] == 0


def test_a_listener_hears_of_a_stored_trial_and_a_broken_one_stops_nothing(bench, caplog):
    drop_in(bench, "breaks", "@hookimpl\ndef pairing_trial_logged(trial):\n    raise SystemExit\n")
    listens = "@hookimpl\ndef pairing_trial_logged(trial):\n    trial.to_csv({!r}, index=False)\n"
    drop_in(bench, "listens", listens.format(str(bench / "heard.csv")))
    opened = Bench.open(bench)
    trial = opened.log(Cup("oat", base_g=200, shelf=opened.shelf()).add("quince", g=0.3).read({"quince": 3}))
    heard = pd.read_csv(bench / "heard.csv")
    assert heard["trial_id"].tolist() == [trial]
    assert heard["flavouring_id"].tolist() == ["quince"]
    assert [r.message for r in caplog.records if "plugin breaks: pairing_trial_logged" in r.message]
    assert trial in set(opened.tables("readings")["trial_id"])


def test_strict_refuses_before_anything_is_stored(bench):
    drop_in(bench, "off", "raise ValueError('no')")
    opened = Bench.open(bench).choose_plugins("off", strict=True)
    before = opened.revision
    with pytest.raises(PluginError, match="plugin off"):
        opened.log(Cup("oat", base_g=200).add("quince", g=0.3), liking=6)
    assert opened.revision == before
    assert opened.choose_plugins("").log(Cup("oat", base_g=200).add("quince", g=0.3), liking=6)


READER = """
@hookimpl
def pairing_read_trials(path):
    import pandas as pd
    if path.suffix != ".notes":
        return None
    rows = [line.split() for line in path.read_text().splitlines()]
    return pd.DataFrame(rows, columns=["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "liking"])
"""


def test_a_reader_of_a_plugin_reads_what_nobody_else_can(bench, tmp_path, capsys):
    (tmp_path / "evening.notes").write_text("n1 oat quince 1.5 7\nn2 oat violet 0.5 4\n")
    assert main(["load", "--bench", str(bench), str(tmp_path / "evening.notes")]) == 1, "nobody can read it"
    drop_in(bench, "notes", READER)
    capsys.readouterr()
    assert main(["load", "--bench", str(bench), str(tmp_path / "evening.notes"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["tables"][0]["accepted"] == 2
    (tmp_path / "late.notes").write_text("n3 pea quince 1.5 6\n")
    assert Bench.open(bench).load(readings=tmp_path / "late.notes").accepted == {"readings": 1}


def test_what_a_plugin_brings_is_taken_into_the_bench_and_stays(bench, capsys):
    words = ["plugins", "--bench", str(bench), "--take", "plain-bases:rice-drink"]
    assert main([*words, "--json"]) == 0
    assert main([*words, "--json"]) == 0, "taken twice is taken once"
    assert main(["plugins", "--bench", str(bench), "--take", "plain-bases:ryce-drink"]) == 1
    assert "did you mean plain-bases:rice-drink" in capsys.readouterr().err
    base = Bench.open(bench).choose_plugins("").shelf().base("plain-bases:rice-drink")
    (brought,) = [b for b in load(only="plain-bases").bases if b.base_id == base.base_id]
    assert base == brought
    logged = ["log", "plain-bases:rice-drink", "--bench", str(bench), "--base-g", "200", "--add", "quince=0.3g"]
    assert main([*logged, "--strength", "quince=3", "--liking", "7"]) == 0


def test_each_rule_is_judged_on_cups_that_were_held_out():
    useful, useless = (
        together(-1.5, 0.5),
        replace(together(0.0, 0.5), id="lab:constant", feature=lambda table: table.base_index * 0.0),
    )
    found = each_rule(pairing.learn(*half_effect(-2.0), rules=[useful, useless], random_state=0)).set_index("rule")
    assert list(found.index) == ["lab:together", "lab:constant", "all rules"]
    assert (found["cups"] > 50).all()
    assert found.loc["lab:together", "gain"] > 0
    assert found.loc["lab:together", "error_without"] > found.loc["lab:together", "error_with"]
    assert found.loc["lab:constant", "gain"] == pytest.approx(0, abs=1e-6)
    assert found.loc["all rules", "gain"] == pytest.approx(found.loc["lab:together", "gain"], abs=1e-3)
    with pytest.raises(LogError, match="no rule on liking or dose"):
        each_rule(pairing.learn(*half_effect(-2.0)))
