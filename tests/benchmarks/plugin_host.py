"""Time the plugin host: its start with 30 plugins beside none, and a rule over 20,000 candidates, here and apart.

Run it by ``python tests/benchmarks/plugin_host.py``. Figures to reach on two cores: 30 plugins start at most 0.2 s
after none, in fresh processes; 1.5 ms for a rule that runs in this process, with all checks on.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from plugin_lab import drop_in

from pairing.host import load
from pairing.host.tables import recipe_table_of
from pairing.model.recipes import Recipes
from pairing.testing import sample_shelf

PLUGINS, ROWS, RUNS = 30, 20_000, 15
START = """
import time; began, at_work = time.perf_counter(), time.process_time()
from pairing import host
loaded = host.load({bench!r}, {only!r})
print(time.perf_counter() - began, time.process_time() - at_work)
import sys
assert not {{"sklearn", "pandas", "scipy"}} & set(sys.modules)
assert sum(p.state == "loaded" for p in loaded.plugins) == {n}, loaded.faults
"""
RULE = """
@hookimpl
def pairing_rules(settings):
    return [rule("little", lambda table: table.base_ph / 14, prior_mean=0.5,
                 needs=("base_ph", "fat_loving", "tags", "dose_g_per_kg"))]
"""


def starts_s(bench: Path) -> dict[str, tuple[float, float]]:
    """Median seconds from import to a loaded host, in turns: by the clock, and of processor time."""
    names = [f"plugin-{i}" for i in range(PLUGINS)]
    for name in names:
        drop_in(bench, name, RULE)
    cases = {"none": [], f"{PLUGINS} of the bench": names}
    runs: dict[str, list[list[float]]] = {case: [] for case in cases}
    for _ in range(RUNS):
        for case, only in cases.items():
            command = [sys.executable, "-c", START.format(bench=str(bench), only=only, n=len(only))]
            done = subprocess.run(command, capture_output=True, text=True, check=True)
            runs[case].append([float(word) for word in done.stdout.split()])
    return {case: tuple(statistics.median(column) for column in zip(*rows, strict=True)) for case, rows in runs.items()}


def candidates():
    """Return a table of 20,000 recipes."""
    shelf = sample_shelf()
    rng = np.random.default_rng(0)
    base = rng.integers(0, len(shelf.bases), ROWS)
    slots = np.where(rng.random((ROWS, 3)) < 0.8, rng.integers(0, len(shelf.flavourings), (ROWS, 3)), -1)
    return recipe_table_of(shelf, Recipes.at(base, slots, rng.uniform(0, 5, (ROWS, 3))))


def asked_s(bench: Path, on: str) -> tuple[float, float]:
    """Median seconds for a rule over the candidates, all checks on; and for the first question of all."""
    (bench / "plugins.toml").write_text(f"[worker]\non = {on}\n")
    host, table = load(bench, "plugin-0"), candidates()
    first = _timed(lambda: host.features(host.rules, table))
    assert host.features(host.rules, table)[1] == ()
    return statistics.median(_timed(lambda: host.features(host.rules, table)) for _ in range(RUNS)), first


def _timed(call) -> float:
    began = time.perf_counter()
    call()
    return time.perf_counter() - began


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = folder  # what is trusted here is nobody's business
        bench = Path(folder) / "bench"
        bench.mkdir()
        found = starts_s(bench)
        for case, (spent, worked) in found.items():
            print(f"start with {case}: {spent:.3f} s, of which processor {worked:.3f} s")
        (none, _), (many, _) = found.values()
        print(f"{PLUGINS} plugins above none: {many - none:.3f} s (to reach: 0.2 s)")
        here, _ = asked_s(bench, "false")
        there, first = asked_s(bench, "true")
        print(f"a rule over {ROWS} candidates in this process: {1000 * here:.2f} ms (to reach: 1.5 ms)")
        print(
            f"the same in the worker: {1000 * there:.2f} ms, {there / here:.1f} times; its first question {first:.2f} s"
        )
