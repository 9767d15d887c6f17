"""Learning liking: scores and comparisons, tasters' use of the scale, outliers, low-rank parts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.adopted import NO_POOL, Adopted
from pairing.learning.block import Entries, entries_of
from pairing.learning.columns import Columns
from pairing.learning.design import Traits, Who
from pairing.learning.liking import NOISE_COUNT, NOISE_VAR, OWN, Liking, blocks_of, penalty_entries
from pairing.learning.log import Log
from pairing.learning.low_rank import low_rank_means
from pairing.learning.paired import Paired, working_gap
from pairing.learning.posterior import Posterior
from pairing.learning.rules import NO_RULES, RuleColumns
from pairing.learning.scatter import Scatter, fit_scatter, spread_prior
from pairing.learning.scene import Occasion, Scene, Typical
from pairing.learning.some_rows import variance_rows
from pairing.learning.strength import Strength
from pairing.model.arrays import Floats, Ints
from pairing.model.recipes import Recipes

__all__ = ["fit_liking"]


SLOPE_SD, SLOPE_COUNT = 0.3, 5.0
"""How far tasters are expected to differ in how much of the scale they use, and the imagined tasters behind that (our
choice)."""
SLOPE_SDS = SLOPE_SD * 2.0 ** np.arange(-4, 1.5, 0.5)
"""How far they may differ: what their scores say best is taken."""
LARGE = 2500
"""Scores and columns up to which an update may keep the variances (our choice)."""
MIN_FOR_SLOPES = 20
"""Scores beyond which tasters may differ in how much of the scale they use, and scores in how far they scatter (our
choice)."""
IMAGINED = 2.0
"""Imagined scores of every taster that scatter like all: a few scores alike tell little (our choice)."""
TAKEN_AT_MOST = 0.95
"""Share of a score that effects may take up, when it is told how far scores scatter (our choice)."""
LEAST_WEIGHT = 1e-3
"""Weight of a score at an end of the scale of a cup that is expected beyond it (our choice)."""
DRIFT = 0.1
"""Log variances that one step of the evidence would move by less are kept when a model is updated (our choice)."""
OUTLIER_SD = 3.0
"""Scores further than this many standard deviations from what the model expects count for less (our choice)."""


def fit_liking(
    log: Log,
    traits: Traits,
    strength: Strength,
    *,
    scores: Floats | None = None,
    ends: tuple[float, float] = (1.0, 9.0),
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
    x = model.columns.encode(entries, len(recipes)).x
    tables = {block.name for block in blocks if block.cells or block.table}
    entries = {name: found for name, found in entries.items() if name in tables}  # the rest has its columns by now
    data = _Scores(
        entries=entries,
        x=x,
        y=y,
        share=None if paired is None else paired.share,
        taster=log.taster[rows],
        stepped=log.stepped[rows],
        ends=ends,
        variance_rows=variance_rows(recipes.take(slice(0, n)), traits.n_flavourings),
    )
    fitted, weight = _fit(model, data, None, tol, like=start)
    means = low_rank_means(fitted, entries, data.rows(fitted.columns)[0], y) if paired is None else {}
    entries = {name: found for name, found in entries.items() if name in means and name not in fitted.columns.keys}
    data = replace(data, entries=entries)
    if means:
        fitted = _lightened(fitted)
        model = replace(model, columns=replace(model.columns, means=means))
        fitted, weight = _fit(model, data, None, tol, like=fitted)
    several, mixed = len(log.tasters) > 1, 0 < data.stepped.sum() < n
    if (several or mixed) and n > MIN_FOR_SLOPES:
        for _ in range(1 if data.variance_rows is not None else 2):
            fitted = _lightened(fitted)
            scatter = _scatter(fitted, data)
            slopes = _slopes(fitted, data) if several else fitted.slopes
            own = replace(
                data,
                stretch=np.append(slopes[data.taster], np.ones(len(recipes) - n)),
                precision=scatter.precision(data.taster, data.stepped),
            )
            fitted, weight = _fit(replace(model, slopes=slopes, scatter=scatter), own, weight, tol, like=fitted)
    return fitted


def _lightened(fitted: Liking) -> Liking:
    """Let go of the columns that draws would be made from: a further fit starts from the rest."""
    return replace(fitted, posterior=replace(fitted.posterior, draw=None)) if fitted.posterior.draw else fitted


@dataclass(frozen=True)
class _Scores:
    """Entries of scored cups, then of the left and the right cups of comparisons; scores; and shares of the left.

    ``stretch`` multiplies what is common to all tasters, per row; ``precision`` is the weight of every score.
    """

    entries: dict[str, Entries]
    x: Any
    y: Floats
    share: Floats | None
    taster: Ints
    stepped: Any
    ends: tuple[float, float] = (1.0, 9.0)
    variance_rows: Ints | None = None
    stretch: Floats | None = None
    precision: Floats | None = None

    def rows(self, columns: Columns) -> tuple[Any, Any]:
        """Columns of scored cups, and of the comparisons' left less right."""
        x, n = self.x, len(self.y)
        if self.stretch is not None:
            factor = np.repeat(self.stretch, np.diff(x.indptr))
            factor[_own(columns)[x.indices]] = 1.0
            factor *= x.data
            x = sparse.csr_matrix((factor, x.indices, x.indptr), x.shape)
        if n == x.shape[0]:
            return x, x[:0]
        half = (x.shape[0] - n) // 2
        return x[:n], x[n : n + half] - x[n + half :]

    def offset(self, columns: Columns) -> Floats:
        """Return what low-rank parts say of the scored cups, where their cells have no columns."""
        out = np.zeros(len(self.y))
        for name, mean in columns.means.items():
            if name not in columns.keys:
                found = self.entries[name]
                value = mean(found.key) * found.value
                if self.stretch is not None and name not in OWN:
                    value = value * self.stretch[found.row]
                out += np.bincount(found.row, value, minlength=self.x.shape[0])[: len(out)]
        return out


