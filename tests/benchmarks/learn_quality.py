"""How good the learning is on simulated palates: combinations and needed doses never tried, and their intervals.

Each palate has 6 bases and 24 flavourings; its log is singles, pairs and triples at random, four in five stepped up
from below the label dose. All models see the same cups. Liking is asked of 500 singles and pairs that were never tried,
at their needed doses. Needed doses are asked of base and flavouring that were never in one cup.

    python tests/benchmarks/learn_quality.py --palates 8            # the factorisation machine too where installed
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd
from learn_common import Z80, factorisation_machine, machine, one_hot, rmse, timed
from simulated import Palate, make_palate

import pairing
from pairing import Recipe

MARKS = (60, 200, 600)
N_BASES, N_FLAVOURINGS = 6, 24


def dummies(palate: Palate, cups: list[tuple[str, tuple[str, ...]]]) -> object:
    """Columns of base and flavourings."""
    slots = np.full((len(cups), 3), -1)
    for row, (_, ids) in enumerate(cups):
        slots[row, : len(ids)] = [palate.flavouring_index[f] for f in ids]
    return one_hot((np.array([palate.base_index[b] for b, _ in cups]), N_BASES), (slots, N_FLAVOURINGS))


def rivals(palate: Palate, log: pd.DataFrame, asked: list, truth: np.ndarray) -> dict[str, float]:
    """Error of models that know nothing of doses, on the liked readings."""
    from sklearn.ensemble import RandomForestRegressor
    from sklearn.linear_model import RidgeCV

    liked = log.dropna(subset="liking").groupby("trial_id", sort=False)
    cups = [(g["base_id"].iloc[0], tuple(g["flavouring_id"])) for _, g in liked]
    y = np.array([g["liking"].iloc[0] for _, g in liked])
    x, xt = dummies(palate, cups), dummies(palate, [(b, tuple(d)) for b, d in asked])
    found = {"average": np.full(len(truth), y.mean())}
    found["additive ridge"] = RidgeCV(np.logspace(-2, 3, 16)).fit(x.toarray(), y).predict(xt.toarray())  # type: ignore[attr-defined]
    forest = RandomForestRegressor(300, min_samples_leaf=2, random_state=0)
    found["random forest"] = forest.fit(x.toarray(), y).predict(xt.toarray())  # type: ignore[attr-defined]
    if machine() is not None:
        found["factorisation machine"] = factorisation_machine(x, y, xt, [N_BASES, N_FLAVOURINGS], rank=4, n_iter=300)
    return {name: rmse(guess - truth) for name, guess in found.items()}


def one(seed: int, n: int) -> dict[str, float]:
    """Learn one log and measure."""
    palate = make_palate(seed)
    log = palate.log(n, np.random.default_rng([seed, 1]))
    asked = palate.untried(log, 500, np.random.default_rng([seed, 2]))
    truth = palate.true_likings(asked)
    with timed() as clock:
        model = pairing.learn(palate.bases_df, palate.flavourings_df, log, random_state=0)
    found = model.predict([Recipe(b, d) for b, d in asked])
    doses = model.needed_dose()
    doses = doses[doses["readings"] == 0]
    cells = zip(doses["base_id"], doses["flavouring_id"], strict=True)
    true_dose = np.array([palate.true_log_dose(*cell) for cell in cells])
    error = np.log(doses["dose_g_per_kg"].to_numpy()) - true_dose
    return {
        "this package": rmse(found["liking"] - truth),
        **rivals(palate, log, asked, truth),
        "coverage": float(((truth >= found["liking_low"]) & (truth <= found["liking_high"])).mean()),
        "dose": rmse(error) if len(error) > 2 else np.nan,
        "label": rmse(error - np.log(doses["label_ratio"].to_numpy())) if len(error) > 2 else np.nan,
        "dose coverage": float((np.abs(error) <= Z80 * doses["log_sd"]).mean()) if len(error) > 2 else np.nan,
        "doses asked": len(error),
        "learn s (processor)": clock.cpu,
    }


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--palates", type=int, default=8)
    parser.add_argument("--first", type=int, default=500, help="seed of the first palate")
    args = parser.parse_args()
    table = {}
    for n in MARKS:
        table[f"{n} trials"] = pd.DataFrame(
            [one(seed, n) for seed in range(args.first, args.first + args.palates)]
        ).mean()
    print(f"mean over {args.palates} palates; liking in points, doses in natural log units")
    print(pd.DataFrame(table).round(3).to_string())


if __name__ == "__main__":
    main()
