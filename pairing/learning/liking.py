"""Liking: an additive Bayesian model of what people say of a cup, on top of the learned needed doses."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning import columns as col
from pairing.learning.columns import Block, Columns, Encoded, Entries
from pairing.learning.design import Traits, Who, liking_entries, occasion_entries, taster_entries
from pairing.learning.log import Log, Recipes
from pairing.learning.paired import Paired, working_gap
from pairing.learning.penalty import expected_squares
from pairing.learning.posterior import Posterior
from pairing.learning.strength import Strength

__all__ = ["Liking", "fit_liking"]

Floats = np.ndarray[Any, np.dtype[np.float64]]
Ints = np.ndarray[Any, np.dtype[np.int64]]

BLOCKS = (
    Block("average", "average", 4.0, mean=5.0, fixed=True),
    Block("plain", "flavouring", 1.0, fixed=True),
    Block("flavourings", "pair", 1.0, mean=-0.3, fixed=True),
    Block("pairs", "pair", 0.5**2, mean=-0.2, fixed=True),
    Block("base", "base", 0.25),
    Block("flavouring", "flavouring", 0.4, 4.0),
    Block("family", "family", 0.1),
    Block("affinity", "affinity", 0.3, 4.0),
    Block("base*family", "affinity", 0.1),
    Block("trait*flavouring", "affinity", 0.1),
    Block("pair", "pair", 0.4, 4.0),
    Block("pair*base", "pair", 0.1),
    Block("family*family", "pair", 0.1),
    Block("taster", "taster", 0.3),
    Block("taste", "taster", 0.2, 4.0),
    Block("taster*base", "taster", 0.05),
    Block("cup", "cup", 0.05),
    Block("session", "session", 0.05),
    Block("too weak", "dose", 1.5**2, mean=2.0, fixed=True),
    Block("too strong", "dose", 1.5**2, mean=2.0, fixed=True),
)
NOISE_VAR, NOISE_COUNT = 0.9, 6.0
SLOPE_SD = 0.3
"""How far tasters differ in how much of the scale they use (our choice)."""
MIN_FOR_SLOPES = 20
OWN = ("average", "taster", "taste", "taster*base", "cup", "session")
"""Blocks that a taster's slope does not stretch."""
DRIFT = 0.1
"""Log variances that one step of the evidence would move by less are kept when a model is updated (our choice)."""
WILD = 3.0
"""Scores further than this many standard deviations from what the model expects count for less."""


@dataclass(frozen=True)
class Liking:
    """Learned liking of recipes.

    Attributes
    ----------
    noise_sd : float
        Spread of one score around the true liking, points.
    variances : mapping of block name to float
    evidence_n : int
        Scores that it rests on.
    slopes : array, shape (n_tasters,)
        How much of the scale each taster uses; their mean is 1.
    """

    traits: Traits
    strength: Strength
    columns: Columns
    posterior: Posterior
    variances: dict[str, float]
    noise_sd: float
    n_tasters: int
    evidence_n: int
    slopes: Floats
    rules: Any = None

    def entries(self, recipes: Recipes, who: Who) -> dict[str, Entries]:
        """Entries of the true liking of recipes."""
        out = self.common_entries(recipes)
        if not who.personal:
            return out
        rows, taster, share = who.shares()
        slope = np.append(self.slopes, 1.0)[np.minimum(taster, self.n_tasters)]
        total = np.bincount(rows, share, minlength=len(recipes))
        stretch = np.bincount(rows, share * slope, minlength=len(recipes)) + (1.0 - total)
        return stretched(out, stretch) | taster_entries(recipes, who, self.traits)

    def common_entries(self, recipes: Recipes) -> dict[str, Entries]:
        """Entries of what is the same for every taster."""
        out = liking_entries(recipes, self.traits) | penalty_entries(recipes, self.strength)
        if self.rules is not None:
            out |= self.rules.liking_entries(recipes, self.strength)
        return out

    def encode(self, recipes: Recipes, who: Who | None = None) -> Encoded:
        """Encode the true liking of recipes."""
        asked = Who.everyone(len(recipes), self.n_tasters) if who is None else who
        return self.columns.encode(self.entries(recipes, asked), len(recipes), self.variances)

    def mean(self, rows: Encoded) -> Floats:
        """Return the expected true liking, points, before the ends of the scale."""
        return col.mean(self.posterior, rows)

    def sd(self, rows: Encoded) -> Floats:
        """Return the standard deviation of the true liking, points."""
        return np.sqrt(col.variance(self.posterior, rows))


