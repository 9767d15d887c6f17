"""Learned: the immutable model that a person asks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from pairing.errors import UnknownIdError, nearest
from pairing.learned.doses import base_factor, needed_dose
from pairing.learned.lots import lot_strength
from pairing.learned.over_time import over_time
from pairing.learned.prior import Prior, share_of
from pairing.learned.roundup import compare
from pairing.learned.serving import ServingShare, serving_share
from pairing.learned.side_by_side import dose_ratios, side_by_side
from pairing.learning.log import Log
from pairing.learning.off_notes import OffNotes, fit_off_notes
from pairing.learning.response import Response
from pairing.learning.rules import NO_RULES, RuleColumns
from pairing.learning.strength import Strength, StrengthParams
from pairing.learning.synergy import Worths
from pairing.learning.tally import Tally
from pairing.learning.weights import rule_curves, rule_weights
from pairing.model.arrays import Floats
from pairing.model.brief import Brief
from pairing.model.recipe import Recipe
from pairing.model.recipes import Recipes
from pairing.plan.front import front
from pairing.plan.ladder import next_addition
from pairing.plan.suggest import suggest
from pairing.safety.cautions import cautions

if TYPE_CHECKING:
    import networkx

    from pairing.api import RuleLike
    from pairing.host.fault import Fault
    from pairing.learning.liking import Liking
    from pairing.model.answers import Advice, Suggestion
    from pairing.model.caution import Caution
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf
    from pairing.model.taster import Taster

__all__ = ["Learned"]


@dataclass(frozen=True, eq=False)
class Learned:
    """What the log taught: needed doses, liking, and all that follows. Asking never changes anything.

    Made by `pairing.learn` or `Bench.learn`.

    Attributes
    ----------
    shelf : Shelf
        Bases, flavourings and tasters.
    log : Log
        The readings as arrays.
    strength, liking : Strength, Liking
        The two learned parts.
    likenesses : mapping of target_id to Liking
        Learned likeness to each target that cups were held against.
    rule_columns : RuleColumns
        Scoring rules in force, their features as columns, and what was wrong with them.
    revision : int or None
        Revision of the bench's log that it was learned from.
    afresh_n : int
        Readings that it was last learned from without an earlier model to start from.
    prior : Prior or None
        What other kitchens know, where that was adopted.
    public_ids : mapping of str to str
        By which ids they know what is on the shelf, where those differ.
    """

    shelf: Shelf
    log: Log
    strength: Strength
    liking: Liking
    likenesses: Mapping[str, Liking]
    rule_columns: RuleColumns = NO_RULES
    revision: int | None = None
    afresh_n: int = 0
    prior: Prior | None = None
    public_ids: Mapping[str, str] = field(default_factory=dict)

    # --- what is liked ---------------------------------------------------------------------------------------------

    @property
    def tasters(self) -> tuple[str, ...]:
        """Who has judged a cup."""
        return self.log.tasters

    @cached_property
    def tally(self) -> Tally:
        """What was tried how often, in counts."""
        return Tally.of(self.log, len(self.shelf.flavourings))

    @cached_property
    def response(self) -> Response:
        """The learned liking as something to plan with: encode, predict, joint covariance, draws."""
        return Response(self.shelf, self.liking, self.log.tasters)

    def likeness_to(self, target_id: str) -> Response:
        """Return the learned likeness to a target, to plan with.

        Raises
        ------
        UnknownIdError
            When no cup was held against that target.
        """
        if target_id not in self.likenesses:
            raise UnknownIdError(f"no cup was compared with target {target_id!r}", nearest(target_id, self.likenesses))
        return Response(self.shelf, self.likenesses[target_id], self.log.tasters, low=0.0, high=10.0)

    def predict(self, recipes: Iterable[Recipe], tasters: Sequence[str] | str | None = None) -> pd.DataFrame:
        """Predict the true liking of recipes.

        Parameters
        ----------
        recipes : Recipe, or several
            A dose of None is the one that the model expects to be best.
        tasters : None, a taster or one taster per recipe
            None: the equal-weight mean of the logged tasters; ``"new"`` or an unknown id: a new person.

        Returns
        -------
        DataFrame
            One row per recipe, in order: ``liking, liking_sd, liking_low, liking_high`` (80 %), points on [1, 9].

        Raises
        ------
        UnknownIdError, TableError
            When the shelf lacks a base or flavouring, and when something is no recipe or no taster.
        """
        return self.response.predict(Recipes.of(self.shelf, recipes), tasters)

    def explain(self, recipe: Recipe, tasters: str | None = None) -> pd.DataFrame:
        """Take a prediction apart.

        Returns
        -------
        DataFrame
            ``part, kind, points, sd, base_id, flavouring_ids``; the points sum to the predicted liking. Kind ``bounds``
            is what the ends of the scale take away.
        """
        return self.response.explain(Recipes.of(self.shelf, [recipe]), tasters)

    @property
    def pool_share(self) -> tuple[float, float] | None:
        """By how much what other kitchens expect counts here, 1 in full: mean and sd; None without a prior."""
        return share_of(self.liking)

    def leans_on(self, recipe: Recipe, tasters: str | None = None, n: int = 5) -> pd.DataFrame:
        """Return the scores that a prediction leans on most.

        Returns
        -------
        DataFrame
            ``trial_id, taster, base_id, flavourings, liking, weight``: points that the prediction moves per point that
            this score moves, largest first.
        """
        return self.response.leans_on(self.log, Recipes.of(self.shelf, [recipe]), tasters, n)

    @cached_property
    def notes(self) -> OffNotes:
        """What the log, and other kitchens, taught about off-notes."""
        known = {} if self.prior is None else self.prior.off_notes_on(self.shelf, self.public_ids)
        return fit_off_notes(self.shelf, self.log, known, self.rule_columns)

    def off_notes(self, recipes: Iterable[Recipe] | None = None) -> pd.DataFrame:
        """Return how often each off-note is to be expected; without recipes, in every base by itself.

        Returns
        -------
        DataFrame
            ``recipe`` (position), ``base_id, flavourings, note, probability, low, high`` (80 %) and ``strength``, 1 to
            3, where it is found. An open dose is the usual one.
        """
        asked = [Recipe(base_id) for base_id in self.shelf.bases] if recipes is None else recipes
        return self.notes.table(Recipes.of(self.shelf, asked))

    # --- how much --------------------------------------------------------------------------------------------------

    @property
    def strength_params(self) -> StrengthParams:
        """How strength words come about, as learned."""
        return self.strength.params

    def dose_posterior(
        self,
        base_ids: Sequence[str],
        flavouring_ids: Sequence[Sequence[str]],
        tasters: Iterable[str] | str | None = None,
    ) -> tuple[Floats, Floats]:
        """Natural log needed dose (g/kg) of every flavouring in every recipe: mean and sd, shape (n, k), NaN padded.

        ``tasters`` need their own; several need a dose between, and None is the mean of all.
        """
        recipes = Recipes.from_ids(self.shelf, base_ids, flavouring_ids)
        return self.strength.needed(recipes, self.response.among(len(recipes), tasters))

    def needed_dose(
        self,
        base_ids: Iterable[str] | str | None = None,
        flavouring_ids: Iterable[str] | str | None = None,
        alongside: Iterable[str] | str | None = None,
        tasters: Iterable[str] | str | None = None,
    ) -> pd.DataFrame:
        """Return the dose that reads 'just right' in fresh cups, for the average taster unless some are named.

        Parameters
        ----------
        base_ids, flavouring_ids : iterable of str, or one id, optional
            None: all on the shelf.
        alongside : iterable of str, or one id, optional
            Flavourings that are in the cup too.
        tasters : iterable of str, or one id, optional
            Whose dose; several need one between.

        Returns
        -------
        DataFrame
            ``base_id, flavouring_id, dose_g_per_kg, low, high`` (80 %), ``log_sd, label_ratio, readings, reachable``.
            Where ``reachable`` is False no dose in the tried or permitted range is expected to be right.
        """
        return needed_dose(self, base_ids, flavouring_ids, alongside, tasters)

    def base_factor(self) -> pd.DataFrame:
        """Return needed dose in each base ÷ in an average base: ``base_id, factor, low, high`` (80 %)."""
        return base_factor(self)

    # --- what goes with what ---------------------------------------------------------------------------------------

    def synergy(self, base_id: str | None = None, beside: str | None = None) -> pd.DataFrame:
        """Return every pair's liking beyond its two flavourings and the base; with ``beside``, minus that in that base.

        Returns
        -------
        DataFrame
            ``flavouring_a, flavouring_b, synergy, sd`` (points), ``p_positive, trials, liked`` (trials with a liking),
            ``tested, bases``.
        """
        return self._worths.pairs(base_id, beside)

    def singles(self, base_id: str | None = None) -> pd.DataFrame:
        """Return every flavouring's points beyond the base: ``flavouring_id, points, sd, trials, liked``."""
        return self._worths.singles(base_id)

    def affinity(self) -> pd.DataFrame:
        """Return what each base does to each flavouring's liking.

        Returns
        -------
        DataFrame
            ``base_id, flavouring_id, affinity, sd`` (points), ``p_positive, trials``.
        """
        return self._worths.affinity()

    @cached_property
    def _worths(self) -> Worths:
        return Worths(self.shelf, self.liking, self.tally)

    def graph(self, base_id: str | None = None, bases: bool = False) -> networkx.Graph[str]:
        """Return the pairing graph; see `pairing.graph.build.graph`."""
        from pairing.graph.build import graph

        return graph(self, base_id, bases)

    def compare(
        self, flavouring_ids: Iterable[str] | None = None, base_ids: Iterable[str] | None = None
    ) -> pd.DataFrame:
        """Round up flavourings across bases: the dose that worked, its cost, how it was liked, how sure that is."""
        return compare(self, flavouring_ids, base_ids)

    def compare_recipes(self, recipes: Iterable[Recipe | str], tasters: str | None = None) -> pd.DataFrame:
        """Hold recipes against each other: liking, energy, cost, and how sure it is which is better.

        See `pairing.learned.side_by_side.side_by_side`.
        """
        return side_by_side(self, recipes, tasters)

    def dose_ratios(self, base_ids: Sequence[str], flavouring_ids: Sequence[str] | None = None) -> pd.DataFrame:
        """Return what bases need beside the first of them; see `pairing.learned.side_by_side.dose_ratios`."""
        return dose_ratios(self, base_ids, flavouring_ids)

    def over_time(self) -> pd.DataFrame:
        """Return what time does to a drink, where the log can tell: what fades or blooms, what thickens.

        Returns
        -------
        DataFrame
            A row per flavouring, then per base: ``kind, item_id``; ``left`` with ``low, high`` (80 %), the share of its
            strength that is left after a day (of a base: after a day beside after an hour); ``p_less``, the chance that
            it loses any; ``later``, strengths judged an hour or more after mixing; ``half_life_days`` (NaN where it
            does not fade); ``holds_days``, how long it stays within e^±0.2 by the worse end of the interval, at most 3,
            NaN where nobody tasted it later; ``found``, whether it can be told: 5 % of what is found may be false.
        """
        return over_time(self)

    def lot_strength(self) -> pd.DataFrame:
        """Return how strong every lot reads beside the one before of the same flavouring, in the order of the log.

        Returns
        -------
        DataFrame
            ``flavouring_id, lot``; ``before``, the lot before, None for cups that named none; ``times`` as strong as
            that, with ``low, high`` (80 %); ``p_stronger``; ``readings, readings_before``, the strengths judged of
            each; ``found``, whether it can be told: 5 % of what is found may be false.
        """
        return lot_strength(self)

    @property
    def serving_share(self) -> ServingShare:
        """Needed dose in a full glass ÷ in a sip; see `pairing.learned.serving.serving_share`."""
        return serving_share(self)

    # --- what next -------------------------------------------------------------------------------------------------

    def suggest(self, brief: Brief | None = None, n: int = 5, random_state: Any = 0) -> list[Suggestion]:
        """Suggest recipes worth trying next, best first; see `pairing.plan.suggest`."""
        return suggest(self, Brief() if brief is None else brief, n, random_state)

    def front(self, brief: Brief | None = None, by: str = "added_kcal") -> pd.DataFrame:
        """Return the best liking at each added energy or cost; see `pairing.plan.front`."""
        return front(self, Brief() if brief is None else brief, by)

    def next_addition(self, cup: Cup, flavouring_id: str, **options: Any) -> Advice:
        """Advise on the next addition to a cup; see `pairing.plan.ladder.next_addition`."""
        return next_addition(self, cup, flavouring_id, **options)

    # --- rules of plugins ------------------------------------------------------------------------------------------

    @property
    def rules(self) -> tuple[RuleLike, ...]:
        """Scoring rules in force."""
        return self.rule_columns.rules

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What was wrong with rules, or unknown to them, so far."""
        return tuple(self.rule_columns.faults.values())

    def cautions(
        self,
        recipe: Recipe,
        tasters: Sequence[str | Taster] = (),
        *,
        serving_g: float | None = None,
        jurisdiction: str | None = None,
        already: Mapping[str, Any] | None = None,
    ) -> tuple[Caution, ...]:
        """Return every caution about a recipe, those of the plugins' rules too; see `pairing.cautions`."""
        return cautions(
            recipe,
            self.shelf,
            tasters,
            serving_g=serving_g,
            jurisdiction=jurisdiction,
            rules=self.rules,
            already=already,
            on_fault=self.rule_columns.note,
        )

    def rule_weights(self, acts_on: Sequence[str] = ("liking", "dose", "off-note")) -> pd.DataFrame:
        """Return prior and learned weight of every rule, or of those that act on some things.

        Returns
        -------
        DataFrame
            ``rule, acts_on, summary, prior_mean, prior_sd, learned_mean, learned_sd``, in points, log dose or log odds.
        """
        rules = [rule for rule in self.rules if rule.acts_on in acts_on]
        return rule_weights(rules, self.strength, self.liking, lambda: self.notes)

    def rule_curves(self) -> pd.DataFrame:
        """Return prior and learned weight of every part of the rules that have several, such as points of a curve.

        Returns
        -------
        DataFrame
            ``rule, acts_on, along, part, at`` (NaN for a part with a name), ``prior_mean, prior_sd, learned_mean,
            learned_sd, low, high`` (80 %), in points or log dose.
        """
        return rule_curves(self.rules, self.strength, self.liking)
