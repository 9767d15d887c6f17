"""MovieLens latest-small through this package and, where installed, through the factorisation machine.

python tests/benchmarks/learn_movielens.py
"""

from __future__ import annotations

from learn_common import factorisation_machine, machine, one_hot, rmse, timed
from movie_ratings import split, stars, tables

import pairing
from pairing import Recipe


def main() -> None:
    """Print one line each."""
    train, test = split()
    films = sorted({*train["movieId"], *test["movieId"]})
    bases, flavourings, readings = tables(train, films)
    pairing.learn(bases, flavourings.iloc[:1], readings.iloc[:0])  # imports
    with timed() as clock:
        model = pairing.learn(bases, flavourings, readings, random_state=0)
    asked = [Recipe("plain", {f"m{i}": None}) for i in test["movieId"]]
    found = model.predict(asked, [f"p{i}" for i in test["userId"]])
    error = rmse(stars(found["liking"].to_numpy()) - test["rating"].to_numpy())
    print(f"this package: RMSE {error:.4f} stars, {clock.wall:.1f} s wall, {clock.cpu:.1f} s processor", flush=True)
    if machine() is None:
        return
    people = {u: i for i, u in enumerate(sorted({*train["userId"], *test["userId"]}))}
    place = {f: i for i, f in enumerate(films)}
    groups = [len(people), len(place)]
    x, xt = (one_hot((d["userId"].map(people), groups[0]), (d["movieId"].map(place), groups[1])) for d in (train, test))
    with timed() as clock:
        guess = factorisation_machine(x, train["rating"].to_numpy(), xt, groups, rank=8, n_iter=100)
    error = rmse(guess - test["rating"].to_numpy())
    print(f"factorisation machine: RMSE {error:.4f}, {clock.wall:.1f} s wall, {clock.cpu:.1f} s processor")


if __name__ == "__main__":
    main()