def stretched(entries: dict[str, Entries], slope: Floats) -> dict[str, Entries]:
    """Multiply what is common to all tasters by each row's slope."""
    return {k: e if k in OWN else replace(e, value=e.value * slope[e.row]) for k, e in entries.items()}


def penalty_entries(recipes: Recipes, strength: Strength) -> dict[str, Entries]:
    """Entries of the off-target penalty; an open dose has none."""
    stated = np.nonzero(~np.isnan(recipes.log_dose))
    if not len(stated[0]):
        return {}
    rows = np.unique(stated[0])
    mean, sd = strength.needed(recipes.take(rows))
    place = np.searchsorted(rows, stated[0])
    distance = recipes.log_dose[stated] - mean[place, stated[1]]
    under, over = expected_squares(distance, sd[place, stated[1]])
    return {
        "too weak": Entries.of(stated[0], 0, -under),
        "too strong": Entries.of(stated[0], 0, -over),
    }


def fit_liking(
    log: Log,
    traits: Traits,
    strength: Strength,
    *,
    scores: Floats | None = None,
    paired: Paired | None = None,
    rules: Any = None,
    start: Liking | None = None,
    tol: float = 0.02,
) -> Liking:
    """Learn liking from every score in the log.

    Parameters
    ----------
    scores : array, shape (n,), optional
        What to learn instead of liking (likeness to a target), NaN where not given.
    paired : Paired, optional
        Comparisons of preference.
    start : Liking, optional
        An earlier fit: its variances are kept where one step of the evidence would hardly move them.
    """
    score = log.liking if scores is None else scores
    rows = np.flatnonzero(~np.isnan(score))
    n, recipes, y = len(rows), log.recipes.take(rows), score[rows]
    if paired is not None:
        recipes = Recipes.stack([recipes, paired.left, paired.right])
    entries = liking_entries(recipes, traits) | penalty_entries(recipes, strength) | occasion_entries(log, rows)
    if len(log.tasters) > 1:
        entries |= taster_entries(recipes.take(slice(0, n)), Who(log.taster[rows], len(log.tasters)), traits)
    blocks = BLOCKS
    if rules is not None:
        blocks = rules.liking_blocks(BLOCKS)
        entries |= rules.liking_entries(recipes, strength)
    model = Liking(
        traits=traits,
        strength=strength,
        columns=Columns.of(blocks, entries),
        posterior=Posterior(np.zeros(0), cov=np.zeros((0, 0))),
        variances={b.name: b.var for b in blocks},
        noise_sd=float(np.sqrt(NOISE_VAR)),
        n_tasters=len(log.tasters),
        evidence_n=n,
        slopes=np.ones(len(log.tasters)),
        rules=rules,
    )
    if not len(recipes):
        return model
    data = _Data(entries, y, len(recipes), None if paired is None else paired.share)
    fitted, weight = _fit(model, data, None, tol, like=start)
    if len(log.tasters) > 1 and n > MIN_FOR_SLOPES:
        for _ in range(2):
            slopes = _slopes(fitted, data, log.taster[rows])
            stretch = np.append(slopes[log.taster[rows]], np.ones(len(recipes) - n))
            own = replace(data, entries=stretched(entries, stretch))
            fitted, weight = _fit(replace(model, slopes=slopes), own, weight, tol, like=fitted)
    return fitted


@dataclass(frozen=True)
class _Data:
    """Entries of scored cups, then of the left and the right cups of comparisons; scores; and shares of the left."""

    entries: dict[str, Entries]
    y: Floats
    n_rows: int
    share: Floats | None

    def rows(self, columns: Columns) -> tuple[Any, Any]:
        """Columns of scored cups, and of the comparisons' left less right."""
        x = columns.encode(self.entries, self.n_rows).x
        n = len(self.y)
        half = (self.n_rows - n) // 2
        return x[:n], x[n : n + half] - x[n + half :]


