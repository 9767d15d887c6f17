"""What a brief wants of a cup, as the learned model sees it: liking, or likeness to a target, for those who drink."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse

from pairing.model.recipes import Recipes
from pairing.plan.worth import Joint

if TYPE_CHECKING:
    from pairing.learning.answers import Answers
    from pairing.learning.columns import Encoded
    from pairing.learning.response import Response
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
    response : Response
        Learned liking, or likeness to a target.
    tasters : tuple of str, or None
        Whose mean is wanted; None is the average of all who logged.
    temperature_c : float or None
        At which the cups are drunk, where the brief says so.
    """

    response: Response
    tasters: tuple[str, ...] | None = None
    temperature_c: float | None = None

    @classmethod
    def of(cls, model: Answers, brief: Brief) -> Objective:
        """Return what a brief wants."""
        target_id = brief.target_id if brief.goal == "likeness" else None
        response = model.response if target_id is None else model.likeness_to(target_id)
        return cls(response, brief.tasters, brief.temperature_c)

    def predict(self, pool: Pool) -> tuple[np.ndarray, np.ndarray]:
        """Return mean and sd of the true response at the candidates' doses, before the ends of the scale."""
        return self.response.predict_encoded(self._encode(pool))

    def on_scale(self, pool: Pool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return the expected response on its scale, with 80 % limits."""
        value, _, low, high = self.response.on_scale(self._encode(pool))
        return value, low, high

    def joint(self, pool: Pool, mean: np.ndarray) -> Joint:
        """Return the joint belief about the candidates, with what one score tells of each."""
        encoded = self._encode(pool)
        cov = self.response.joint_cov(encoded, encoded)
        missed = np.nan_to_num(pool.log_sd) ** 4
        noise = float(self.response.noise_sd) ** 2 + 2.0 * _CURVATURE**2 * missed.sum(axis=1)
        return Joint(np.asarray(mean), 0.5 * (cov + cov.T), noise)

    def _encode(self, pool: Pool) -> Encoded:
        recipes = pool.recipes.at_temperature(self.temperature_c)
        if self.tasters is None:
            return self.response.encode_recipes(recipes)
        n, people = len(pool), self.tasters
        if len(people) == 1:
            return self.response.encode_recipes(recipes, people[0])
        each = Recipes.stack([recipes] * len(people))
        encoded = self.response.encode_recipes(each, [t for t in people for _ in range(n)])
        return encoded.combine(sparse.kron(np.full((1, len(people)), 1.0 / len(people)), sparse.eye(n)))
