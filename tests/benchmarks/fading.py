"""Simulated fading: 3 of 24 flavourings lose half their strength a day; 60 re-tastes over 100 benches.

Each bench is a palate of its own: 60 cups of one flavouring are judged fresh and once more after 24 or 72 hours.
Counted are how often 80 % intervals hold the truth, how many of the three are found, and benches with a false claim;
then the same where nothing fades.

    python tests/benchmarks/fading.py [BENCHES]
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulated import make_palate

from pairing.learned import learn_shelf
from pairing.model.shelf import Shelf

HOURS = (24.0, 72.0)
"""When the tool asks for a taste once more."""
N_RETASTES = 60
N_FADING = 3
PER_DAY = math.log(2.0)


def bench(seed: int, n_fading: int = N_FADING) -> tuple[pd.DataFrame, set[str]]:
    """A log of re-tastes, and which flavourings fade."""
    palate = make_palate(seed)
    rng = np.random.default_rng([19, seed])
    fading = set(rng.choice(palate.flavouring_ids, n_fading, replace=False).tolist())
    rows: list[dict] = []
    order = [f for _ in range(3) for f in rng.permutation(palate.flavouring_ids).tolist()][:N_RETASTES]
    for i, f in enumerate(order):
        base = palate.base_ids[rng.integers(len(palate.base_ids))]
        label = float(palate.flavourings_df["label_dose_g_per_kg"].iloc[palate.flavouring_index[f]])
        dose = label * math.exp(rng.normal(0.0, 0.35))
        effect = palate.cup_sd * rng.standard_normal()
        hours = HOURS[rng.integers(len(HOURS))]
        for reading, minutes in ((1, 2.0), (2, 60 * hours)):
            gone = PER_DAY * minutes / 1440 if f in fading else 0.0
            words, liking = palate.taste(base, {f: dose * math.exp(-gone)}, rng, cup_effect=effect)
            rows.append(
                {"trial_id": f"t{i:03d}", "base_id": base, "flavouring_id": f, "dose_g_per_kg": dose,
                 "reading": reading, "taster": "me", "strength": words[f], "liking": liking, "stepped": "no",
                 "minutes_since_addition": minutes}
            )  # fmt: skip
    return pd.DataFrame(rows), fading


def told(seed: int, n_fading: int = N_FADING) -> tuple[pd.DataFrame, pd.Series]:
    """What a bench's model tells of its flavourings, and which of them fade."""
    palate = make_palate(seed)
    log, fading = bench(seed, n_fading)
    table = learn_shelf(Shelf.from_tables(palate.bases_df, palate.flavourings_df), log).over_time()
    table = table[table["kind"] == "flavouring"].reset_index(drop=True)
    return table, table["item_id"].isin(fading)


def main(n: int) -> None:
    """Print the figures of n benches with fading, and of n without."""
    for n_fading in (N_FADING, 0):
        held, held_fading, found, false = [], [], [], 0
        for seed in range(n):
            table, fades = told(seed, n_fading)
            truth = np.where(fades, math.exp(-PER_DAY), 1.0)
            inside = (table["low"] <= truth) & (truth <= table["high"])
            held.append(float(inside.mean()))
            if n_fading:
                held_fading.append(float(inside[fades].mean()))
                found.append(int((table["found"] & fades).sum()))
            false += bool((table["found"] & ~fades).any())
        print(f"{n_fading} of 24 fade, half a day: {n} benches of {N_RETASTES} re-tastes")
        print(f"  80 % intervals hold {100 * np.mean(held):.1f} %", end="")
        print(f", of those that fade {100 * np.mean(held_fading):.1f} %" if n_fading else "")
        print(f"  benches with a false claim: {false} of {n}", end="")
        print(f"; found {np.sum(found)} of {n_fading * n}" if n_fading else "")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
