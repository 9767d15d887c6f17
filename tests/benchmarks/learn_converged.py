"""Whether learning has converged where it stops: two starts far apart, and the rows in another order.

Cups of `learn_large.py`. The other start has variances 4.5 times too large and too small by turns, and the noise 1.6
times too large. Told is the root mean square by which the liking of 50,000 other cups differs.

    python tests/benchmarks/learn_converged.py --cups 100000
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import Any

import numpy as np
from learn_common import rmse, timed
from learn_large import cups, tables

import pairing
from pairing.learned import learn_shelf
from pairing.learning.log import Recipes
from pairing.model.shelf import Shelf
from pairing.store.exchange import clean

ASKED = 50_000


def liking(model: Any, test: tuple) -> np.ndarray:
    """Expected liking of the cups that were not learned from."""
    base, slots, who, _ = test
    recipes = Recipes(base.astype(np.int64), slots.astype(np.int64), np.full(slots.shape, np.nan))
    return np.asarray(model.liking.mean(model.response.encode_recipes(recipes, [f"taster-{i:02d}" for i in who])))


def elsewhere(model: Any) -> Any:
    """Return the model as one to start from, with variances far off."""
    factor = np.resize([4.5, 1 / 4.5], len(model.liking.variances))
    variances = {name: v * f for (name, v), f in zip(model.liking.variances.items(), factor, strict=True)}
    return replace(model, liking=replace(model.liking, variances=variances, noise_sd=1.6**0.5 * model.liking.noise_sd))


def main() -> None:
    """Learn three times and compare."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cups", type=int, default=100_000)
    args = parser.parse_args()
    found = cups(args.cups + ASKED)
    train, test = (tuple(a[rows] for a in found) for rows in (slice(0, args.cups), slice(args.cups, None)))
    bases, flavourings, readings = tables(*train)
    with timed() as clock:
        model = pairing.learn(bases, flavourings, readings)
    first = liking(model, test)
    print(f"{args.cups} cups, RMSE {rmse(first - test[3]):.4f}, {clock.cpu:.1f} s processor", flush=True)
    shelf = Shelf.from_tables(*(clean(name, t).table for name, t in (("bases", bases), ("flavourings", flavourings))))
    known = {"bases": list(shelf.bases), "flavourings": list(shelf.flavourings)}
    table = clean("readings", readings, known=known).table
    with timed() as clock:
        other = learn_shelf(shelf, table, start=elsewhere(model))
    print(f"another start: differs by {rmse(liking(other, test) - first):.5f} rms, {clock.cpu:.1f} s", flush=True)
    order = np.random.default_rng(5).permutation(args.cups)
    turned = pairing.learn(bases, flavourings, tables(*(a[order] for a in train))[2])
    print(f"another order of the rows: differs by {rmse(liking(turned, test) - first):.5f} rms", flush=True)


if __name__ == "__main__":
    main()
