"""A small exact stand-in for a learned model, so that planning can be tested without learning.

Liking is a Gaussian linear model with fixed block variances around 5.4; needed doses are the label's with a fixed sd.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pandas as pd

from pairing.learning.log import read_log
from pairing.model.shelf import Shelf

RESPONSE = SimpleNamespace(thresholds=(-1.5, -0.75, -0.22, 0.22, 0.7), scale=0.22, stepped_offset=0.0)
READING_COLUMNS = ["trial_id", "base_id", "flavouring_id", "dose_g_per_kg", "reading", "taster", "strength", "liking"]


@dataclass(frozen=True)
class Encoded:
    x: np.ndarray
    offset: np.ndarray


class FakeModel:
    """Anything the planner asks of a learned model, exact on a shelf of a few dozen items."""

    noise_sd = 0.9
    strength_params = RESPONSE

    def __init__(self, shelf: Shelf, readings: pd.DataFrame | None = None, log_dose=None, dose_sd: float = 0.3):
        self.shelf = shelf
        self.readings = pd.DataFrame(columns=READING_COLUMNS) if readings is None else readings
        self.log = read_log(shelf, self.readings)
        self._log_dose = log_dose or (
            lambda base_id, ids: [math.log(shelf.flavouring(f).label_dose_g_per_kg) for f in ids]
        )
        self.dose_sd = dose_sd
        b, f = len(shelf.bases), len(shelf.flavourings)
        self._pair = np.full((f, f), -1)
        for k, (i, j) in enumerate(itertools.combinations(range(f), 2)):
            self._pair[i, j] = self._pair[j, i] = k
        n_pairs = f * (f - 1) // 2
        sds = [(1, 2.0), (1, 0.4), (b, 0.5), (f, 0.55), (b * f, 0.6), (n_pairs, 0.8), (b * n_pairs, 0.25)]
        self._sizes = [n for n, _ in sds]
        self._start = np.concatenate([[0], np.cumsum(self._sizes)])
        self._prior = np.concatenate([np.full(n, sd**2) for n, sd in sds])
        self._mean = np.zeros(self._start[-1])
        self._mean[0], self._mean[1] = 5.4, -0.5
        self._fit()

    def _fit(self) -> None:
        from pairing.plan.history import tried_combinations

        told = [(k, c) for k, c in tried_combinations(self.log, self.shelf).combinations.items() if c.liked]
        self._gain, self._seen = np.zeros((0, 0)), np.zeros((0, len(self._mean)))
        if not told:
            return
        bases, ids = [k[0] for k, _ in told], [k[1] for k, _ in told]
        x = self.encode(bases, ids, [tuple(c.doses[f] for f in k[1]) for k, c in told])
        noise = np.array([self.noise_sd**2 / c.liked for _, c in told])
        gram = (x.x * self._prior) @ x.x.T + np.diag(noise)
        self._seen, self._gain = x.x, np.linalg.inv(gram)
        y = np.array([c.liking for _, c in told]) - x.offset
        self._mean = self._mean + self._prior * (x.x.T @ self._gain @ (y - x.x @ self._mean))

    @property
    def columns(self) -> int:
        return len(self._prior)

    def encode(self, base_ids, flavouring_ids, doses, tasters=None) -> Encoded:
        bases, flavs = list(self.shelf.bases), list(self.shelf.flavourings)
        bi, fi = {b: i for i, b in enumerate(bases)}, {f: i for i, f in enumerate(flavs)}
        x, offset = np.zeros((len(base_ids), self._start[-1])), np.zeros(len(base_ids))
        s, n_pairs = self._start, self._sizes[5]
        for r, (base_id, ids, dose) in enumerate(zip(base_ids, flavouring_ids, doses, strict=True)):
            b, fs = bi[base_id], [fi[f] for f in ids]
            x[r, 0], x[r, 1], x[r, s[2] + b] = 1, max(0, len(ids) - 1), 1
            for f in fs:
                x[r, s[3] + f] = x[r, s[4] + b * len(flavs) + f] = 1
            for i, j in itertools.combinations(fs, 2):
                x[r, s[5] + self._pair[i, j]] = x[r, s[6] + b * n_pairs + self._pair[i, j]] = 1
            if dose is not None:
                need = self._log_dose(base_id, ids)
                offset[r] = -sum(
                    2.0 * ((math.log(d) - m) ** 2 + self.dose_sd**2) for d, m in zip(dose, need, strict=True)
                )
        return Encoded(x, offset)

    def joint_cov(self, a: Encoded, b: Encoded) -> np.ndarray:
        cov = (a.x * self._prior) @ b.x.T
        if len(self._seen):
            left = (a.x * self._prior) @ self._seen.T
            right = (b.x * self._prior) @ self._seen.T
            cov = cov - left @ self._gain @ right.T
        return cov

    def predict_encoded(self, enc: Encoded) -> tuple[np.ndarray, np.ndarray]:
        var = (enc.x**2) @ self._prior
        if len(self._seen):
            left = (enc.x * self._prior) @ self._seen.T
            var = var - np.einsum("ij,jk,ik->i", left, self._gain, left)
        return enc.x @ self._mean + enc.offset, np.sqrt(np.maximum(var, 0))

    def dose_posterior(self, base_ids, flavouring_ids):
        means = [m for b, ids in zip(base_ids, flavouring_ids, strict=True) for m in self._log_dose(b, ids)]
        return np.array(means, dtype=float), np.full(len(means), self.dose_sd)
