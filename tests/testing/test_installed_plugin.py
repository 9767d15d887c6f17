"""A plugin that was just started, built as a wheel and installed beside the project's own wheel, is heard."""

import json
import subprocess

import pytest
from clean_env import build_wheel, copy_source, fresh_environment, pip, run

from pairing.scaffold.write import write_package

BENCH = """
from pathlib import Path
import pairing_demo_data
from pairing import Bench
folder = Path(pairing_demo_data.__file__).parent
tables = ("bases", "flavourings", "tasters", "targets", "readings")
Bench.create("bench").load(**{name: folder / f"{name}.csv" for name in tables})
"""


@pytest.mark.slow
@pytest.mark.network
def test_a_fresh_plugin_is_heard_in_suggestions(tmp_path):
    write_package("salt-and-smoke", "rule", tmp_path)
    wheels = [
        build_wheel(copy_source(tmp_path / "source"), tmp_path / "one"),
        build_wheel(tmp_path / "salt-and-smoke", tmp_path / "two"),
    ]
    python = fresh_environment(tmp_path / "env")
    pip(python, "install", "--no-deps", "--no-index", *map(str, wheels))
    where = run(python, "import pairing, pairing_salt_and_smoke as p; print(pairing.__file__, p.__file__)", tmp_path)
    assert where.count(str(tmp_path / "env")) == 2, "both are the installed ones"
    run(python, BENCH, tmp_path)

    answer = _json(python, tmp_path, "suggest", "-n", "1")
    (rule,) = [r for r in answer["rules"] if r["rule"] == "salt-and-smoke:sour"]
    assert (rule["prior_mean"], rule["prior_sd"]) == (0.2, 0.5)
    assert rule["learned_sd"] < 0.5, "the demo has sour cups"
    plugins = {p["name"]: p for p in _json(python, tmp_path, "plugins", "--quick")["plugins"]}
    assert plugins["salt-and-smoke"]["state"] == "loaded"
    assert plugins["salt-and-smoke"]["origin"] == "package salt-and-smoke"
    assert "curdling" in plugins, "the plugins that come along are in the wheel"
    without = _json(python, tmp_path, "suggest", "-n", "1", "--plugins", "dose-limits")
    assert without["rules"] == []


def _json(python, folder, *words):
    command = [python.with_name("pairing"), *words, "--bench", "bench", "--json"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)
