"""What a brief wants of a cup, as the learned model sees it: liking, or likeness to a target, for those who drink."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.plan.worth import Joint

if TYPE_CHECKING:
    from pairing.model.brief import Brief
    from pairing.plan.pool import Pool

__all__ = ["Objective"]

_CURVATURE = 2.0
"""Points lost per squared log unit off the needed dose, prior mean of the learned penalty; for the spread it causes."""


@dataclass(frozen=True)
class Objective:
    """Predictions of one response for one set of tasters.

    Attributes
    ----------
    model : Learned
        Anything with ``encode``, ``predict_encoded``, ``joint_cov`` and ``noise_sd``.
    tasters : tuple of str, or None
        Whose mean is wanted; None is the average of all who logged.
    """

    model: Any
    tasters: tuple[str, ...] | None = None

    @classmethod
    def of(cls, model: Any, brief: Brief) -> Objective:
        """Return what a brief wants."""
        if brief.goal == "likeness":
            return cls(model.likeness_to(brief.target_id), brief.tasters)
        return cls(model, brief.tasters)

    def predict(self, pool: Pool) -> tuple[np.ndarray, np.ndarray]:
        """Return mean and sd of the true response at the candidates' doses."""
        encoded = self._encode(pool)
        if len(encoded) == 1:
            mean, sd = self.model.predict_encoded(encoded[0])
            return np.asarray(mean), np.asarray(sd)
        each = [self.model.predict_encoded(e) for e in encoded]
        mean = np.mean([m for m, _ in each], axis=0)
        return mean, np.mean([s for _, s in each], axis=0)

    def joint(self, pool: Pool, mean: np.ndarray) -> Joint:
        """Return the joint belief about the candidates, with what one score tells of each."""
        encoded = self._encode(pool)
        cov = np.mean([np.asarray(self.model.joint_cov(a, b)) for a in encoded for b in encoded], axis=0)
        missed = np.nan_to_num(np.asarray(pool.log_sd)) ** 4
        noise = float(self.model.noise_sd) ** 2 + 2.0 * _CURVATURE**2 * missed.sum(axis=1)
        return Joint(np.asarray(mean), 0.5 * (cov + cov.T), noise)

    def _encode(self, pool: Pool) -> list[Any]:
        if self.tasters is None:
            return [self.model.encode(pool.base_ids, pool.flavouring_ids, pool.doses)]
        return [
            self.model.encode(pool.base_ids, pool.flavouring_ids, pool.doses, [taster] * len(pool))
            for taster in self.tasters
        ]