def _own(columns: Columns) -> Any:
    """Tell which columns a taster's slope does not stretch."""
    out = np.zeros(columns.n, bool)
    for name in OWN:
        if name in columns.start:
            out[columns.slice(name)] = True
    return out


def _scatter(fitted: Liking, data: _Scores) -> Scatter:
    """How far scores scatter, by taster and in stepped cups: what is left, by the scores that no effect took up."""
    x = data.rows(fitted.columns)[0]
    square = (data.y - np.clip(data.offset(fitted.columns) + x @ fitted.posterior.mean, *data.ends)) ** 2
    count = np.ones(len(square))
    if fitted.posterior.cov is not None:
        taken = fitted.posterior.variance(x) / fitted.noise_sd**2
        count -= np.minimum(taken if data.precision is None else taken * data.precision, TAKEN_AT_MOST)
    cell, n = data.taster * 2 + data.stepped, 2 * fitted.n_tasters
    told, left = (np.bincount(cell, v, minlength=n).astype(np.float64).reshape(-1, 2) for v in (count, square))
    more = told * (IMAGINED / np.maximum(told.sum(axis=1, keepdims=True), 1e-9))
    return fit_scatter(told + more, left + more * fitted.noise_sd**2)


def _slopes(fitted: Liking, data: _Scores) -> Floats:
    """Slope of each taster on the common part, whose uncertainty counts against a slope (an EM step)."""
    n, k, taster = len(data.y), fitted.n_tasters, data.taster
    x, own, weights = data.x[:n], _own(fitted.columns), fitted.posterior.mean
    count = np.maximum(np.bincount(taster, minlength=k), 1)

    def centred(values: Floats) -> Floats:
        """Less each taster's mean: an offset must not pass for a slope."""
        return values - (np.bincount(taster, values, minlength=k) / count)[taster]

    points = centred(x @ np.where(own, 0.0, weights))
    left = centred(data.y - x @ np.where(own, weights, 0.0))
    square = points**2
    if fitted.posterior.cov is not None:
        square = square + fitted.posterior.variance(x @ sparse.diags(np.where(own, 0.0, 1.0), format="csr"))
    product, square = (np.bincount(taster, v, minlength=k).astype(np.float64) for v in (points * left, square))
    centre = max(float(product.sum()), 1e-6) / max(float(square.sum()), 1e-6)
    known = [slope_evidence(product, square, centre, fitted.noise_sd, sd) for sd in SLOPE_SDS]
    known += spread_prior(SLOPE_SDS, SLOPE_SD, SLOPE_COUNT)
    prior = (fitted.noise_sd / SLOPE_SDS[int(np.argmax(known))]) ** 2
    slopes = np.clip((product / centre + prior) / (square + prior), 0.3, 2.0)
    return np.asarray(slopes / slopes.mean())


def slope_evidence(product: Floats, square: Floats, centre: float, noise_sd: float, sd: float) -> float:
    r"""Log evidence that slopes differ by ``sd``, but for its prior: a sum over tasters.

    A taster's own estimate :math:`p_t / q_t` is normal around the slope of all, with variance
    :math:`\tau^2 + \sigma^2 / q_t`.
    """
    told = square > 0
    variance = sd**2 + noise_sd**2 / square[told]
    off = product[told] / square[told] / centre - 1.0
    return -0.5 * float((np.log(variance) + off**2 / variance).sum())


