"""How long asking takes: suggestions over small and large shelves, and learn-and-suggest after a logged cup.

OMP_NUM_THREADS=1 python tests/benchmarks/plan_speed.py
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import simulated

from pairing.learned import learn_shelf
from pairing.model.brief import Brief
from pairing.model.shelf import Shelf
from pairing.plan.candidates import candidates

REPEATS = 3
clock = time.process_time  # others may be busy on the machine; on one thread it is what a person waits
CASES = (
    ("24 flavourings x 6 bases, pairs", 24, 6, 300, 2, 0.3),
    ("24 flavourings x 6 bases, triples", 24, 6, 300, 3, None),
    ("200 flavourings x 10 bases, pairs", 200, 10, 300, 2, 2.0),
)


def main() -> None:
    """Print the table."""
    print(f"{'':36s}{'candidates':>11s}{'suggest s':>11s}{'target':>8s}{'learn + suggest s':>19s}")
    for name, n_flavourings, n_bases, n_trials, size, target in CASES:
        palate = simulated.make_palate(1, n_bases, n_flavourings)
        log = palate.log(n_trials, np.random.default_rng(0))
        shelf = Shelf.from_tables(palate.bases_df, palate.flavourings_df)
        brief = Brief(max_flavourings=size, max_added_kcal=60)
        asked, both = [], []
        for _ in range(REPEATS):
            start = clock()
            model = learn_shelf(shelf, log)
            middle = clock()
            model.suggest(brief, 5, random_state=0)
            end = clock()
            asked.append(end - middle)
            both.append(end - start)
        n = len(candidates(model, brief))
        goal = "" if target is None else f"{target:.1f}"
        print(f"{name:36s}{n:11d}{median(asked):11.2f}{goal:>8s}{median(both):19.2f}")


if __name__ == "__main__":
    main()
