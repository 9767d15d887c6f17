"""The least regret to hope for: the planner's rule on the same palates, told what a person could never know.

It is told how widely every kind of effect spreads (the very variances that the palates of the tests are drawn from,
taken as normal), the noise of a score, and all needed doses: every cup is poured just right. What is left is the search
itself, on 12 random singles and then one cup after another, as in `plan_regret.py`.

    python tests/benchmarks/plan_told.py --palates 32 --jobs 2
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from itertools import combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
import simulated
from plan_regret import FIRST, MARKS
from simulated_truth import FAMILIES, bases_table

from pairing.plan.worth import Joint, expected_improvement

ROUNDING_VAR = 1 / 12  # scores are whole numbers
BRILLIANT = 0.06 * 1.85  # expected bonus of a pair, and its variance around that
BRILLIANT_VAR = 0.06 * (1.85**2 + 0.7**2 / 12) - BRILLIANT**2


def belief(seed: int, palate: simulated.Palate, cups: list) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of the true likings before any cup; the variances are those of ``simulated_truth``."""
    n_b, n_f = len(palate.base_ids), len(palate.flavouring_ids)
    _, traits = bases_table(np.random.default_rng([seed, n_b, n_f, 1]), n_b)
    base = np.array([palate.base_index[b] for b, _ in cups])
    holds = np.zeros((len(cups), n_f))
    for row, (_, ids) in enumerate(cups):
        holds[row, [palate.flavouring_index[f] for f in ids]] = 1.0
    pair = {ids: i for i, ids in enumerate(combinations(range(n_f), 2))}
    which, kin = np.full(len(cups), -1), np.full(len(cups), -1)
    two = holds.sum(axis=1) == 2
    for row in np.flatnonzero(two):
        a, b = np.flatnonzero(holds[row])
        which[row] = pair[a, b]
        kin[row] = np.dot(sorted((a % len(FAMILIES), b % len(FAMILIES))), (len(FAMILIES), 1))
    same = base[:, None] == base
    alike = (traits @ traits.T / traits.shape[1])[np.ix_(base, base)]
    both = two[:, None] & two
    cov = 0.45**2 * same + (holds @ holds.T) * (0.6**2 + 0.45**2 * alike + 0.45**2 * same)
    cov += (both & (which[:, None] == which)) * (2 * 0.35**2 + BRILLIANT_VAR + 0.25**2 * same)
    cov += (both & (kin[:, None] == kin)) * 0.35**2
    return palate.average + np.where(two, -0.55 - palate.crowd + BRILLIANT, 0.0), cov


def choose(mean: np.ndarray, cov: np.ndarray, tried: np.ndarray, noise_var: float, n: int = 240) -> int:
    """Choose as the planner does: the expected rise of the best posterior mean."""
    promise = expected_improvement(mean, np.sqrt(np.diag(cov)), float(mean[tried].max()))
    rows = np.unique(np.concatenate([np.argsort(-mean)[:n], np.argsort(-promise)[:n], np.flatnonzero(tried)]))
    joint = Joint(mean[rows], cov[np.ix_(rows, rows)], np.full(len(rows), noise_var))
    return int(rows[np.argmax(joint.worth(np.arange(len(rows)), np.flatnonzero(tried[rows])))])


def run(seed: int, noise_sd: float) -> list[float]:
    """Play one palate through and return regret after each mark."""
    palate = simulated.make_palate(seed, liking_noise_sd=noise_sd)
    noise_var = noise_sd**2 + ROUNDING_VAR
    rng = np.random.default_rng([seed, 7])
    cups = palate.combinations(2)
    truth = np.array([palate.true_liking(b, dict.fromkeys(ids)) for b, ids in cups])
    mean, cov = belief(seed, palate, cups)
    singles = rng.choice([i for i, (_, ids) in enumerate(cups) if len(ids) == 1], FIRST, replace=False)
    tried, found = np.zeros(len(cups), bool), []
    for i in range(max(MARKS)):
        x = int(singles[i]) if i < FIRST else choose(mean, cov, tried, noise_var)
        score = np.clip(np.round(truth[x] + palate.liking_noise_sd * rng.standard_normal()), 1, 9)
        column, total = cov[:, x].copy(), cov[x, x] + noise_var
        mean = mean + column * (score - mean[x]) / total
        cov = cov - np.outer(column, column) / total
        tried[x] = True
        if i + 1 in MARKS:
            best = np.flatnonzero(tried)[np.argmax(mean[tried])]
            found.append(float(truth.max() - truth[best]))
    return found


def main() -> None:
    """Print the line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--palates", type=int, default=32)
    parser.add_argument("--first", type=int, default=1000, help="seed of the first palate")
    parser.add_argument("--noise", type=float, default=0.9, help="sd of one score around the true liking, points")
    parser.add_argument("--jobs", type=int, default=1)
    args = parser.parse_args()
    with ProcessPoolExecutor(args.jobs) as pool:
        seeds = range(args.first, args.first + args.palates)
        regret = np.array(list(pool.map(run, seeds, [args.noise] * len(seeds))))
    half = 1.28 * regret.std(axis=0, ddof=1) / np.sqrt(len(regret))
    for mark, mean, width in zip(MARKS, regret.mean(axis=0), half, strict=True):
        print(f"after {mark}: {mean:.2f} ({mean - width:.2f}–{mean + width:.2f})")


if __name__ == "__main__":
    main()
