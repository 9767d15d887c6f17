"""What a prior from 200 kitchens is worth to a newcomer: error, intervals, needed doses, and regret.

6 bases, 24 flavourings; 200 kitchens of 60 trials share part of what makes a cup liked (``tests/pools.py``). The prior
is made once per share; each newcomer is learned with and without it.

    python tests/benchmarks/pool_prior.py --shared 0.7 --newcomers 24
    python tests/benchmarks/pool_prior.py --shared 0.7 --plan --newcomers 32      # regret, six random cups first
    python tests/benchmarks/pool_prior.py --shared 0.7 --strangers                # other averages, half other shelves
"""

from __future__ import annotations

import argparse
import tempfile
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from learn_common import timed
from pools import kitchens, write_pool

import pairing
from pairing import Brief, Recipe

KITCHENS, TRIALS, FIRST = 200, 60, 9000


def strange(palate: Any, number: int) -> tuple[Any, dict[str, str]]:
    """Give a kitchen another average, and own names to half of its flavourings."""
    rng = np.random.default_rng([3, number])
    names = rng.permutation(palate.flavouring_ids)[: len(palate.flavouring_ids) // 2]
    return replace(palate, average=palate.average + 0.7 * rng.standard_normal()), {n: f"own-{n}" for n in names}


def rms(values: Any) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def never_tried(kitchen: Any, prior: Any, newcomers: int, *, strangers: bool) -> None:
    """Print error and intervals after 10, 20 and 60 trials."""
    found = defaultdict(list)
    for number in range(newcomers):
        palate, rename = strange(kitchen(FIRST + number), number) if strangers else (kitchen(FIRST + number), {})
        rng = np.random.default_rng([77, number])
        whole = palate.log(TRIALS, rng)
        ids = list(dict.fromkeys(whole["trial_id"]))
        asked = palate.untried(whole, 400, rng)
        truth = palate.true_likings(asked)
        recipes = [Recipe(b, {rename.get(f, f): None for f in doses}) for b, doses in asked]
        shelf = palate.bases_df, palate.flavourings_df.replace({"flavouring_id": rename})
        for n in (10, 20, 60):
            log = whole[whole["trial_id"].isin(ids[:n])].replace({"flavouring_id": rename})
            for name, told in (("alone", None), ("with the prior", prior)):
                model = pairing.learn(*shelf, log, prior=told)
                guess = model.predict(recipes)
                inside = (guess["liking_low"] <= truth) & (truth <= guess["liking_high"])
                doses = model.needed_dose()
                back = {new: old for old, new in rename.items()}
                need = [
                    palate.true_log_dose(b, back.get(f, f))
                    for b, f in zip(doses["base_id"], doses["flavouring_id"], strict=True)
                ]
                off = np.log(doses["dose_g_per_kg"]) - need
                found[n, name].append(
                    (np.mean((guess["liking"] - truth) ** 2) ** 0.5, inside.mean(), np.mean(off**2) ** 0.5)
                )
    for (n, name), rows in found.items():
        error, inside, dose = np.mean(rows, axis=0)
        spread = np.std(rows, axis=0)[0] / len(rows) ** 0.5
        print(
            f"  {n} trials, {name}: RMSE {error:.2f} ± {spread:.2f}, 80 % hold {inside:.0%}, needed dose {dose:.3f} log"
        )


def play(palate: Any, prior: Any, number: int, marks: tuple[int, ...]) -> dict[int, float]:
    """Regret of the tried cup that the model likes best: six random cups, then what the planner suggests."""
    rng = np.random.default_rng([number, 7])
    best, rows, out = palate.optimum()[2], [], {}
    for i in range(6):
        ids = [palate.flavouring_ids[k] for k in rng.choice(24, 2 if i < 2 else 1, replace=False)]
        rows += palate.ladder_trial(f"t{i:03d}", palate.base_ids[rng.integers(6)], ids, rng)
    for i in range(6, max(marks) + 1):
        model = pairing.learn(palate.bases_df, palate.flavourings_df, pd.DataFrame(rows), prior=prior)
        if i in marks:
            cups: dict[str, tuple[str, set[str]]] = {}
            for row in rows:
                cups.setdefault(row["trial_id"], (row["base_id"], set()))[1].add(row["flavouring_id"])
            tried = sorted({(base, tuple(sorted(ids))) for base, ids in cups.values()})
            liking = model.predict([Recipe(base, dict.fromkeys(ids)) for base, ids in tried])["liking"]
            base, ids = tried[int(np.argmax(liking))]
            out[i] = best - palate.true_liking(base, dict.fromkeys(ids))
        if i < max(marks):
            told = model.suggest(Brief(max_flavourings=2), n=1, random_state=i)[0].recipe
            rows += palate.fresh_trial(f"t{i:03d}", told.base_id, dict(told.doses), rng)
    return out


def regret(kitchen: Any, prior: Any, newcomers: int) -> None:
    """Print regret after 15 and 30 cups."""
    marks, found = (15, 30), defaultdict(list)
    for number in range(newcomers):
        for name, told in (("alone", None), ("with the prior", prior)):
            for n, left in play(kitchen(FIRST + number), told, number, marks).items():
                found[n, name].append(left)
    for (n, name), rows in sorted(found.items()):
        print(f"  after {n} cups, {name}: regret {np.mean(rows):.2f} ± {np.std(rows) / len(rows) ** 0.5:.2f}")


def main() -> None:
    """Make a pool, learn it, and see what its prior is worth."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shared", type=float, default=0.7, help="share of the variance that is common")
    parser.add_argument("--newcomers", type=int, default=24)
    parser.add_argument("--plan", action="store_true", help="regret instead of error")
    parser.add_argument("--strangers", action="store_true", help="newcomers of other averages and catalogues")
    args = parser.parse_args()
    kitchen = kitchens(args.shared)
    with tempfile.TemporaryDirectory() as scratch:
        write_pool(Path(scratch), kitchen, KITCHENS, TRIALS)
        with timed() as clock:
            pool = pairing.learn_pooled(scratch)
    prior = pool.prior()
    size = len(prior.to_bytes()) / 1000
    print(
        f"{args.shared:.0%} shared: learned from {pool.cups} cups in {clock.cpu:.1f} s, prior of {size:.0f} kB",
        flush=True,
    )
    if args.plan:
        regret(kitchen, prior, args.newcomers)
    else:
        never_tried(kitchen, prior, args.newcomers, strangers=args.strangers)


if __name__ == "__main__":
    main()
