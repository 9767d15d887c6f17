"""Needed doses from the logs of many kitchens: the ordinal response of `pairing.learning.strength`, over parts.

Working responses, what is left of them and the kitchens' own effects are made where the readings are; thresholds are
learned from how many judgements of each kind there are at which distance from what was predicted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.columns import Columns
from pairing.learning.design import Additions, Traits, additions_of
from pairing.learning.exact import Prior
from pairing.learning.iterative import Regressed, System, regress
from pairing.learning.ordinal import Binned, Ordinal, fit_ordinal
from pairing.learning.parts import Parts
from pairing.learning.rows import Level, Rows
from pairing.learning.rules import RuleColumns
from pairing.learning.scene import Typical
from pairing.learning.some_rows import highest_places, rows_up_to
from pairing.learning.strength import left_less_right, log_label, working
from pairing.model.arrays import Floats, Ints
from pairing.pooling.compared import Asked
from pairing.pooling.entries import Own, Plan, judged_entries, own_numbers
from pairing.pooling.folder import LogPart

__all__ = ["Judged", "Working", "asked_additions", "fit_doses"]

ROUNDS, TOL = 20, 0.02
MAX_ITER = 3
FEW_DRAWS = 4
MOVED = 0.1


def asked_additions(part: LogPart) -> tuple[Asked, Additions, Ints]:
    """Return the cups of a part, the additions whose strength was judged or compared, and their places among all."""
    log = part.log
    asked = Asked.of(part, np.arange(len(log)), "stronger")
    adds = additions_of(asked.recipes)
    known = adds.row < len(log)
    kept = ~known
    kept[known] = ~np.isnan(log.strength[adds.row[known], adds.slot[known]])
    keep = np.flatnonzero(kept)
    return asked, adds.take(keep), keep


@dataclass(frozen=True, eq=False)
class Judged:
    """Judgements of strength of one part.

    Attributes
    ----------
    x : sparse matrix, shape (n + m, p)
        Of judgements, then of comparisons: the right side less the left.
    own : Own
    category : int array, shape (n,)
    share : array, shape (m,)
        Of the left, where two cups were compared.
    distance : array, shape (n + m,)
        Natural log of the dose over the label, of a comparison the left side's less the right's.
    number : int array, shape (n + m,)
    """

    x: Any
    own: Own
    category: Ints
    share: Floats
    distance: Floats
    number: Ints

    @classmethod
    def of(
        cls, part: LogPart, plan: Plan, traits: Traits, typical: Typical, cut: tuple[int, int] | None = None
    ) -> Judged:
        """Encode the judgements and comparisons of a part; with ``cut`` the judgements of some cups."""
        log = part.log
        asked, adds, keep = asked_additions(part)
        if cut is not None:
            rows = rows_up_to(highest_places(log.recipes, traits.n_flavourings), *cut)
            some = np.flatnonzero(np.isin(adds.row, rows))
            asked, adds, keep = replace(asked, share=np.empty(0)), adds.take(some), keep[some]
        made = judged_entries(part, asked, adds, keep, plan.blocks, plan.rules, traits, typical)
        x, own = plan.columns.encode(made.shared, len(adds)).x, Own.of(made, part, plan)
        distance = asked.recipes.log_dose[adds.row, adds.slot] - log_label(traits, adds.base, adds.flavouring)
        n = int((adds.row < len(log)).sum())
        number = own_numbers(part, made.kitchen[:n], np.arange(n), -1)
        strength = log.strength[adds.row[:n], adds.slot[:n]].astype(np.int64)
        if m := len(asked.share):
            mix = sparse.block_diag([sparse.identity(n), -left_less_right(m, adds.row[n:] - len(log))], format="csr")
            x, own = (mix @ x).tocsr(), replace(own, z=(mix @ own.z).tocsr())
            distance = np.append(distance[:n], -(mix @ distance)[n:])
            number = np.append(number, own_numbers(part, asked.compared, np.arange(m), -4))
        return cls(x, own, strength, asked.share, distance, number)


@dataclass(frozen=True, eq=False)
class Working:
    """Judgements with their working response at a linear predictor.

    Attributes
    ----------
    judged : Judged
    eta : array, shape (n,)
    rows : Rows
    moved : float
        Sum of squares by which the predictor has moved.
    """

    judged: Judged
    eta: Floats
    rows: Rows
    moved: float = 0.0

    @classmethod
    def at(cls, judged: Judged, ordinal: Ordinal, mean: Floats, eta: Floats, moved: float = 0.0) -> Working:
        """Make the working response; ``mean`` is the shared columns' prior mean."""
        y, information = working(ordinal, judged.category, judged.share, judged.distance, eta)
        y = y - judged.x @ mean
        own = judged.own
        rows = Rows.of(judged.x, y, information, own.z, own.prior, own.number, judged.number, own.order)
        return cls(judged, eta, rows, moved)

    @classmethod
    def start(cls, judged: Judged, ordinal: Ordinal, mean: Floats, beta: Floats) -> Working:
        """Begin at some weights of the shared columns."""
        return cls.at(judged, ordinal, mean, np.asarray(judged.x @ (mean + beta)))

    def predicted(self, mean: Floats, level: Level, beta: Floats) -> Floats:
        """Return the linear predictor, the kitchens' own effects included."""
        return np.asarray(self.judged.x @ (mean + beta) + self.judged.own.z @ self.rows.effects(level, beta))

    def next(self, ordinal: Ordinal, mean: Floats, level: Level, beta: Floats) -> Working:
        """Go on to the next working response."""
        eta = self.predicted(mean, level, beta)
        return Working.at(self.judged, ordinal, mean, eta, float(((eta - self.eta) ** 2).sum()))

    def told(self, mean: Floats, level: Level, beta: Floats, draws: Floats, seed: int) -> dict[str, Any]:
        """Count the judgements by what is left of their distance, and sum how uncertain that is.

        Of comparisons, which are few, return the shares of the left and the gaps.
        """
        judged = self.judged
        n = len(judged.category)
        spread = ((judged.x @ draws + judged.own.z @ self.rows.deviations(level, seed, draws)) ** 2).mean(axis=1)
        eta = self.predicted(mean, level, beta)
        told = {"told": Binned.of(judged.category, judged.distance[:n] - eta[:n], spread[:n])}
        return told | {"compared": ((judged.share, judged.distance[n:] + eta[n:]),)}

    def size(self) -> dict[str, Any]:
        """Count judgements, and how far they moved."""
        return {"n": len(self.eta), "moved": self.moved}


