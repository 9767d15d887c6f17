"""From a folder of logs to what all kitchens share."""

from __future__ import annotations

import hashlib
import pickle
import tempfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from pairing.api import RuleLike
from pairing.errors import PoolError
from pairing.learning.design import Traits
from pairing.learning.exact import MAX_DENSE_COLUMNS
from pairing.learning.iterative import Regressed
from pairing.learning.liking import Liking
from pairing.learning.memory import give_back
from pairing.learning.ordinal import Ordinal
from pairing.learning.posterior import Posterior, draws_for
from pairing.learning.rules import RuleColumns
from pairing.learning.scatter import Scatter
from pairing.learning.scored import Adjusted
from pairing.learning.stages import MANY_CELLS, with_positive
from pairing.learning.strength import Strength
from pairing.model.arrays import Floats
from pairing.model.shelf import Shelf
from pairing.pooling.doses import DoseFit, Judged, fit_doses
from pairing.pooling.folder import open_pool, read_part, refusal
from pairing.pooling.liking import LikingFit
from pairing.pooling.notes import Noted, NoteFit, fit_notes
from pairing.pooling.pool import Pool
from pairing.pooling.scored import TASTE, DosesKnown, KitchenScores
from pairing.pooling.stored_parts import StoredParts, read_whole, write_whole
from pairing.pooling.survey import Behind, Planned, Survey, survey

__all__ = ["STAGES", "Progress", "learn_pooled"]

STAGES = ("readings", "needed doses", "liking", "low-rank parts", "tasters", "uncertainty", "off-notes")
TABLES = {"affinity": "base", "pair": "flavouring"}
"""Tables of shared cells with a low-rank part, and what their rows are; their columns are flavourings."""


@dataclass(frozen=True)
class Progress:
    """A stage of the learning that is done.

    Attributes
    ----------
    stage : str
    done, of : int
        How many stages are done, and how many there are.
    """

    stage: str
    done: int
    of: int


def learn_pooled(
    folder: str | Path,
    *,
    rules: Sequence[RuleLike] = (),
    map: Callable[..., Iterable[Any]] = map,
    tasks: int | None = None,
    on_damaged: str = "refuse",
    progress: Callable[[Progress], None] | None = None,
    resume: str | Path | None = None,
    random_state: int | None = None,
) -> Pool:
    """Learn from the logs of many kitchens.

    Parameters
    ----------
    folder : path
        ``bases.parquet``, ``flavourings.parquet`` and ``kitchen=NAME/**/*.parquet`` with columns as in `readings`;
        a kitchen's ``comparisons.parquet``, where it has one, with ``question, left, right, answer``.
    rules : sequence of Rule
        Scoring rules, as priors; those on off-notes have no say in a pool. Workers have to know their modules.
    map : callable
        The built-in one streams the parts through this process; that of a `concurrent.futures.Executor`, such as
        Dask's ``client.get_executor()``, has its workers ask them.
    tasks : int, optional
        Into how many tasks each question is cut; None: one for the built-in map, else 8.
    on_damaged : {"refuse", "skip"}
        What happens to a kitchen whose file cannot be read, is of another version or holds what cannot be.
    progress : callable, optional
        Hears of every stage that is done, and how many there are.
    resume : path, optional
        A work folder: what a run that was stopped had finished is not done again. Workers on other machines have to
        see it. It holds programs' objects: use none that you did not make.
    random_state : int, optional
        For the probes and draws.

    Returns
    -------
    Pool

    Raises
    ------
    PoolError
        When there is no pool, or a kitchen cannot be used and is not to be skipped: all of them are named; and when a
        rule cannot be handed to workers.
    """
    if on_damaged not in ("refuse", "skip"):
        raise PoolError(f"on_damaged is {on_damaged!r}", "use refuse or skip")
    if tasks is None:
        tasks = 1 if map is _BUILT_IN else 8
    with tempfile.TemporaryDirectory(prefix="pairing-pool-") as scratch:
        work = Path(scratch if resume is None else resume)
        work.mkdir(parents=True, exist_ok=True)
        shelf, sources = open_pool(folder)
        parts = StoredParts.begin(work, sources, map=map, tasks=tasks)
        kept = None if resume is None else work
        return _Learning(shelf, rules, parts, kept, on_damaged, progress, random_state or 0).run()