def _fit(
    model: Liking, data: _Scores, weight: Floats | None, tol: float, like: Liking | None
) -> tuple[Liking, Floats | None]:
    """Fit scores and, if there are any, comparisons; outliers are weighted down."""
    columns = model.columns
    x, gaps = data.rows(columns)
    y = data.y - data.offset(columns)
    prior = columns.prior()
    count = np.append(np.array(prior.pop("pseudo_count")), NOISE_COUNT)
    var = np.append(np.array(prior.pop("pseudo_var")), NOISE_VAR)
    options = {**prior, "pseudo_count": count, "pseudo_var": var, "fit_intercept": False, "tol": tol, "random_state": 0}
    options["variance_rows"] = data.variance_rows
    if like is not None and like.columns.keys is columns.keys:
        options["init_coef"] = like.posterior.mean
    precision = np.ones(len(y)) if data.precision is None else data.precision
    level = float(precision.mean()) if len(precision) else 1.0
    precision = precision / level  # noise_var_ is that of an average score, times this level that of a fresh cup
    start = var if like is None else np.append(columns.learned_order(like.variances), like.noise_sd**2 / level)
    if data.share is None:
        given = None if weight is None and data.precision is None else precision * (1.0 if weight is None else weight)
        fitted = _regress(options, x, y, given, start, update=like is not None)
        if weight is None:
            weight = _trust(data, data.offset(columns) + x @ fitted.coef_, np.sqrt(precision / fitted.noise_var_))
            again = np.append(fitted.block_var_, fitted.noise_var_)
            if weight is not None:
                fitted = _regress(options, x, y, precision * weight, again, update=True)
    else:
        fitted = _regress_paired(options, (x, gaps), data, start, precision)
    done = replace(
        model,
        posterior=_with_positive(columns, fitted.posterior_),
        variances=columns.variances(fitted.block_var_),
        noise_sd=float(np.sqrt(fitted.noise_var_ * level)),
    )
    return done, weight


def _with_positive(columns: Columns, posterior: Posterior) -> Posterior:
    """Being off the needed dose costs points: a negative cost would reward not knowing the dose."""
    for block in columns.blocks:
        if block.positive and block.name in columns.start:
            posterior = posterior.positive(columns.start[block.name])
    return posterior


def _trust(data: _Scores, expected: Floats, per_sd: Floats) -> Floats | None:
    """Weight of every score; None where all count alike.

    Scores count for less that lie far out, where more do than a normal spread explains. A score at an end of the scale
    says next to nothing of how far beyond it a cup lies that is expected there.
    """
    low, high = data.ends
    beyond = (data.y <= low) & (expected < low) | (data.y >= high) & (expected > high)
    far = np.where(beyond, 0.0, np.abs(data.y - expected) * per_sd)
    if not _has_outliers(far, beyond):
        return None
    weight = (OUTLIER_SD / np.maximum(far, OUTLIER_SD)) ** 2
    return np.asarray(np.where(beyond, LEAST_WEIGHT, weight / weight.mean()))


def _has_outliers(residual: Floats, beyond: Any) -> bool:
    """Whether more scores are out of reach than a normal spread explains, or, in a log of bench size, any is."""
    far = residual > OUTLIER_SD
    some = residual.max() > OUTLIER_SD + 1.0 or beyond.any()
    return bool((far | beyond).mean() > 0.01 or (len(residual) < 10_000 and some))


def _regress(options: dict[str, Any], x: Any, y: Floats, weight: Floats | None, start: Floats, *, update: bool) -> Any:
    """Solve; an update keeps the variances that it starts from where the evidence would hardly move them."""
    from pairing.learning.evidence import BlockRegression

    if update and min(x.shape) <= LARGE:
        kept = BlockRegression(**options, init_var=start, max_iter=0).fit(x, y, sample_weight=weight)
        if np.abs(np.log(kept.next_var_ / start)).max() < DRIFT:
            return kept
        start = kept.next_var_
    return BlockRegression(**options, init_var=start).fit(x, y, sample_weight=weight)


def _regress_paired(
    options: dict[str, Any], rows: tuple[Any, Any], data: _Scores, start: Floats, precision: Floats
) -> Any:
    r"""Solve with comparisons as working responses, whose weights follow from the fit before.

    The left is picked with chance :math:`\Phi(g / \sqrt2 \sigma)`: each side reads like one score, of noise
    :math:`\sigma^2`. That noise is learned from the scores alone, by an EM step with its prior of :math:`\nu` scores of
    :math:`\sigma_0^2`: :math:`\sigma^2 = (\mathrm{E}\|y - X\theta\|^2 + \nu\sigma_0^2) / (n + \nu)`. What a working
    response is off by follows from the answers' own model and says nothing of it.
    """
    x, gaps = rows
    both = sparse.vstack([x, gaps], format="csr")
    gap = np.asarray(gaps @ options["prior_mean"]).ravel()
    assert data.share is not None
    fitted = None
    for _ in range(6):
        noise = start[-1]
        score, information = working_gap(data.share, gap, float(np.sqrt(2.0 * noise)))
        y = np.append(data.y, gap + score / information)
        weight = np.append(precision, information * noise)
        fitted = _regress({**options, "noise_var": noise}, both, y, weight, start, update=False)
        left = data.y - x @ fitted.coef_
        spread = float(precision @ (left**2 + fitted.posterior_.rough_variance(x)))
        total = spread + NOISE_COUNT * NOISE_VAR
        start = np.append(fitted.block_var_, total / (len(data.y) + NOISE_COUNT))
        moved = np.asarray(gaps @ fitted.coef_).ravel()
        done = np.abs(moved - gap).max() < 0.02 and abs(np.log(start[-1] / noise)) < 0.05
        gap = moved
        if done:
            break
    return fitted
