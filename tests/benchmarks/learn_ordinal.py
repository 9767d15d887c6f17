"""Is liking better taken as a number or as ordered categories? Both on the same columns, in five folds.

*Number* is the solver as this package uses it: a normal response on the 9-point scale. *Ordered* is a cumulative probit
with free thresholds on the same columns, block variances learned with it (working responses by turns with thresholds).
Log loss is that of the very score given (less is better), error that of the expected score.

    python tests/benchmarks/learn_ordinal.py

Data: the simulated palates of the tests (rounded to whole numbers and stopped at 1 and 9), and the ham scores of
``tests/published`` (consumers and products; source there).
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import pandas as pd
from learn_common import one_hot, rmse
from scipy import sparse
from scipy.optimize import minimize
from scipy.special import ndtr, ndtri
from simulated import make_palate

import pairing
from pairing.learning.evidence import BlockRegression
from pairing.learning.liking import NOISE_COUNT, NOISE_VAR
from pairing.model.recipes import Recipes

HAM = Path(__file__).resolve().parents[1] / "published" / "data" / "ham.csv"
POINTS = np.arange(1, 10)


def chances(cuts: np.ndarray, mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """Chance of each of the nine scores."""
    below = ndtr((cuts - mean[:, None]) / spread[:, None])
    edges = np.column_stack([np.zeros(len(mean)), below, np.ones(len(mean))])
    return np.maximum(np.diff(edges), 1e-9)


def as_number(options: dict, x: object, y: np.ndarray, xt: object) -> np.ndarray:
    """Chances of the scores of ``xt`` from a normal response."""
    model = BlockRegression(**options, random_state=0).fit(x, y)
    mean, sd = model.predict(xt, return_std=True)
    return chances(POINTS[:-1] + 0.5, mean, np.sqrt(sd**2 + model.noise_var_))


def as_ordered(options: dict, x: object, y: np.ndarray, xt: object) -> np.ndarray:
    """Chances of the scores of ``xt`` from a cumulative probit; the scale is that of perception, with spread 1."""
    category = y.astype(int) - 1
    start = as_number(options, x, y, x)
    share = np.cumsum(np.bincount(category, minlength=9))[:-1] / len(y)
    cuts = np.sqrt(2) * ndtri(np.clip(share, 0.3 / len(y), 1 - 0.3 / len(y)))
    eta, variances = np.sqrt(2) * _standard(start @ POINTS), None
    unit = {**options, "prior_mean": None, "noise_var": 1.0}
    unit["pseudo_var"] = np.append(np.asarray(options["pseudo_var"])[:-1], 1.0)
    for _ in range(40):
        edges = np.concatenate([[-np.inf], cuts, [np.inf]])
        a, b = edges[category] - eta, edges[category + 1] - eta
        da, db = np.exp(-0.5 * a * a) / np.sqrt(2 * np.pi), np.exp(-0.5 * b * b) / np.sqrt(2 * np.pi)
        mass = np.maximum(ndtr(b) - ndtr(a), 1e-10)
        score = (da - db) / mass
        curve = np.where(np.isfinite(a), a, 0) * da - np.where(np.isfinite(b), b, 0) * db
        information = np.clip(score**2 - curve / mass, 1e-3, 4.0)
        model = BlockRegression(**unit, init_var=variances, max_iter=2, random_state=0)
        model.fit(x, eta + score / information, sample_weight=information)
        new, sd = model.predict(x, return_std=True)
        variances = np.append(model.block_var_, 1.0)
        before, cuts = cuts, _thresholds(cuts, category, new, sd)
        moved = max(rmse(new - eta), float(np.abs(cuts - before).max()))
        eta = new
        if moved < 0.01:
            break
    mean, sd = model.predict(xt, return_std=True)
    return chances(cuts, mean, np.sqrt(1.0 + sd**2))


def _standard(x: np.ndarray) -> np.ndarray:
    return np.asarray((x - x.mean()) / max(x.std(), 1e-9))


def _thresholds(cuts: np.ndarray, category: np.ndarray, mean: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """Return the likeliest thresholds given the spread of what was found, steps held near each other."""
    spread = np.sqrt(1.0 + sd**2)

    def loss(steps: np.ndarray) -> float:
        found = steps[0] + np.concatenate([[0.0], np.cumsum(np.exp(steps[1:]))])
        chance = chances(found, mean, spread)[np.arange(len(mean)), category]
        return float(-np.log(chance).sum() + 0.5 * ((steps[1:] - steps[1:].mean()) ** 2).sum())

    start = np.append(cuts[0], np.log(np.maximum(np.diff(cuts), 1e-3)))
    steps = minimize(loss, start, method="L-BFGS-B", options={"maxiter": 15}).x
    return np.asarray(steps[0] + np.concatenate([[0.0], np.cumsum(np.exp(steps[1:]))]))


def compared(options: dict, x: object, y: np.ndarray, seed: int = 0) -> dict[str, float]:
    """Log loss and error of both, in five folds."""
    fold = np.random.default_rng(seed).integers(0, 5, len(y))
    found: dict[str, list[float]] = {}
    for name, fit in (("number", as_number), ("ordered", as_ordered)):
        for k in range(5):
            out = fold == k
            chance = fit(options, x[~out], y[~out], x[out])
            found.setdefault(f"{name}: log loss", []).append(
                -float(np.mean(np.log(chance[np.arange(out.sum()), y[out].astype(int) - 1])))
            )
            found.setdefault(f"{name}: error", []).append(rmse(chance @ POINTS - y[out]))
    return {key: float(np.mean(values)) for key, values in found.items()}


def palate(seed: int, n: int) -> dict[str, float]:
    """A simulated log, with the columns that this package gives it."""
    truth = make_palate(seed)
    log = truth.log(n, np.random.default_rng([seed, 1]))
    model = pairing.learn(truth.bases_df, truth.flavourings_df, log, random_state=0)
    last = log.dropna(subset="liking")
    cups = last.groupby("trial_id", sort=False)
    recipes = Recipes.from_ids(
        model.shelf,
        cups["base_id"].first().tolist(),
        [tuple(ids) for ids in cups["flavouring_id"].agg(list)],
        [tuple(doses) for doses in cups["dose_g_per_kg"].agg(list)],
    )
    x = model.liking.encode(recipes).x
    prior = {k: v for k, v in model.liking.columns.prior().items() if k != "prior_mean"}
    count = [*prior.pop("pseudo_count"), NOISE_COUNT]
    var = [*prior.pop("pseudo_var"), NOISE_VAR]
    options = {**prior, "pseudo_count": count, "pseudo_var": var}
    return compared(options, x.tocsr(), cups["liking"].first().to_numpy())


def ham() -> dict[str, float]:
    """Consumers, products and their crossing."""
    data = pd.read_csv(HAM)
    who, what = (pd.factorize(data[c])[0] for c in ("Consumer", "Product"))
    cell = who * (what.max() + 1) + what
    sizes = [int(code.max()) + 1 for code in (who, what, cell)]
    x = sparse.hstack([one_hot((code, size)) for code, size in zip((who, what, cell), sizes, strict=True)], "csr")
    options = {"blocks": np.repeat([0, 1, 2], sizes), "pseudo_count": [2.0] * 4, "pseudo_var": [0.5, 0.5, 0.5, 1.5]}
    return compared(options, x, data["Informed.liking"].to_numpy(float))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--palates", type=int, default=8)
    args = parser.parse_args()
    table = {"ham": pd.Series(ham())}
    for n in (60, 200, 600):
        table[f"{n} trials"] = pd.DataFrame([palate(500 + seed, n) for seed in range(args.palates)]).mean()
    print(pd.DataFrame(table).round(3).to_string())


if __name__ == "__main__":
    main()