def rows_of(working: Working) -> Rows:
    """Return the rows to be solved for."""
    return working.rows


@dataclass(frozen=True, eq=False)
class DoseFit:
    """What was learned of needed doses.

    Attributes
    ----------
    ordinal : Ordinal
    found : Regressed
    working : Parts of Working
        At which ``found`` was solved.
    draws : array, shape (p, 4)
        Few draws of the shared columns, for what is uncertain on average.
    """

    ordinal: Ordinal
    found: Regressed
    working: Parts
    draws: Floats


def fit_doses(judged: Parts, some: Parts | None, plan: Plan, mean: Floats, start: Floats, seed: int) -> DoseFit:
    """Alternate working responses, variances and thresholds; then, where only some were used, solve for all.

    Parameters
    ----------
    judged, some : Parts of Judged
        All, and those that variances and thresholds are learned from.
    mean : array, shape (p,)
        Prior means of the shared columns.
    start : array
        Log variances, the noise (which is 1) last.
    """
    ordinal = Ordinal.start()
    beta, level = np.zeros(len(mean)), start
    solution, draws, at = None, None, np.full(len(start), np.inf)
    working = (judged if some is None else some).then(Working.start, ordinal, mean, beta)
    n = float(working.sum(Working.size)["n"])
    for number in range(ROUNDS):
        found = regress(
            working.then(rows_of), None, plan.prior, level, seed=seed, fixed_noise=True, init=solution,
            max_iter=MAX_ITER if number else 1,
        )  # fmt: skip
        solution, level = found.solution, np.log(found.level.variances)
        if draws is None or np.abs(level - at).max() > MOVED:
            draws, at = found.system.draws(found.level, FEW_DRAWS), level
        before = ordinal.parameters
        ordinal = _improved(ordinal, working.sum(Working.told, mean, found.level, found.beta, draws, seed))
        following = working.then(Working.next, ordinal, mean, found.level, found.beta)
        moved = np.sqrt(following.sum(Working.size)["moved"] / max(n, 1.0))
        if max(moved, float(np.abs(ordinal.parameters - before).max())) < TOL:
            break
        working = following
    if some is not None:
        return _settled(judged, plan, mean, found, ordinal)
    assert draws is not None
    return DoseFit(ordinal, found, working, draws)


def _settled(judged: Parts, plan: Plan, mean: Floats, found: Regressed, ordinal: Ordinal) -> DoseFit:
    """Solve for all judgements at variances that are known, and learn thresholds from all."""
    working = judged.then(Working.start, ordinal, mean, found.beta)
    n, seed, draws = float(working.sum(Working.size)["n"]), found.system.seed, None
    for _ in range(ROUNDS):
        system = System.of(working.then(rows_of), plan.prior, seed)
        found = replace(found, system=system, beta=system.mean(found.level, found.beta, 1e-3))
        draws = system.draws(found.level, FEW_DRAWS) if draws is None else draws
        before = ordinal.parameters
        ordinal = _improved(ordinal, working.sum(Working.told, mean, found.level, found.beta, draws, seed))
        following = working.then(Working.next, ordinal, mean, found.level, found.beta)
        moved = np.sqrt(following.sum(Working.size)["moved"] / max(n, 1.0))
        if max(moved, float(np.abs(ordinal.parameters - before).max())) < TOL:
            break
        working = following
    assert draws is not None
    return DoseFit(ordinal, found, working, draws)


def _improved(ordinal: Ordinal, told: dict[str, Any]) -> Ordinal:
    """Learn thresholds and the spread of perception from what all parts tell."""
    share, gap = (np.concatenate(values) for values in zip(*told["compared"], strict=True))
    category, excess, variance, count = told["told"].rows
    return fit_ordinal(ordinal, category, excess, variance, count, (share, gap) if len(share) else None)


def plan_of(
    blocks: Any,
    columns: Columns,
    thin: frozenset[str],
    noise: tuple[float, float],
    traits: Traits,
    rules: RuleColumns,
) -> tuple[Plan, Floats, Floats]:
    """Return which columns there are, the prior means of those that are shared, and log variances to start from."""
    prior = columns.prior()
    count, var = (
        np.append(np.array(prior[name]), last) for name, last in zip(("pseudo_count", "pseudo_var"), noise, strict=True)
    )
    wanted = Prior(prior["blocks"], np.zeros(columns.n), prior["prior_scale"], len(count) - 1, count, var)
    of_tasters = {"taster*flavouring": traits.n_flavourings, "taster*base": traits.n_bases}
    return Plan(tuple(blocks), columns, wanted, thin, of_tasters, rules), prior["prior_mean"], np.log(var)
