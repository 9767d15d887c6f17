"""InstEval through this package and, where installed, through the factorisation machine.

python tests/benchmarks/learn_insteval.py
"""

from __future__ import annotations

from learn_common import factorisation_machine, machine, one_hot, rmse, timed
from lecture_marks import guesses, marks, names, split, tables

import pairing


def main() -> None:
    """Print one line each."""
    data = marks()
    train, test = split(data)
    given = test["y"].to_numpy(float)
    bases, flavourings, readings = tables(train, data)
    pairing.learn(bases, flavourings.iloc[:1], readings.iloc[:0])  # imports
    with timed() as clock:
        model = pairing.learn(bases, flavourings, readings, random_state=0)
    error = rmse(guesses(model, test) - given)
    print(f"this package: RMSE {error:.4f} marks, {clock.wall:.1f} s wall, {clock.cpu:.1f} s processor", flush=True)
    if machine() is None:
        return
    places = [{name: i for i, name in enumerate(sorted(set(ids)))} for ids in names(data)]
    x, xt = (
        one_hot(*((ids.map(place), len(place)) for ids, place in zip(names(part), places, strict=True)))
        for part in (train, test)
    )
    for draws in (100, 300, 500):
        with timed() as clock:
            guess = factorisation_machine(
                x, train["y"].to_numpy(float), xt, [len(place) for place in places], rank=8, n_iter=draws
            )
        print(
            f"factorisation machine, {draws} draws: RMSE {rmse(guess - given):.4f}, "
            f"{clock.wall:.1f} s wall, {clock.cpu:.1f} s processor",
            flush=True,
        )


if __name__ == "__main__":
    main()
