"""Learning liking from one log: scores and comparisons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.adopted import NO_POOL, Adopted
from pairing.learning.block import Entries, entries_of
from pairing.learning.columns import Columns
from pairing.learning.design import Traits, Who
from pairing.learning.liking import NOISE_COUNT, NOISE_VAR, Liking, blocks_of, penalty_entries
from pairing.learning.log import Log
from pairing.learning.paired import Paired
from pairing.learning.parts import HeldParts
from pairing.learning.posterior import Posterior
from pairing.learning.rules import NO_RULES, RuleColumns
from pairing.learning.scatter import Scatter
from pairing.learning.scene import Occasion, Scene, Typical
from pairing.learning.scored import Adjusted, Expected, Gaps, Scored, Table, own_columns
from pairing.learning.some_rows import variance_rows
from pairing.learning.stages import MANY_CELLS, Stages, with_positive
from pairing.learning.strength import Strength
from pairing.model.arrays import Floats, Ints
from pairing.model.constants import LIKING_ENDS
from pairing.model.recipes import Recipes

__all__ = ["fit_liking"]

LARGE = 2500
"""Scores and columns up to which an update may keep the variances (our choice)."""
DRIFT = 0.1
"""Log variances that one step of the evidence would move by less are kept when a model is updated (our choice)."""


def fit_liking(
    log: Log,
    traits: Traits,
    strength: Strength,
    *,
    scores: Floats | None = None,
    ends: tuple[float, float] = LIKING_ENDS,
    paired: Paired | None = None,
    rules: RuleColumns = NO_RULES,
    pool: Adopted = NO_POOL,
    start: Liking | None = None,
    tol: float = 0.02,
) -> Liking:
    """Learn liking from every score in the log.

    Parameters
    ----------
    scores : array, shape (n,), optional
        What to learn instead of liking (likeness to a target), NaN where not given.
    ends : (float, float)
        Of the scale.
    paired : Paired, optional
        Comparisons of preference.
    pool : Adopted
        What other kitchens know.
    start : Liking, optional
        An earlier fit: its variances are kept where one step of the evidence would hardly move them.
    """
    score = log.liking if scores is None else scores
    rows = np.flatnonzero(~np.isnan(score))
    n, recipes, y = len(rows), log.recipes.take(rows), score[rows]
    if paired is not None:
        recipes = Recipes.stack([recipes, paired.left, paired.right])
    who = Who(np.append(log.taster[rows], np.full(len(recipes) - n, -1)), len(log.tasters))
    blocks = blocks_of(traits, rules, pool)
    occasion = Occasion.of(log, rows, Typical.of(Typical.told(log)))
    whose = who.take(slice(0, n)) if len(log.tasters) > 1 else None
    entries = entries_of(blocks, Scene.of_recipes(recipes, traits, whose, occasion))
    entries |= (
        pool.entries(entries)
        | penalty_entries(recipes, strength, who, rough=True)
        | rules.liking_entries(recipes, strength.needed)
    )
    columns = Columns.of(blocks, entries)
    entries = columns.only(entries)
    model = Liking(
        traits=traits,
        strength=strength,
        columns=columns,
        posterior=Posterior(np.zeros(0), cov=np.zeros((0, 0))),
        variances={b.name: b.var for b in blocks},
        noise_sd=float(np.sqrt(NOISE_VAR)),
        n_tasters=len(log.tasters),
        evidence_n=n,
        slopes=np.ones(len(log.tasters)),
        scatter=Scatter.even(len(log.tasters)),
        rules=rules,
        pool=pool,
    )
    if not len(recipes):
        return model
    x = columns.encode(entries, len(recipes)).x
    tables = {block.name: Table.of(entries[block.name], n) for block in blocks if block.table and block.name in entries}
    large = _large(columns, {name: entries[name] for name in tables}, model)
    del entries  # they have their columns by now
    gaps = None if paired is None else Gaps(x=x[n : n + len(paired)] - x[n + len(paired) :], share=paired.share)
    scored = Scored(
        x=x if paired is None else x[:n],
        y=y,
        taster=log.taster[rows],
        n_tasters=len(log.tasters),
        stepped=log.stepped[rows],
        ends=ends,
        tables={name: tables[name] for name in large},
        gaps=gaps,
    )
    prior = columns.prior()
    some = variance_rows(recipes.take(slice(0, n)), traits.n_flavourings)
    expected = np.append(np.array(prior["pseudo_var"]), NOISE_VAR)
    known = expected if start is None else np.append(columns.learned_order(start.variances), start.noise_sd**2)
    stages = _OneLog(
        columns=columns,
        adjusted=HeldParts((Adjusted.of(scored, prior["prior_mean"]),)),
        start=known,
        huge=some is not None,
        compared=paired is not None,
        some=some,
        tol=tol,
        update=start is not None,
    )
    stages.run(large)
    heard, fit = stages.adjusted.parts[0], stages.fit
    return replace(
        model,
        columns=stages.columns,
        posterior=fit.posterior,
        variances=stages.columns.variances(stages.start[:-1]),
        noise_sd=float(np.sqrt(stages.start[-1])),
        slopes=heard.slopes,
        scatter=heard.scatter,
    )


def _large(columns: Columns, entries: Mapping[str, Entries], model: Liking) -> dict[str, tuple[int, int]]:
    """Return rows and columns of the tables with many cells."""
    traits = model.traits
    sizes = {"taster": model.n_tasters, "base": traits.n_bases, "flavouring": traits.n_flavourings}
    tables = {block.name: block.table for block in columns.blocks if block.table is not None}
    large = {name: tables[name] for name, e in entries.items() if len(columns.keys.get(name, e.key)) >= MANY_CELLS}
    return {name: (sizes[rows], sizes[items]) for name, (rows, items) in large.items()}


@dataclass(frozen=True, eq=False)
class _Fitted:
    """A fit of one log; see `pairing.learning.scored.Fit`."""

    posterior: Posterior
    stretched: Any
    noise: float
    level: float

    @property
    def weights(self) -> Floats:
        return self.posterior.mean

    def adjusted(self, part: Adjusted) -> Adjusted:
        return part

    def expected(self, part: Adjusted) -> Expected:
        x, common = part.scored.x, np.where(self.stretched, self.weights, 0.0)
        return Expected.of(part, x @ common, x @ (self.weights - common))

    def gaps(self, part: Adjusted) -> Floats:
        return np.asarray(part.scored.gaps.x @ self.weights)

    def rough_variance(self, part: Adjusted) -> Floats:
        return self.posterior.rough_variance(part.x(~self.stretched))

    def variance(self, part: Adjusted) -> tuple[Any, Any]:
        if self.posterior.cov is None:
            return 0.0, 0.0
        common = part.scored.x @ sparse.diags(self.stretched.astype(float), format="csr")
        return self.posterior.variance(part.x(~self.stretched)), self.posterior.variance(common)


@dataclass
class _OneLog(Stages):
    """One log, all of whose columns are solved for together.

    Attributes
    ----------
    some : int array or None
        Scores that variances are learned from; None: all.
    tol : float
    update : bool
        The variances to start from were learned.
    init : array or None
        Weights to start from.
    """

    some: Ints | None = None
    tol: float = 0.02
    update: bool = False
    init: Floats | None = None

    def regress(self) -> None:
        self.fit = None  # a large one holds what its draws would be made from
        heard, columns = self.adjusted.parts[0], self.columns
        scored, own = heard.scored, own_columns(columns)
        prior = columns.prior()
        count, var = (np.array(prior.pop(name)) for name in ("pseudo_count", "pseudo_var"))
        start = np.append(self.start[:-1], self.start[-1] / self.level)
        options = {
            **prior,
            "pseudo_count": np.append(count, NOISE_COUNT),
            "pseudo_var": np.append(var, NOISE_VAR),
            "fit_intercept": False,
            "variance_rows": self.some,
            "init_var": start,
            "init_coef": self.init,
            "tol": self.tol,
            "random_state": 0,
        }
        x, y, weight = heard.x(own), scored.y - heard.offset, heard.precision * heard.weight / self.level
        if scored.gaps is not None:
            more, information = scored.gaps.working(heard.gap, start[-1])
            x = sparse.vstack([x, scored.gaps.x], format="csr")
            y, weight = np.append(y, more), np.append(weight, information)
            options["noise_var"] = start[-1]
        found = _regress(options, x, y, weight, update=self.update)
        self.start, self.update = np.append(found.block_var_, found.noise_var_ * self.level), True
        posterior = with_positive(columns, found.posterior_)
        self.init = getattr(found, "start_", posterior.mean)
        self.fit, self.parts = _Fitted(posterior, ~own, found.noise_var_, self.level), self.adjusted


def _regress(options: dict[str, Any], x: Any, y: Floats, weight: Floats, *, update: bool) -> Any:
    """Solve; an update keeps the variances that it starts from where the evidence would hardly move them."""
    from pairing.learning.evidence import BlockRegression

    if update and min(x.shape) <= LARGE:
        kept = BlockRegression(**options, max_iter=0).fit(x, y, sample_weight=weight)
        if np.abs(np.log(kept.next_var_ / options["init_var"])).max() < DRIFT:
            return kept
        options = options | {"init_var": kept.next_var_}
    return BlockRegression(**options).fit(x, y, sample_weight=weight)
