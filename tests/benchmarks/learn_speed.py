"""How long learning takes: a bench of 300 trials, a club's log of 10,000.

python tests/benchmarks/learn_speed.py
"""

from __future__ import annotations

import numpy as np
from learn_common import peak_gb, timed
from simulated import make_palate

import pairing
from pairing import Recipe

CASES = ((300, 6, 24, 1, 0.5), (300, 10, 200, 3, None), (10_000, 20, 100, 8, 3.0))


def main() -> None:
    """Print the table."""
    pairing.learn(*_tables(make_palate(0), 20))  # imports
    print("  trials  bases  flavourings  tasters  learn s  processor s  target")
    for trials, n_bases, n_flavourings, n_tasters, target in CASES:
        palate = make_palate(1, n_bases, n_flavourings, n_tasters)
        tables = _tables(palate, trials)
        clocks = []
        for _ in range(3 if trials < 1000 else 1):
            with timed() as clock:
                model = pairing.learn(*tables, random_state=0)
            clocks.append((clock.cpu, clock.wall))
        cpu, wall = min(clocks)
        goal = "" if target is None else f"{target:.1f}"
        row = f"{trials:8d}{n_bases:7d}{n_flavourings:13d}{n_tasters:9d}{wall:9.2f}{cpu:13.2f}{goal:>8s}"
        asked = [Recipe(b, dict.fromkeys(ids)) for b, ids in palate.combinations(2)[:2000]]
        with timed() as clock:
            model.predict(asked)
        print(f"{row}   {model.liking.columns.n} columns; {len(asked)} predictions in {clock.cpu:.2f} s", flush=True)
    print(f"peak memory {peak_gb():.2f} GB")


def _tables(palate: object, trials: int) -> tuple:
    log = palate.log(trials, np.random.default_rng(0))  # type: ignore[attr-defined]
    return palate.bases_df, palate.flavourings_df, log  # type: ignore[attr-defined]


if __name__ == "__main__":
    main()
