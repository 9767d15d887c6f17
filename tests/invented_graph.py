"""A learned model whose synergies are given: for tests of the graph that need no learning."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
from scipy.special import ndtr

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf

BASES = ("oat", "whey")


class Invented:
    """Synergies by pair (others 0 ± 0.5), how often each pair was tried, and each flavouring alone."""

    def __init__(self, ids, synergy=(), tried=(), alone=(), in_base=(), sd=0.5, food_use=None, versions=()):
        food_use, versions = food_use or {}, dict(versions)
        self.ids = sorted(ids)
        self.shelf = Shelf.of(
            [Base(base_id=b, name=b.title()) for b in BASES],
            [
                Flavouring(
                    flavouring_id=i,
                    name=i.title(),
                    family=i[0],
                    label_dose_g_per_kg=1.0,
                    food_use=food_use.get(i, "yes"),
                    version_of=versions.get(i),
                )
                for i in self.ids
            ],
        )
        self._synergy = {frozenset(pair): value for pair, value in dict(synergy).items()}
        self._tried = {frozenset(pair): n for pair, n in dict(tried).items()}
        self._in_base = {(b, frozenset(pair)): value for (b, pair), value in dict(in_base).items()}
        self._alone = dict(alone)
        self._sd = sd

    def synergy(self, base_id=None, beside=None):
        rows = []
        for pair in itertools.combinations(self.ids, 2):
            key = frozenset(pair)
            n = self._tried.get(key, 0)
            mean = self._mean(base_id, key) - (0 if beside is None else self._mean(beside, key))
            sd = self._sd / np.sqrt(1 + n)
            rows.append((*pair, mean, sd, n, n, n > 0, ("oat",) if n else ()))
        columns = ["flavouring_a", "flavouring_b", "synergy", "sd", "trials", "liked", "tested", "bases"]
        table = pd.DataFrame(rows, columns=columns)
        return table.assign(p_positive=ndtr((table["synergy"] / table["sd"]).astype(float)))

    def _mean(self, base_id, key):
        return self._in_base.get((base_id, key), self._synergy.get(key, 0.0))

    def singles(self, base_id=None):
        trials = {i: self._alone.get(i, 0) + sum(n for pair, n in self._tried.items() if i in pair) for i in self.ids}
        points = np.linspace(1, -1, len(self.ids))
        counts = [trials[i] for i in self.ids]
        return pd.DataFrame({"flavouring_id": self.ids, "points": points, "sd": 0.3, "trials": counts, "liked": counts})

    def affinity(self):
        rows = [(b, i, 0.1 * k, 0.3, float(ndtr(k / 3)), k) for b in BASES for k, i in enumerate(self.ids)]
        return pd.DataFrame(rows, columns=["base_id", "flavouring_id", "affinity", "sd", "p_positive", "trials"])


def random_model(n, seed=0, sure=0.1, tried=0.3):
    """A model of n flavourings in which a share of the pairs is good or bad for sure."""
    rng = np.random.default_rng(seed)
    ids = [f"f{i:03d}" for i in range(n)]
    pairs = list(itertools.combinations(ids, 2))
    strong = rng.random(len(pairs)) < sure
    values = np.where(strong, rng.normal(0, 1.5, len(pairs)), rng.normal(0, 0.1, len(pairs)))
    counts = np.where(rng.random(len(pairs)) < tried, rng.integers(1, 9, len(pairs)), 0)
    named = dict(zip(pairs, counts.tolist(), strict=True))
    return Invented(ids, zip(pairs, values.tolist(), strict=True), named, dict.fromkeys(ids, 2))
