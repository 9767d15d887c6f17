"""What knowing the stock costs `suggest`: the same model, with and without 24 bottles and 6 bags that are counted.

OMP_NUM_THREADS=1 python tests/benchmarks/stock_limits.py [REPEATS]
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import simulated

from pairing.learned import learn_shelf
from pairing.model.shelf import Shelf

clock = time.process_time


def main(repeats: int) -> None:
    """Ask in turns, and print medians and their ratio (at most 1.10)."""
    palate = simulated.make_palate(1)
    log = palate.log(300, np.random.default_rng(0))
    plain = learn_shelf(Shelf.from_tables(palate.bases_df, palate.flavourings_df), log)
    held = {**dict.fromkeys(plain.shelf.flavourings, 30.0), **dict.fromkeys(plain.shelf.bases, 1000.0)}
    counted = replace(plain, shelf=replace(plain.shelf, held_g=held))
    took: dict[str, list[float]] = {"not counted": [], "counted": []}
    for _ in range(repeats):
        for name, model in (("not counted", plain), ("counted", counted)):
            start = clock()
            model.suggest(n=5, random_state=0)
            took[name].append(clock() - start)
    without, within = (median(took[name]) for name in ("not counted", "counted"))
    print(f"suggest {1000 * without:.0f} ms, with stock {1000 * within:.0f} ms, ratio {within / without:.2f} (1.10)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 15)
