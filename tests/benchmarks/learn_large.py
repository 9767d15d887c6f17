"""Learning from a pooled log of a million cups: error, time and memory.

100 bases, 500 flavourings, one to three in a cup, 50 tasters. Liking is base + flavourings + base × flavouring and
pairs, each of a low-rank and an own part, + taster; one score scatters by 0.945 around it, which is the best error
that any model can reach.

    python tests/benchmarks/learn_large.py                  # this package
    python tests/benchmarks/learn_large.py --machine        # the factorisation machine on the same cups
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd
from learn_common import factorisation_machine, one_hot, peak_gb, rmse, timed

N_BASES, N_FLAVOURINGS, N_TASTERS = 100, 500, 50
NOISE_SD = 0.945


def cups(n: int, own: float = 0.25, seed: int = 0) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Base, flavourings (−1 for none), taster and score of random cups."""
    rng = np.random.default_rng(seed)
    n_b, n_f = N_BASES, N_FLAVOURINGS

    def low_rank(rows: int, columns: int, sd: float, rank: int = 4) -> np.ndarray:
        return sd * rng.standard_normal((rows, rank)) @ rng.standard_normal((rank, columns)) / np.sqrt(rank)

    base, flavouring = 0.45 * rng.standard_normal(n_b), 0.5 * rng.standard_normal(n_f)
    affinity = low_rank(n_b, n_f, 0.35) + own * rng.standard_normal((n_b, n_f))
    traits = rng.standard_normal((n_f, 4))
    pair = 0.35 * traits @ np.diag([1, -1, 1, -1]) @ traits.T / 2 + own * rng.standard_normal((n_f, n_f))
    taster = 0.4 * rng.standard_normal(N_TASTERS)
    popular = rng.gamma(1.5, size=n_f)
    b, who = rng.integers(0, n_b, n), rng.integers(0, N_TASTERS, n)
    slots = rng.choice(n_f, (n, 3), p=popular / popular.sum())
    size = rng.choice([1, 2, 3], n, p=[0.45, 0.45, 0.1])
    slots[:, 1][(size < 2) | (slots[:, 1] == slots[:, 0])] = -1
    slots[:, 2][(size < 3) | (slots[:, 2] == slots[:, 0]) | (slots[:, 2] == slots[:, 1])] = -1
    points = 5.2 + base[b] + taster[who]
    for i in range(3):
        there = slots[:, i] >= 0
        points += np.where(there, flavouring[slots[:, i]] + affinity[b, slots[:, i]], 0.0)
        for j in range(i):
            both = there & (slots[:, j] >= 0)
            one, two = np.minimum(slots[:, i], slots[:, j]), np.maximum(slots[:, i], slots[:, j])
            points += np.where(both, pair[one, two] - 0.3, 0.0)
    return b, slots, who, points + NOISE_SD * rng.standard_normal(n)


def tables(b: np.ndarray, slots: np.ndarray, who: np.ndarray, score: np.ndarray) -> tuple[pd.DataFrame, ...]:
    """Make the same cups as tables of bases, flavourings and readings."""
    row, slot = np.nonzero(slots >= 0)
    trial = np.array([f"t{i:07d}" for i in range(len(b))], object)
    base_ids = np.array([f"base-{i:03d}" for i in range(N_BASES)], object)
    flavouring_ids = np.array([f"flav-{i:03d}" for i in range(N_FLAVOURINGS)], object)
    tasters = np.array([f"taster-{i:02d}" for i in range(N_TASTERS)], object)
    readings = pd.DataFrame(
        {
            "trial_id": trial[row],
            "base_id": base_ids[b[row]],
            "flavouring_id": flavouring_ids[slots[row, slot]],
            "dose_g_per_kg": 2.0,
            "taster": tasters[who[row]],
            "liking": np.clip(score, 1, 9)[row],
        }
    )
    bases = pd.DataFrame({"base_id": base_ids, "name": base_ids})
    label = {"flavouring_id": flavouring_ids, "name": flavouring_ids, "label_dose_g_per_kg": 2.0}
    return bases, pd.DataFrame(label), readings


def ours(train: tuple, test: tuple) -> None:
    """Learn and predict with this package."""
    import pairing
    from pairing.learned import fit
    from pairing.model.recipes import Recipes

    whole, solving = fit.fit, []

    def clocked(*args: object, **options: object) -> object:
        with timed() as clock:
            found = whole(*args, **options)
        solving.append(clock)
        return found

    bases, flavourings, readings = tables(*train)
    held = peak_gb()
    b, slots, who, score = test
    fit.fit = clocked
    with timed() as learning:
        model = pairing.learn(bases, flavourings, readings, random_state=0)
    columns, peak = model.liking.columns.n, peak_gb()
    with timed() as asking:
        recipes = Recipes.at(b, slots)
        encoded = model.response.encode_recipes(recipes, [f"taster-{i:02d}" for i in who])
        mean = model.liking.mean(encoded)
    with timed() as spread:
        sd = model.liking.sd(encoded.take(slice(0, 5000)))
    noise = model.response.noise_sd
    inside = np.abs(mean[:5000] - score[:5000]) < 1.2816 * np.hypot(sd, noise)
    report("this package", len(train[0]), rmse(mean - score), learning, held, peak)
    print(f"  of that {solving[0].cpu:.1f} s processor to learn, the rest to check and read the tables")
    print(f"  {columns} columns, noise sd {noise:.3f}, 80 % intervals of single scores cover {inside.mean():.1%}")
    print(f"  predict {len(b)} cups {asking.cpu:.1f} s, intervals of 5000 {spread.cpu:.1f} s (processor)")


def theirs(train: tuple, test: tuple) -> None:
    """Do the same with the factorisation machine."""
    groups = [N_BASES, N_FLAVOURINGS, N_TASTERS]
    (x, y), (xt, yt) = (
        (one_hot((b, groups[0]), (slots, groups[1]), (who, groups[2])), score) for b, slots, who, score in (train, test)
    )
    held = peak_gb()
    with timed() as learning:
        guess = factorisation_machine(x, y, xt, groups, rank=8, n_iter=100)
    report("factorisation machine, rank 8, 100 draws", len(y), rmse(guess - yt), learning, held, peak_gb())


def report(who: str, n: int, error: float, clock: object, held: float, peak: float) -> None:
    """Print one line."""
    print(
        f"{who}: {n} cups, RMSE {error:.4f} (floor {NOISE_SD}), {clock.wall:.1f} s wall, "  # type: ignore[attr-defined]
        f"{clock.cpu:.1f} s processor, peak {peak:.2f} GB (the tables alone: {held:.2f})",  # type: ignore[attr-defined]
        flush=True,
    )


def main() -> None:
    """Make the log, learn, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cups", type=int, default=1_000_000)
    parser.add_argument("--machine", action="store_true", help="the factorisation machine instead of this package")
    parser.add_argument("--own", type=float, default=0.25, help="sd of the parts that are of no low rank")
    args = parser.parse_args()
    found = cups(args.cups + 100_000, args.own)
    train, test = (tuple(a[rows] for a in found) for rows in (slice(0, args.cups), slice(args.cups, None)))
    (theirs if args.machine else ours)(train, test)


if __name__ == "__main__":
    main()
