"""Time the plugin host: its start with 30 plugins, and what it adds to a rule over 20,000 candidates.

Run it by ``python tests/benchmarks/plugin_host.py``. Figures to reach on two cores: start under 0.2 s in a fresh
process without scikit-learn or pandas, and under 20 ms beyond a rule's own work.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from plugin_lab import GOOD_RULE, drop_in

from pairing.api import Rule
from pairing.host import scoring
from pairing.host.tables import recipe_table_of
from pairing.model.recipes import Recipes
from pairing.testing import sample_shelf

PLUGINS, ROWS, RUNS = 30, 20_000, 11
START = """
import time; began, at_work = time.perf_counter(), time.process_time()
from pairing import host
loaded = host.load({bench!r})
spent, worked = time.perf_counter() - began, time.process_time() - at_work
import sys
assert sum(p.state == "loaded" for p in loaded.plugins) >= {n}, loaded.faults
assert not {{"sklearn", "pandas", "scipy"}} & set(sys.modules)
print(spent, worked)
"""


def start_s() -> tuple[float, float]:
    """Median seconds from import to a loaded host in a fresh process: by the clock, and of processor time."""
    with tempfile.TemporaryDirectory() as folder:
        for i in range(PLUGINS):
            drop_in(Path(folder), f"plugin-{i}", GOOD_RULE)
        command = [sys.executable, "-c", START.format(bench=folder, n=PLUGINS)]
        runs = [subprocess.run(command, capture_output=True, text=True, check=True).stdout for _ in range(RUNS)]
    spent, worked = zip(*(map(float, run.split()) for run in runs), strict=True)
    return statistics.median(spent), statistics.median(worked)


def overhead_s() -> tuple[float, float]:
    """Median seconds for the table, and for the guard beyond the rule's own work, over 20,000 candidates."""
    shelf = sample_shelf()
    rng = np.random.default_rng(0)
    base = rng.integers(0, len(shelf.bases), ROWS)
    slots = np.where(rng.random((ROWS, 3)) < 0.8, rng.integers(0, len(shelf.flavourings), (ROWS, 3)), -1)
    dose = rng.uniform(0, 5, (ROWS, 3))
    feature = np.linspace(-1, 1, ROWS)
    rule = Rule(
        id="lab:free",
        summary="No work of its own",
        source="from memory",
        acts_on="liking",
        feature=lambda table: feature,
        because=lambda recipe: "",
        needs=("base_ph", "fat_loving", "tags", "dose_g_per_kg"),
    )
    table = recipe_table_of(shelf, Recipes.at(base, slots, dose))
    making = [_timed(lambda: recipe_table_of(shelf, Recipes.at(base, slots, dose))) for _ in range(RUNS)]
    asking = [_timed(lambda: scoring.features([rule], table)) for _ in range(RUNS)]
    return statistics.median(making), statistics.median(asking)


def _timed(call) -> float:
    began = time.perf_counter()
    call()
    return time.perf_counter() - began


if __name__ == "__main__":
    spent, worked = start_s()
    print(f"host start with {PLUGINS} plugins and the first-party ones: {spent:.3f} s (to reach: under 0.2 s)")
    print(f"of which processor time, whatever else the machine is doing: {worked:.3f} s")
    making, asking = overhead_s()
    print(f"table of {ROWS} candidates: {1000 * making:.1f} ms")
    print(f"one rule that does nothing over it: {1000 * asking:.1f} ms (to reach: under 20 ms)")
