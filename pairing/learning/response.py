"""One learned response (liking, or likeness to a target) as something to plan with."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy.special import ndtr

from pairing.errors import TableError
from pairing.learning import columns as col
from pairing.learning.columns import Encoded
from pairing.learning.design import Who
from pairing.learning.explain import parts, parts_table
from pairing.learning.log import Log
from pairing.model.arrays import Floats
from pairing.model.chance import generator
from pairing.model.constants import LIKING_ENDS, Z80
from pairing.model.fields import clean_id, is_missing
from pairing.model.recipes import Recipes

if TYPE_CHECKING:
    from pairing.learning.liking import Liking
    from pairing.model.reason import Reason
    from pairing.model.shelf import Shelf

__all__ = ["Response"]

AT_A_TIME = 50_000
"""Scores of a log that are held against a recipe at once, so that little room is taken (our choice)."""


@dataclass(frozen=True, eq=False)
class Response:
    """Predictions of one response, on a scale from ``low`` to ``high``."""

    shelf: Shelf
    learned: Liking
    tasters: tuple[str, ...]
    low: float = LIKING_ENDS[0]
    high: float = LIKING_ENDS[1]

    @cached_property
    def _places(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(self.tasters)}

    def who(self, n: int, tasters: Sequence[str] | str | None) -> Who:
        """Tell whose response is asked: None is the mean of all; an unknown id is a new person."""
        count = len(self.tasters)
        if tasters is None:
            return Who.everyone(n, count)
        names = [tasters] * n if isinstance(tasters, str) or not isinstance(tasters, Iterable) else list(tasters)
        if len(names) != n:
            raise TableError(f"{len(names)} tasters for {n} recipes", "give one taster, or one per recipe")
        if any(is_missing(name) for name in names):
            raise TableError("a recipe's taster is empty", "name one per recipe ('new': a guest), or give None for all")
        place = {name: self._places.get(clean_id(name, "taster"), count) for name in set(names)}
        return Who(np.array([place[name] for name in names], np.int64), count)

    def among(self, n: int, tasters: Iterable[str] | str | None) -> Who:
        """Ask for the mean of some tasters, for n rows: None is all of them, one is that one."""
        if tasters is None:
            return self.who(n, None)
        places = self.who(len(names := [tasters] if isinstance(tasters, str) else list(tasters)), names).taster
        if len(names) == 1:
            return Who(np.repeat(places, n), len(self.tasters))
        return replace(Who.everyone(n, len(self.tasters)), among=tuple(places.tolist()) or None)

    def encode(
        self,
        base_ids: Sequence[str],
        flavouring_ids: Sequence[Sequence[str]],
        doses: Sequence[Any] | None = None,
        tasters: Sequence[str] | str | None = None,
    ) -> Encoded:
        """Encode recipes given by ids."""
        return self.encode_recipes(Recipes.from_ids(self.shelf, base_ids, flavouring_ids, doses), tasters)

    def encode_recipes(self, recipes: Recipes, tasters: Sequence[str] | str | None = None) -> Encoded:
        """Encode recipes given as arrays."""
        return self.learned.encode(recipes, self.who(len(recipes), tasters))

    def predict_encoded(self, encoded: Encoded) -> tuple[Floats, Floats]:
        """Mean and sd of the true response, before the ends of the scale."""
        return self.learned.mean(encoded), self.learned.sd(encoded)

    def on_scale(self, encoded: Encoded) -> tuple[Floats, Floats, Floats, Floats]:
        """Return the expected true response within its scale, sd, and 80 % limits."""
        mean, sd = self.predict_encoded(encoded)
        low, high = (np.clip(mean + z * sd, self.low, self.high) for z in (-Z80, Z80))
        return np.clip(_expected_within(mean, sd, self.low, self.high), low, high), sd, low, high

    def predict(self, recipes: Recipes, tasters: Sequence[str] | str | None = None) -> pd.DataFrame:
        """Tabulate the expected true response of recipes; see `Learned.predict`."""
        value, sd, low, high = self.on_scale(self.encode_recipes(recipes, tasters))
        return pd.DataFrame({"liking": value, "liking_sd": sd, "liking_low": low, "liking_high": high})

    def joint_cov(self, encoded: Encoded, other: Encoded) -> Floats:
        """Covariance of two sets of recipes, shape (n, m)."""
        return col.covariance(self.learned.posterior, encoded, other)

    def samples(self, encoded: Encoded, n: int, random_state: Any = None) -> Floats:
        """Joint draws of the true response, shape (n, recipes)."""
        return col.sample(self.learned.posterior, encoded, n, generator(random_state))

    @property
    def noise_sd(self) -> float:
        """Spread of one score around the true response."""
        return self.learned.noise_sd

    def parts(self, recipe: Recipes, tasters: str | None = None) -> list[Reason]:
        """Take the prediction of one recipe apart."""
        return parts(self.learned, self.shelf, recipe, self.who(1, tasters), self.on_scale)

    def explain(self, recipe: Recipes, tasters: str | None = None) -> pd.DataFrame:
        """Take the prediction of one recipe apart; see `Learned.explain`."""
        return parts_table(self.parts(recipe, tasters))

    def leans_on(self, log: Log, recipe: Recipes, tasters: str | None, n: int) -> pd.DataFrame:
        """Scores that a prediction leans on most; see `Learned.leans_on`."""
        rows = np.flatnonzero(~np.isnan(log.liking))
        asked = self.encode_recipes(recipe, tasters)
        weight = np.zeros(len(log))
        for start in range(0, len(rows), AT_A_TIME):
            some = rows[start : start + AT_A_TIME]
            given = self.learned.encode(log.recipes.take(some), Who(log.taster[some], len(self.tasters)))
            precision = self.learned.scatter.precision(log.taster[some], log.stepped[some]) / self.learned.noise_sd**2
            weight[some] = self.joint_cov(asked, given)[0] * precision
        best = rows[np.argsort(-np.abs(weight[rows]), kind="stable")[:n]]
        bases, flavourings = list(self.shelf.bases), list(self.shelf.flavourings)
        return pd.DataFrame(
            [
                {
                    "trial_id": log.trials[log.cup[i]],
                    "taster": log.tasters[log.taster[i]],
                    "base_id": bases[log.recipes.base[i]],
                    "flavourings": ", ".join(flavourings[f] for f in log.recipes.flavouring[i] if f >= 0),
                    "liking": log.liking[i],
                    "weight": weight[i],
                }
                for i in best
            ],
            columns=["trial_id", "taster", "base_id", "flavourings", "liking", "weight"],
        )


def _expected_within(mean: Floats, sd: Floats, low: float, high: float) -> Floats:
    """Mean of a normal variable whose values beyond the ends count as the ends."""
    spread = np.maximum(sd, 1e-9)
    a, b = (low - mean) / spread, (high - mean) / spread
    density = (np.exp(-0.5 * a * a) - np.exp(-0.5 * b * b)) / np.sqrt(2 * np.pi)
    inside = ndtr(b) - ndtr(a)
    return np.asarray(low * ndtr(a) + high * ndtr(-b) + mean * inside + spread * density)
