"""What planning asks of a learned model; `pairing.learned.Learned` answers all of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Protocol

from pairing.api import RuleLike
from pairing.learning.log import Log
from pairing.learning.off_notes import OffNotes
from pairing.learning.response import Response
from pairing.learning.rules import RuleColumns
from pairing.learning.strength import Strength, StrengthParams
from pairing.learning.tally import Tally
from pairing.model.arrays import Floats
from pairing.model.caution import Caution
from pairing.model.recipe import Recipe
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster

__all__ = ["Answers", "DoseAnswers", "TableAnswers"]


class DoseAnswers(Protocol):
    """What a ladder asks: how much is needed, and how strength words come about."""

    @property
    def shelf(self) -> Shelf:
        """Bases, flavourings and tasters."""

    @property
    def tasters(self) -> tuple[str, ...]:
        """Whom the log knows."""

    @property
    def rules(self) -> tuple[RuleLike, ...]:
        """Scoring rules in force."""

    @property
    def strength_params(self) -> StrengthParams:
        """How strength words come about."""

    def dose_posterior(
        self,
        base_ids: Sequence[str],
        flavouring_ids: Sequence[Sequence[str]],
        tasters: Iterable[str] | str | None = None,
    ) -> tuple[Floats, Floats]:
        """Natural log needed dose (g/kg) of every flavouring in every recipe: mean and sd, shape (n, k)."""


class TableAnswers(Protocol):
    """What tables of needed doses ask."""

    @property
    def shelf(self) -> Shelf:
        """Bases, flavourings and tasters."""

    @property
    def tally(self) -> Tally:
        """What was tried how often."""

    @property
    def strength(self) -> Strength:
        """The learned needed doses."""

    @property
    def response(self) -> Response:
        """The learned liking."""


class Answers(DoseAnswers, TableAnswers, Protocol):
    """What choosing the next cups asks."""

    @property
    def log(self) -> Log:
        """The readings as arrays."""

    @property
    def rule_columns(self) -> RuleColumns:
        """The rules' features as columns, and what was wrong with them."""

    @property
    def notes(self) -> OffNotes:
        """What was learned about off-notes."""

    def likeness_to(self, target_id: str) -> Response:
        """Return the learned likeness to a target."""

    def cautions(
        self,
        recipe: Recipe,
        tasters: Sequence[str | Taster] = (),
        *,
        serving_g: float | None = None,
        already: Mapping[str, Any] | None = None,
    ) -> tuple[Caution, ...]:
        """Return every caution about a recipe."""
