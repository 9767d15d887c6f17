"""How fast the best cup is found: true regret by number of trials, on simulated palates.

Each palate has 6 bases and 24 flavourings; 12 random single-flavouring trials come first, each stepped up from below
the label dose. Every later trial is a cup poured straight to the doses that the planner gives, judged once for strength
and liking. Regret is the best true liking of any single or pair minus the true liking of the tried combination that the
model now likes best, at its needed doses; *as poured* takes the doses of that very cup.

    python tests/benchmarks/plan_regret.py --palates 32 --policies planner,marginal,greedy,random --jobs 2
"""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import simulated

from pairing.learned import Learned, learn_shelf
from pairing.model.brief import Brief
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.plan.batch import choose
from pairing.plan.candidates import candidates
from pairing.plan.history import history
from pairing.plan.objective import Objective
from pairing.plan.pool import Pool, with_doses
from pairing.plan.worth import expected_improvement

FIRST, MARKS = 12, (30, 45, 60)


def pick(policy: str, model: Learned, rng: np.random.Generator) -> tuple[Pool, int]:
    """Choose the next trial by a policy."""
    pool = candidates(model, Brief())
    if policy == "random":
        return pool, int(rng.integers(len(pool)))
    if policy == "planner":
        return pool, choose(model, Brief(), pool, 1, rng)[0].row
    mean, sd = Objective(model.response).predict(pool)
    tried = np.array([pool.key(i) in history(model) for i in range(len(pool))])
    if policy == "greedy":
        return pool, int(np.argmax(np.where(tried, -np.inf, mean)))
    return pool, int(np.argmax(expected_improvement(mean, sd, float(mean[tried].max()))))


def best_tried(model: Learned) -> tuple[str, tuple[str, ...], dict[str, float]]:
    """Return the tried combination that the model now likes best, with the doses at which it was last poured."""
    past = history(model)
    keys = list(past)
    recipes = Recipes.from_ids(model.shelf, [base for base, _ in keys], [ids for _, ids in keys])
    pool = with_doses(Pool.of(model.shelf, recipes), model)
    mean, _ = Objective(model.response).predict(pool)
    base_id, ids = keys[int(np.argmax(mean))]
    return base_id, ids, dict(past[base_id, ids].doses)


def run(seed: int, policy: str, noise_sd: float) -> dict[int, tuple[float, float]]:
    """Play one palate through and return regret, and regret as poured, after each mark."""
    palate = simulated.make_palate(seed, liking_noise_sd=noise_sd)
    rng = np.random.default_rng([seed, 7])
    shelf = Shelf.from_tables(palate.bases_df, palate.flavourings_df)
    best = palate.optimum()[2]
    rows: list[dict] = []
    for i in range(FIRST):
        base_id = palate.base_ids[rng.integers(6)]
        flavouring_id = palate.flavouring_ids[rng.integers(24)]
        rows += palate.ladder_trial(f"t{i:03d}", base_id, [flavouring_id], rng)
    found = {}
    for i in range(FIRST, max(MARKS) + 1):
        model = learn_shelf(shelf, pd.DataFrame(rows))
        if i in MARKS:
            base_id, ids, doses = best_tried(model)
            regret = best - palate.true_liking(base_id, dict.fromkeys(ids))
            found[i] = (regret, best - palate.true_liking(base_id, doses))
        if i < max(MARKS):
            pool, row = pick(policy, model, rng)
            doses = dict(zip(pool.flavouring_ids[row], pool.doses[row], strict=True))
            rows += palate.fresh_trial(f"t{i:03d}", pool.base_ids[row], doses, rng)
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--palates", type=int, default=32)
    parser.add_argument("--first", type=int, default=1000, help="seed of the first palate")
    parser.add_argument("--policies", default="planner,marginal,greedy,random")
    parser.add_argument("--noise", type=float, default=0.9, help="sd of one score around the true liking, points")
    parser.add_argument("--jobs", type=int, default=1)
    args = parser.parse_args()
    seeds = range(args.first, args.first + args.palates)
    print(f"true regret (80 % interval of the mean) over {args.palates} palates, liking points")
    print(f"{'policy':10s}" + "".join(f"{f'after {m}':>22s}" for m in MARKS) + f"{'as poured, last':>18s}{'s':>7s}")
    with ProcessPoolExecutor(args.jobs) as pool:
        for policy in args.policies.split(","):
            start = time.perf_counter()
            runs = list(pool.map(run, seeds, [policy] * len(seeds), [args.noise] * len(seeds)))
            line = f"{policy:10s}"
            for mark in MARKS:
                values = np.array([r[mark][0] for r in runs])
                half = 1.28 * values.std(ddof=1) / np.sqrt(len(values))
                line += f"{values.mean():10.2f} ({values.mean() - half:.2f}–{values.mean() + half:.2f})"
            poured = np.mean([r[MARKS[-1]][1] for r in runs])
            print(f"{line}{poured:18.2f}{time.perf_counter() - start:7.0f}", flush=True)


if __name__ == "__main__":
    main()
