"""Simulated lots: of ten flavourings three are bought anew, one of them 1.4 × as strong; over many benches.

Each bench is a palate of its own: so many cups of the old lots, then of the new ones and of what is left of the others.
Counted are how often 80 % intervals hold the truth, how many of the strong lots are found, and benches with a false
claim; then the same where every new lot is off by itself (one sd is 15 %).

    python tests/benchmarks/lots.py [BENCHES]
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulated import make_palate

from pairing.learned import Learned, learn_shelf
from pairing.model.shelf import Shelf

TIMES = 1.4
SPREAD = 0.15
N_FLAVOURINGS, N_NEW = 10, 3
N_BEFORE, N_AFTER = 80, 60


def bench(seed: int, spread: float = 0.0) -> tuple[Learned, dict[str, float]]:
    """What a bench learned of old and new lots, and ln of how strong each new one is beside the old."""
    palate = make_palate(seed, 4, N_FLAVOURINGS)
    rng = np.random.default_rng([19, 2, seed])
    new = rng.choice(N_FLAVOURINGS, N_NEW, replace=False)
    stronger = np.zeros(N_FLAVOURINGS)
    stronger[new] = spread * rng.standard_normal(N_NEW) if spread else [math.log(TIMES), 0.0, 0.0]
    after = replace(palate, log_dose=(np.array(palate.log_dose) - stronger).tolist())
    log = pd.concat([palate.log(N_BEFORE, rng), after.log(N_AFTER, rng, prefix="u")], ignore_index=True)
    anew = log["trial_id"].str.startswith("u") & log["flavouring_id"].isin([palate.flavouring_ids[n] for n in new])
    shelf = Shelf.from_tables(palate.bases_df, palate.flavourings_df)
    model = learn_shelf(shelf, log.assign(lot=np.where(anew, "B", "A")))
    return model, {palate.flavouring_ids[n]: float(stronger[n]) for n in new}


def told(seed: int, spread: float = 0.0) -> pd.DataFrame:
    """What a bench's model tells of its new lots, with ``truth``, in natural log units."""
    model, stronger = bench(seed, spread)
    table = model.lot_strength()
    return table.assign(truth=table["flavouring_id"].map(stronger))


def main(n: int) -> None:
    """Print the figures of n benches with one strong lot, and of n whose new lots are all off."""
    for spread in (0.0, SPREAD):
        table = pd.concat([told(seed, spread).assign(bench=seed) for seed in range(n)], ignore_index=True)
        held = (np.log(table["low"]) <= table["truth"]) & (table["truth"] <= np.log(table["high"]))
        error = np.sqrt(np.mean((np.log(table["times"]) - table["truth"]) ** 2))
        wrong = table["found"] & ((table["times"] > 1) != (table["truth"] > 0))
        false = table["bench"][wrong | (table["found"] & (table["truth"] == 0))].nunique()
        print(
            f"{'one of three' if not spread else 'no'} new lot {TIMES:g} × as strong, others off by {spread:.0%}: {n}"
        )
        print(f"  {table['readings'].median():.0f} strengths of each; 80 % intervals hold {held.mean():.1%}")
        print(f"  rms error {error:.3f} log; benches with a false claim: {false}")
        if not spread:
            strong = table[table["truth"] > 0]
            print(
                f"  of the strong hold {held[strong.index].mean():.1%}; found {strong['found'].sum()} of {len(strong)}"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
