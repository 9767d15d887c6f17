"""Recall of hidden names in a cookbook: the measure of familiar partners, and simple methods to beat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

COOKBOOK = Path(__file__).parent / "published" / "data" / "cookbook_names.txt"
UNCOMMON = 0.05  # a name in fewer of the recipes than this share

Fit = Callable[[list[list[str]]], Callable[[list[str]], list[str]]]


def recipes(path: Path = COOKBOOK) -> list[list[str]]:
    return [line.split(";") for line in path.read_text(encoding="utf-8").splitlines()]


def recall(fit: Fit, cookbook: Sequence[list[str]], seeds: Sequence[int], test_share: float = 0.15) -> np.ndarray:
    """Recall@10 over all hidden names and over uncommon ones, the mean over random splits.

    Every name of every test recipe is hidden in turn, and a recipe's names weigh one together: what hiding one name at
    random gives, without the luck of the draw.
    """
    found = []
    for seed in seeds:
        order = np.random.default_rng(seed).permutation(len(cookbook))
        n_test = int(len(cookbook) * test_share)
        train = [cookbook[i] for i in order[n_test:]]
        rank = fit(train)
        common = {name for name, n in _uses(train).items() if n >= UNCOMMON * len(train)}
        hits = [
            (hidden in rank([name for name in recipe if name != hidden]), hidden not in common, 1 / len(recipe))
            for recipe in (cookbook[i] for i in order[:n_test])
            for hidden in recipe
        ]
        hit, uncommon, weight = map(np.asarray, zip(*hits, strict=True))
        found.append((np.average(hit, weights=weight), np.average(hit[uncommon], weights=weight[uncommon])))
    return np.mean(found, axis=0)


def popular(train: list[list[str]]) -> Callable[[list[str]], list[str]]:
    """Rank by number of recipes."""
    uses = _uses(train)
    order = sorted(uses, key=lambda name: (-uses[name], name))
    return lambda context: [name for name in order if name not in context][:10]


def cosine(train: list[list[str]]) -> Callable[[list[str]], list[str]]:
    """Rank by the sum of cosines with the names of the context."""
    names = sorted(_uses(train))
    at = {name: i for i, name in enumerate(names)}
    use = np.zeros((len(train), len(names)))
    for row, recipe in enumerate(train):
        use[row, [at[name] for name in recipe]] = 1
    use /= np.sqrt(use.sum(axis=0))
    alike = use.T @ use

    def rank(context: list[str]) -> list[str]:
        known = [at[name] for name in context if name in at]
        score = alike[known].sum(axis=0)
        score[known] = -1
        return [names[i] for i in np.argsort(-score)[:10]]

    return rank


def _uses(cookbook: list[list[str]]) -> dict[str, int]:
    uses: dict[str, int] = {}
    for recipe in cookbook:
        for name in recipe:
            uses[name] = uses.get(name, 0) + 1
    return uses
