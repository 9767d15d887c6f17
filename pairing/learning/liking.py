"""Liking: an additive Bayesian model of what people say of a cup, on top of the learned needed doses."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pairing.learning import columns as col
from pairing.learning.columns import Block, Columns, Encoded, Entries
from pairing.learning.design import Traits, _shares, additions_of, liking_entries, taster_entries
from pairing.learning.evidence import BlockRegression
from pairing.learning.log import Log, Recipes
from pairing.learning.penalty import expected_squares
from pairing.learning.posterior import Posterior
from pairing.learning.strength import Strength

__all__ = ["Liking", "fit_liking"]

Floats = np.ndarray[Any, np.dtype[np.float64]]
Ints = np.ndarray[Any, np.dtype[np.int64]]

BLOCKS = (
    Block("average", "average", np.inf, mean=5.0, fixed=True),
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
    Block("slope", "taster", 0.04, 4.0),
    Block("cup", "cup", 0.05),
    Block("session", "session", 0.05),
    Block("too weak", "dose", 1.5**2, mean=2.0, fixed=True),
    Block("too strong", "dose", 1.5**2, mean=2.0, fixed=True),
)
NOISE_VAR, NOISE_COUNT = 0.9, 6.0
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
    """

    traits: Traits
    strength: Strength
    columns: Columns
    posterior: Posterior
    variances: dict[str, float]
    noise_sd: float
    n_tasters: int
    evidence_n: int
    rules: Any = None
    slope_centre: float = 0.0

    def entries(self, recipes: Recipes, taster: Ints) -> dict[str, Entries]:
        """Entries of recipes for tasters (-1: mean of all, ``n_tasters``: a new person)."""
        out = liking_entries(recipes, self.traits) | penalty_entries(recipes, self.strength)
        if self.rules is not None:
            out |= self.rules.entries(recipes)
        personal = self.n_tasters > 1 or (taster >= self.n_tasters).any()
        if personal:
            common = self.columns.encode(out, len(recipes), self.variances)
            points = col.mean(self.posterior, common) - self.slope_centre
            out |= taster_entries(recipes, taster, self.n_tasters, self.traits)
            rows, who, share = _shares(taster, self.n_tasters)
            out["slope"] = Entries.of(rows, who, share * points[rows])
        return out

    def encode(self, recipes: Recipes, taster: Ints | None = None) -> Encoded:
        """Encode the true liking of recipes."""
        who = np.full(len(recipes), -1, np.int64) if taster is None else taster
        return self.columns.encode(self.entries(recipes, who), len(recipes), self.variances)

    def mean(self, rows: Encoded) -> Floats:
        """Expected true liking, points, before the ends of the scale."""
        return col.mean(self.posterior, rows)

    def sd(self, rows: Encoded) -> Floats:
        """Standard deviation of the true liking, points."""
        return np.sqrt(col.variance(self.posterior, rows))


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


def _context_entries(log: Log, rows: Ints, traits: Traits) -> dict[str, Entries]:
    """Entries of who tasted and of the occasion."""
    at = np.arange(len(rows))
    out: dict[str, Entries] = {}
    if len(log.tasters) > 1:
        out |= taster_entries(log.recipes.take(rows), log.taster[rows], len(log.tasters), traits)
    size = np.bincount(log.cup[rows], minlength=len(log.trials))
    together = size[log.cup[rows]] > 1
    out["cup"] = Entries.of(at[together], log.cup[rows][together])
    session = log.session[rows]
    if len(set(session[session >= 0])) > 1:
        out["session"] = Entries.of(at[session >= 0], session[session >= 0])
    return {name: e for name, e in out.items() if len(e.row)}


def fit_liking(
    log: Log, traits: Traits, strength: Strength, *, scores: Floats | None = None, rules: Any = None, tol: float = 0.02
) -> Liking:
    """Learn liking from every score in the log.

    Parameters
    ----------
    scores : array, shape (n,), optional
        What to learn instead of liking (likeness to a target), NaN where not given.
    """
    score = log.liking if scores is None else scores
    rows = np.flatnonzero(~np.isnan(score))
    recipes, y = log.recipes.take(rows), score[rows]
    entries = liking_entries(recipes, traits) | penalty_entries(recipes, strength) | _context_entries(log, rows, traits)
    blocks = BLOCKS
    if rules is not None:
        blocks = rules.blocks(BLOCKS)
        entries |= rules.entries(recipes)
    model = Liking(
        traits=traits,
        strength=strength,
        columns=Columns.of(blocks, entries),
        posterior=Posterior(np.zeros(0)),
        variances={},
        noise_sd=float(np.sqrt(NOISE_VAR)),
        n_tasters=len(log.tasters),
        evidence_n=len(rows),
        rules=rules,
    )
    if not len(rows):
        return _prior_only(model)
    fitted, weight = _fit(model, entries, y, None, tol)
    if len(log.tasters) > 1 and len(rows) > 20:
        common = {k: e for k, e in entries.items() if k not in ("taster", "taste", "taster*base", "cup", "session")}
        points = col.mean(fitted.posterior, fitted.columns.encode(common, len(rows)))
        centre = float(points.mean())
        entries["slope"] = Entries.of(np.arange(len(rows)), log.taster[rows], points - centre)
        model = replace(model, columns=Columns.of(blocks, entries), slope_centre=centre)
        fitted, weight = _fit(model, entries, y, weight, tol, like=fitted)
    return fitted


def _prior_only(model: Liking) -> Liking:
    columns = replace(model.columns, keys={"average": np.zeros(1, np.int64)}, scales={"average": np.ones(1)}, n=1)
    columns.start["average"] = 0  # type: ignore[index]
    variances = {b.name: b.var for b in columns.blocks}
    return replace(model, columns=columns, posterior=Posterior(np.array([5.0]), cov=np.array([[2.0]])), variances=variances)


def _fit(
    model: Liking, entries: dict[str, Entries], y: Floats, weight: Floats | None, tol: float, like: Liking | None = None
) -> tuple[Liking, Floats | None]:
    """Fit, then once more with wild scores weighted down if there are any."""
    columns = model.columns
    x = columns.encode(entries, len(y)).x
    prior = columns.prior()
    count = np.append(np.array(prior.pop("pseudo_count")), NOISE_COUNT)
    var = np.append(np.array(prior.pop("pseudo_var")), NOISE_VAR)
    start = var.copy()
    if like is not None:
        names = [b.name for b in columns.blocks if not b.fixed and b.name in columns.keys]
        start[:-1] = [like.variances[n] for n in names]
        start[-1] = like.noise_sd**2
    options = {**prior, "pseudo_count": count, "pseudo_var": var, "fit_intercept": False, "tol": tol, "random_state": 0}
    fitted = BlockRegression(**options, init_var=start).fit(x, y, sample_weight=weight)
    wild = np.abs(y - x @ fitted.coef_) / np.sqrt(fitted.noise_var_)
    if weight is None and wild.max() > WILD:
        weight = np.where(wild > WILD, WILD / np.maximum(wild, WILD), 1.0) ** 2
        weight /= weight.mean()
        again = np.append(fitted.block_var_, fitted.noise_var_)
        fitted = BlockRegression(**options, init_var=again).fit(x, y, sample_weight=weight)
    done = replace(
        model,
        posterior=fitted.posterior_,
        variances=columns.variances(fitted.block_var_),
        noise_sd=float(np.sqrt(fitted.noise_var_)),
    )
    return done, weight