_BUILT_IN = map


class _Learning:
    """One run."""

    def __init__(
        self,
        shelf: Shelf,
        rules: Sequence[RuleLike],
        sources: StoredParts,
        work: Path | None,
        on_damaged: str,
        progress: Any,
        seed: int,
    ) -> None:
        self.shelf, self.work, self.on_damaged, self.progress, self.seed = shelf, work, on_damaged, progress, seed
        self.traits, self.rules = Traits.of(shelf), RuleColumns.of(shelf, rules)
        self.kind = f"{seed}.{_mark(self.rules)}"
        self.parts = sources.then(read_part, shelf, self.traits)
        self.done = 0

    def said(self, stage: str) -> None:
        give_back()
        self.done = STAGES.index(stage) + 1
        if self.progress is not None:
            self.progress(Progress(stage, self.done, len(STAGES)))

    def stage(self, name: str, make: Callable[[], Any]) -> Any:
        """Return what a stage found, from the work folder where an earlier run of the same pool had finished it."""
        if self.work is None:
            return make()
        kept = self.work / f"{name}.{self.parts.node}.{self.kind}.stage"
        if kept.exists():
            return read_whole(kept)
        found = make()
        write_whole(kept, found)
        return found

    def run(self) -> Pool:
        told = Survey(self.stage("survey", lambda: self.parts.sum(survey, self.traits, self.rules)))
        self.rules.note(told.found["faults"])
        damaged = tuple(told.found["damaged"])
        if damaged and self.on_damaged == "refuse":
            raise refusal(damaged)
        if not told.found["scores"] and not told.found["judged"]:
            raise PoolError("no kitchen of the pool holds a liking or a strength", "contribute logs with either")
        judged = bool(told.found["judged"] or told.found["stronger"])
        of_doses = told.doses(self.traits, self.rules)
        of_liking = told.liking(self.traits, self.rules, penalty=judged)
        told = told.released()
        self.said("readings")
        doses, known, strength = self.stage("doses", lambda: self.doses(told, of_doses))
        self.said("needed doses")
        fit, posterior = self.stage("liking", lambda: self.liking(told, of_liking, doses, known))
        self.said("uncertainty")
        liking = Liking(
            traits=self.traits,
            strength=strength,
            columns=fit.columns,
            posterior=posterior,
            variances=fit.columns.variances(fit.start[:-1]),
            noise_sd=float(np.sqrt(fit.start[-1])),
            n_tasters=0,
            evidence_n=int(told.found["scores"]),
            slopes=np.empty(0),
            scatter=Scatter(np.empty(0), float(np.exp(fit.spread.stepped))),
            rules=self.rules,
        )
        notes, behind = self.stage("notes", lambda: self.notes(bool(told.found["noted"])))
        self.said("off-notes")
        return Pool(self.shelf, strength, liking, told, notes, behind, damaged)

    def doses(self, told: Survey, planned: Planned) -> tuple[DoseFit | None, DosesKnown | None, Strength]:
        """Learn needed doses."""
        columns, n = planned.plan.columns, int(told.found["judged"])
        if not n and not told.found["stronger"]:
            prior = Posterior(planned.mean, cov=np.diag(planned.plan.prior.scale))
            return (
                None,
                None,
                self.strength(planned, prior, Ordinal.start(), columns.variances(np.exp(planned.start[:-1])), 0),
            )
        judged = self.parts.then(Judged.of, planned.plan, self.traits, told.typical)
        some = None
        if planned.cut is not None:
            some = self.parts.then(Judged.of, planned.plan, self.traits, told.typical, planned.cut)
        fit = fit_doses(judged, some, planned.plan, planned.mean, planned.start, self.seed)
        found = fit.found
        posterior = _posterior(found, planned.mean)
        strength = self.strength(planned, posterior, fit.ordinal, columns.variances(found.level.blocks), n)
        known = DosesKnown(strength, planned.plan, found.level, found.beta, fit.draws, self.seed)
        return fit, known, strength

    def strength(
        self, planned: Planned, posterior: Posterior, ordinal: Ordinal, variances: dict[str, float], n: int
    ) -> Strength:
        return Strength(self.traits, planned.plan.columns, posterior, variances, ordinal, 0, n, self.rules)

    def notes(self, any_noted: bool) -> tuple[dict[str, NoteFit], Behind | None]:
        """Learn off-notes, where any were written down; a flavouring's dose counts beside its label's."""
        if not any_noted:
            return {}, None
        labels = np.where(np.isnan(self.traits.log_label), self.traits.log_expected[None, :], self.traits.log_label)
        return fit_notes(self.parts.then(Noted.of, self.shelf, labels.mean(axis=0)), self.shelf)

    def liking(
        self, told: Survey, planned: Planned, doses: DoseFit | None, known: DosesKnown | None
    ) -> tuple[LikingFit, Posterior]:
        """Learn liking."""
        tables = tuple(n for n in (*TABLES, TASTE) if _cells(told, n) >= MANY_CELLS)
        if doses is None:
            parts = self.parts.then(alone)
        else:
            assert isinstance(doses.working, StoredParts)
            parts = self.parts.beside(doses.working)
        plan, traits = planned.plan, self.traits
        scored = parts.then(KitchenScores.of, plan, traits, told.typical, known, tables)
        fit = LikingFit(
            columns=plan.columns,
            adjusted=scored.then(Adjusted.of, planned.mean),
            start=np.exp(planned.start),
            huge=planned.cut is not None,
            compared=bool(told.found["preferred"]),
            prior=plan.prior,
            cut=planned.cut,
            seed=self.seed,
            tastes=(_cells(told, TASTE), traits.n_flavourings),
        )
        rows = {"base": traits.n_bases, "flavouring": traits.n_flavourings}
        shared = [name for name in TABLES if name in tables]
        fit.run({name: (rows[TABLES[name]], traits.n_flavourings) for name in shared}, self.said)
        assert fit.found is not None
        return fit, with_positive(fit.columns, _posterior(fit.found, fit.mean))


