"""What many kitchens share, to be asked like a bench."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, cast

import numpy as np
import pandas as pd

from pairing.learned.doses import base_factor, needed_dose
from pairing.learned.prior import Prior
from pairing.learning.liking import Liking
from pairing.learning.response import Response
from pairing.learning.strength import Strength
from pairing.learning.synergy import Worths
from pairing.learning.tally import Tally
from pairing.learning.weights import rule_weights
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf
from pairing.pooling.notes import NoteFit
from pairing.pooling.release import prior_of
from pairing.pooling.survey import Behind, Survey

__all__ = ["Pool"]


@dataclass(frozen=True, eq=False)
class Pool:
    """What the logs of many kitchens taught; made by `pairing.learn_pooled`.

    Attributes
    ----------
    shelf : Shelf
        Bases and flavourings that the pool speaks of.
    strength, liking : Strength, Liking
        What all kitchens share.
    told : Survey
        What the pool holds, in counts.
    notes : mapping of off-note to NoteFit
        What all kitchens share of off-notes.
    behind : Behind or None
        Who stands behind each column of their design.
    damaged : tuple of (str, str)
        Files of kitchens that were left out, and why.
    """

    shelf: Shelf
    strength: Strength
    liking: Liking
    told: Survey
    notes: Mapping[str, NoteFit] = field(default_factory=dict)
    behind: Behind | None = None
    damaged: tuple[tuple[str, str], ...] = ()

    @property
    def kitchens(self) -> int:
        """How many kitchens it was learned from."""
        return int(self.told.found["kitchens"])

    @property
    def cups(self) -> int:
        """How many cups it was learned from."""
        return int(self.told.found["cups"])

    @cached_property
    def response(self) -> Response:
        """The learned liking as something to plan with."""
        return Response(self.shelf, self.liking, ())

    def predict(self, recipes: Iterable[Recipe]) -> pd.DataFrame:
        """Predict the true liking of recipes in the average kitchen; columns as of `Learned.predict`."""
        return self.response.predict(Recipes.of(self.shelf, recipes))

    def needed_dose(
        self,
        base_ids: Iterable[str] | str | None = None,
        flavouring_ids: Iterable[str] | str | None = None,
        alongside: Iterable[str] | str | None = None,
    ) -> pd.DataFrame:
        """Return the dose that reads 'just right' in the average kitchen; columns as of `Learned.needed_dose`."""
        return needed_dose(self, base_ids, flavouring_ids, alongside)

    def base_factor(self) -> pd.DataFrame:
        """Return how much more or less each base needs; columns as of `Learned.base_factor`."""
        return base_factor(self)

    def synergy(self, base_id: str | None = None, beside: str | None = None) -> pd.DataFrame:
        """Return what pairs are worth beyond their flavourings; columns as of `Learned.synergy`."""
        return self.worths.pairs(base_id, beside)

    @cached_property
    def worths(self) -> Worths:
        """What pairs, flavourings and flavourings in bases are worth in the average kitchen."""
        return Worths(self.shelf, self.liking, self.tally)

    @property
    def tally(self) -> Tally:
        """What was tried how often, in all kitchens."""
        return cast(Tally, self.told.found["tally"])

    def prior(self, min_kitchens: int = 5, licence: str = "") -> Prior:
        """Return what may leave the pool: effects that at least so many kitchens stand behind, none with over 40 %.

        Parameters
        ----------
        min_kitchens : int
        licence : str
            On what terms it may be used.

        Raises
        ------
        PoolError
            When the pool has fewer kitchens than that.
        """
        return prior_of(self, min_kitchens, licence)

    @property
    def rules(self) -> tuple[Any, ...]:
        """Scoring rules that it was learned with."""
        return self.liking.rules.rules

    def rule_weights(self) -> pd.DataFrame:
        """Return prior and learned weight of every rule; columns as of `Learned.rule_weights`."""
        heard = [rule for rule in self.rules if rule.acts_on in ("liking", "dose")]
        return rule_weights(heard, self.strength, self.liking)

    def __repr__(self) -> str:
        return f"<Pool of {self.kitchens} kitchens, {self.cups} cups, {np.round(self.liking.noise_sd, 2)} points noise>"