def _slopes(fitted: Liking, data: _Data, taster: Ints) -> Floats:
    """Slope of each taster on the common part, whose uncertainty counts against a slope (an EM step)."""
    n, k = len(data.y), fitted.n_tasters
    common, rest = (
        fitted.columns.encode({b: e for b, e in data.entries.items() if (b in OWN) == own}, data.n_rows).take(
            slice(0, n)
        )
        for own in (False, True)
    )
    points = col.mean(fitted.posterior, common)
    square = points**2 + col.variance(fitted.posterior, common)
    left = data.y - col.mean(fitted.posterior, rest)
    prior = fitted.noise_sd**2 / SLOPE_SD**2
    slopes = (np.bincount(taster, points * left, minlength=k) + prior) / (
        np.bincount(taster, square, minlength=k) + prior
    )
    slopes = np.clip(slopes, 0.3, 2.0)
    return slopes / slopes.mean()


def _fit(
    model: Liking, data: _Data, weight: Floats | None, tol: float, like: Liking | None
) -> tuple[Liking, Floats | None]:
    """Fit scores and, if there are any, comparisons; wild scores are weighted down."""
    columns = model.columns
    x, gaps = data.rows(columns)
    prior = columns.prior()
    count = np.append(np.array(prior.pop("pseudo_count")), NOISE_COUNT)
    var = np.append(np.array(prior.pop("pseudo_var")), NOISE_VAR)
    options = {**prior, "pseudo_count": count, "pseudo_var": var, "fit_intercept": False, "tol": tol, "random_state": 0}
    start = var if like is None else np.append(columns.learned_order(like.variances), like.noise_sd**2)
    if data.share is None:
        fitted = _regress(options, x, data.y, weight, start, update=like is not None)
        wild = np.abs(data.y - x @ fitted.coef_) / np.sqrt(fitted.noise_var_)
        if weight is None and wild.max() > WILD:
            weight = np.where(wild > WILD, WILD / np.maximum(wild, WILD), 1.0) ** 2
            weight /= weight.mean()
            again = np.append(fitted.block_var_, fitted.noise_var_)
            fitted = _regress(options, x, data.y, weight, again, update=False)
    else:
        fitted = _regress_paired(options, (x, gaps), data, start)
    done = replace(
        model,
        posterior=fitted.posterior_,
        variances=columns.variances(fitted.block_var_),
        noise_sd=float(np.sqrt(fitted.noise_var_)),
    )
    return done, weight


def _regress(options: dict[str, Any], x: Any, y: Floats, weight: Floats | None, start: Floats, *, update: bool) -> Any:
    """Solve; an update keeps the variances that it starts from where the evidence would hardly move them."""
    from pairing.learning.evidence import BlockRegression

    if update:
        kept = BlockRegression(**options, init_var=start, max_iter=0).fit(x, y, sample_weight=weight)
        if hasattr(kept, "next_var_") and np.abs(np.log(kept.next_var_ / start)).max() < DRIFT:
            return kept
    return BlockRegression(**options, init_var=start).fit(x, y, sample_weight=weight)


def _regress_paired(options: dict[str, Any], rows: tuple[Any, Any], data: _Data, start: Floats) -> Any:
    """Solve with comparisons as working responses, whose weights follow from the fit before."""
    x, gaps = rows
    both = sparse.vstack([x, gaps], format="csr")
    gap = np.asarray(gaps @ options["prior_mean"]).ravel()
    assert data.share is not None
    fitted = None
    for _ in range(6):
        noise = start[-1]
        score, information = working_gap(data.share, gap, float(np.sqrt(2.0 * noise)))
        y = np.append(data.y, gap + score / information)
        weight = np.append(np.ones(len(data.y)), information * noise)
        fitted = _regress(options, both, y, weight, start, update=False)
        start = np.append(fitted.block_var_, fitted.noise_var_ if len(data.y) else noise)
        moved = np.asarray(gaps @ fitted.coef_).ravel()
        done = np.abs(moved - gap).max() < 0.02
        gap = moved
        if done:
            break
    return fitted