def _mark(rules: RuleColumns) -> str:
    """Return what tells the rules in force from others."""
    try:
        return hashlib.sha256(pickle.dumps(rules.rules)).hexdigest()[:8]
    except (pickle.PicklingError, AttributeError, TypeError) as error:
        raise PoolError(
            f"a rule cannot be handed to workers: {error}", "make its functions by name, at the top of a module"
        ) from None


def alone(part: Any) -> tuple[Any, None]:
    """Return a part with nothing beside it."""
    return part, None


def _cells(told: Survey, name: str) -> int:
    """Count the cells of a table."""
    counts, own = told.counts("liking"), told.own("liking")
    return len(counts[name].key) if name in counts else own[name].distinct if name in own else 0


def _posterior(found: Regressed, mean: Floats) -> Posterior:
    """Return what is known of the shared columns: exactly where they are few, else by draws."""
    system, level = found.system, found.level
    if len(mean) <= MAX_DENSE_COLUMNS:
        return Posterior(mean + found.beta, cov=system.covariance(level))
    n = draws_for(len(mean))
    drawn = system.draws(level, n)
    return Posterior(mean + found.beta, draw=Drawn(drawn), n_draws=n)


@dataclass(frozen=True, eq=False)
class Drawn:
    """Draws that were made."""

    draws: Floats

    def __call__(self, n: int) -> Floats:
        """Return the first of them."""
        return self.draws[:, :n]
