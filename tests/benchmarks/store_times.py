"""How long the bench takes: cleaning two million readings, opening, reading, logging.

Run it with ``python tests/benchmarks/store_times.py`` on an idle machine; it prints medians of processor time.
"""

import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from pairing import Bench, Cup
from pairing.store.exchange import clean

ROWS = 2_000_000


def seconds(work: Callable[[], Any], repeats: int) -> float:
    """Return the median processor time of some work."""
    times = []
    for _ in range(repeats):
        began = time.process_time()
        work()
        times.append(time.process_time() - began)
    return statistics.median(times)


def many_readings(rows: int) -> pd.DataFrame:
    """Make a pooled log of cups with one to a few flavourings each."""
    rng = np.random.default_rng(0)
    trial = np.sort(rng.integers(0, rows // 2, rows))
    ids = {name: np.array([f"{name}{i}" for i in range(n)]) for name, n in (("b", 100), ("f", 500), ("p", 300))}
    return pd.DataFrame(
        {
            "trial_id": np.char.add("t", trial.astype(str)),
            "base_id": ids["b"][trial % 100],
            "flavouring_id": ids["f"][rng.integers(0, 500, rows)],
            "taster": ids["p"][trial % 300],
            "dose_g_per_kg": rng.random(rows) * 5,
            "strength": rng.integers(1, 6, rows),
            "liking": (trial % 9 + 1).astype(float),
        }
    )


def bench_of(folder: Path, trials: int) -> Bench:
    """Make a bench with so many trials."""
    bench = Bench.create(folder)
    readings = pd.DataFrame({"trial_id": [f"t{i}" for i in range(trials)], "base_id": "oat", "flavouring_id": "quince"})
    bench.load(
        bases=[{"base_id": "oat", "name": "Oat drink"}],
        flavourings=[{"flavouring_id": "quince", "name": "Quince drops", "label_dose": "1 g/kg"}],
        readings=readings.assign(dose_g_per_kg=1.0, strength=3, liking=7),
    )
    return bench


def main() -> None:
    """Print the figures."""
    readings = many_readings(ROWS)
    print(f"clean {ROWS:,} readings: {seconds(lambda: clean('readings', readings), 3):.2f} s")
    with tempfile.TemporaryDirectory() as folder:
        bench = bench_of(Path(folder) / "kitchen", 300)
        opened = seconds(lambda: Bench.open(bench.place).tables("readings"), 9)
        print(f"open a bench and read 300 trials: {1000 * opened:.0f} ms")
        cup = Cup("oat", base_g=300).add("quince", g=0.3).read(strength={"quince": 3}, liking=7)
        numbers = iter(range(1000))
        logged = seconds(lambda: bench.log(cup, trial_id=f"new-{next(numbers)}"), 9)
        print(f"log a cup: {1000 * logged:.0f} ms")


if __name__ == "__main__":
    main()
