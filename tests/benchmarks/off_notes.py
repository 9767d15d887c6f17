"""How well off-notes of never tried combinations are foretold, beside the base's own rate on the same logs.

Palates whose chance of a note is a logistic of base, flavouring, their own combination (which nobody can learn from
others) and dose; 200 cups of random bases and flavourings, one in five combinations held out. Printed are the expected
Brier score on those, that of the base's own rate in the log, that of whoever knows the true chances, and how often 80 %
intervals hold the true chance.

    python tests/benchmarks/off_notes.py --palates 20
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd
from scipy.special import expit

import pairing
from pairing import Recipe

_BASES, _FLAVOURINGS = 4, 16
_SDS = {"base": 1.2, "flavouring": 1.2, "combination": 0.3}


def palate(seed: int, trials: int = 200) -> tuple[float, ...]:
    """Return the Brier scores of the model, of the base's own rate and of the truth, and the coverage."""
    rng = np.random.default_rng(seed)
    base, flav = rng.normal(0, _SDS["base"], _BASES), rng.normal(0, _SDS["flavouring"], _FLAVOURINGS)
    own = rng.normal(0, _SDS["combination"], (_BASES, _FLAVOURINGS))
    held = rng.random((_BASES, _FLAVOURINGS)) < 0.2

    def chance(b: int, f: int, more: float) -> float:
        return float(expit(-0.8 + base[b] + flav[f] + own[b, f] + 0.6 * more))

    rows = []
    free = np.argwhere(~held)
    for i in range(trials):
        b, f = free[rng.integers(len(free))].tolist()
        more = float(rng.normal(0, 0.3))
        note = "beany:2" if rng.random() < chance(b, f, more) else None
        rows.append((f"t{i}", f"b{b}", f"f{f}", 2.0 * np.exp(more), 5, note))
    names = ["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "liking", "off_notes"]
    log = pd.DataFrame(rows, columns=names)
    bases = pd.DataFrame({"base_id": [f"b{b}" for b in range(_BASES)]}).assign(name="Base")
    flavourings = pd.DataFrame({"flavouring_id": [f"f{f}" for f in range(_FLAVOURINGS)]})
    model = pairing.learn(bases, flavourings.assign(name="Drops", label_dose_g_per_kg=2.0), log)
    cells = np.argwhere(held).tolist()
    found = model.off_notes([Recipe(f"b{b}", {f"f{f}": 2.0}) for b, f in cells])
    true = np.array([chance(b, f, 0.0) for b, f in cells])
    rate = log["off_notes"].notna().groupby(log["base_id"]).mean()
    guess = np.array([rate.get(f"b{b}", rate.mean()) for b, _ in cells])

    def brier(p: np.ndarray) -> float:
        return float(np.mean(true * (1 - p) ** 2 + (1 - true) * p**2))

    inside = (found["low"].to_numpy() <= true) & (true <= found["high"].to_numpy())
    return brier(found["probability"].to_numpy()), brier(guess), brier(true), float(inside.mean())


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--palates", type=int, default=20)
    parser.add_argument("--first", type=int, default=0)
    args = parser.parse_args()
    scores = np.array([palate(args.first + seed) for seed in range(args.palates)])
    model, base, told, covered = scores.mean(axis=0)
    print(
        f"Brier {model:.3f}, the base's own rate {base:.3f}: {model / base:.2f} × (told the truth {told / base:.2f} ×)"
    )
    print(f"80 % intervals hold {covered:.0%}")
