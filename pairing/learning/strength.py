"""Needed dose: where each flavouring reads 'just right' in each base, from every strength that was ever given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pairing.learning import columns as col
from pairing.learning.columns import Block, Columns, Encoded, Entries
from pairing.learning.design import Additions, Traits, Who, additions_of, dose_entries, occasion_entries
from pairing.learning.log import Log, Recipes
from pairing.learning.ordinal import Ordinal, fit_ordinal, working_response
from pairing.learning.posterior import Posterior

__all__ = ["Strength", "fit_strength"]

Floats = np.ndarray[Any, np.dtype[np.float64]]
Ints = np.ndarray[Any, np.dtype[np.int64]]

LABEL_SD = 0.35
"""How far labels are off in common, natural log units (our choice, no source)."""
BLOCKS = (
    Block("label", "average", LABEL_SD**2, fixed=True),
    Block("base", "base", 0.06),
    Block("flavouring", "flavouring", 0.1, 4.0),
    Block("family", "family", 0.02),
    Block("affinity", "affinity", 0.04, 4.0),
    Block("base*family", "affinity", 0.01),
    Block("trait*flavouring", "affinity", 0.01),
    Block("fat*fat_loving", "affinity", 0.3**2, mean=0.15, fixed=True),
    Block("companions", "companions", 0.1**2, mean=0.05, fixed=True),
    Block("masking", "companions", 0.004),
    Block("taster", "taster", 0.03),
    Block("taster*flavouring", "taster", 0.02),
    Block("cup", "cup", 0.02),
    Block("session", "session", 0.01),
    Block("stepped", "stepped", 0.1**2, fixed=True),
)


@dataclass(frozen=True)
class Strength:
    """Learned needed doses.

    Attributes
    ----------
    ordinal : Ordinal
        Thresholds and spread of perception.
    variances : mapping of block name to float
    evidence_n : int
        Strengths that it rests on.
    """

    traits: Traits
    columns: Columns
    posterior: Posterior
    variances: dict[str, float]
    ordinal: Ordinal
    n_tasters: int
    fallback_log_label: float
    evidence_n: int
    rules: Any = None

    def log_label(self, flavouring: Ints) -> Floats:
        """Log of the label dose; where there is none, of the typical dose of the log."""
        label = self.traits.log_label[flavouring]
        return np.where(np.isnan(label), self.fallback_log_label, label)

    @property
    def stepped_offset(self) -> float:
        """How much stronger (+) or weaker (−) a stepped cup reads than a fresh one, natural log units."""
        at = self.columns.start.get("stepped")
        return 0.0 if at is None else -float(self.posterior.mean[at])

    def encode(self, recipes: Recipes, adds: Additions, who: Who | None = None) -> Encoded:
        """Encode the log needed dose of additions, less the log label dose; ``who`` is per recipe."""
        entries = dose_entries(adds, recipes, self.traits)
        asked = Who.everyone(len(recipes), self.n_tasters) if who is None else who
        if asked.personal:
            entries |= _taster_entries(adds, asked.take(adds.row), self.traits)
        if self.rules is not None:
            entries |= self.rules.dose_entries(recipes)
        return self.columns.encode(entries, len(adds), self.variances)

    def needed(self, recipes: Recipes, who: Who | None = None) -> tuple[Floats, Floats]:
        """Log needed dose of every slot: mean and sd, shape (n, k), NaN in empty slots."""
        adds = additions_of(recipes)
        rows = self.encode(recipes, adds, who)
        mean = np.full(recipes.flavouring.shape, np.nan)
        sd = mean.copy()
        at = adds.row, adds.slot
        mean[at] = self.log_label(adds.flavouring) + col.mean(self.posterior, rows)
        unlabelled = np.where(np.isnan(self.traits.log_label[adds.flavouring]), 1.0, 0.0)
        sd[at] = np.sqrt(col.variance(self.posterior, rows) + unlabelled)
        return mean, sd


def _taster_entries(adds: Additions, who: Who, traits: Traits) -> dict[str, Entries]:
    rows, taster, share = who.shares()
    item = adds.flavouring[rows]
    return {
        "taster": Entries.of(rows, taster, share),
        "taster*flavouring": Entries.of(rows, taster * traits.n_flavourings + item, share),
    }


def _context_entries(log: Log, judged: Additions, traits: Traits) -> dict[str, Entries]:
    """Entries of what belongs to the occasion: who, which cup, which session, stepped or fresh."""
    out = occasion_entries(log, judged.row)
    if len(log.tasters) > 1:
        out |= _taster_entries(judged, Who(log.taster[judged.row], len(log.tasters)), traits)
    stepped = np.flatnonzero(log.stepped[judged.row])
    if len(stepped):
        out["stepped"] = Entries.of(stepped, 0)
    return out


def fit_strength(
    log: Log, traits: Traits, *, rules: Any = None, start: Strength | None = None, n_rounds: int = 20, tol: float = 0.02
) -> Strength:
    """Learn needed doses from every strength in the log, the not detected and the too strong alike.

    ``start`` is an earlier fit to begin from.
    """
    adds = additions_of(log.recipes)
    strength = log.strength[adds.row, adds.slot]
    keep = np.flatnonzero(~np.isnan(strength))
    judged = Additions(*(getattr(adds, name)[keep] for name in ("row", "slot", "base", "flavouring", "companions")))
    category = strength[keep].astype(np.int64)
    log_dose = log.recipes.log_dose[judged.row, judged.slot]
    fallback = float(np.median(log_dose)) if len(log_dose) else 0.0
    entries = dose_entries(judged, log.recipes, traits) | _context_entries(log, judged, traits)
    blocks = BLOCKS
    if rules is not None:
        blocks = rules.dose_blocks(BLOCKS)
        entries |= rules.dose_entries(log.recipes, keep)
    columns = Columns.of(blocks, entries)
    x = columns.encode(entries, len(judged)).x
    label = traits.log_label[judged.flavouring]
    distance = log_dose - np.where(np.isnan(label), fallback, label)
    ordinal, posterior, learned = _fit(columns, x, category, distance, n_rounds, tol, start)
    return Strength(
        traits=traits,
        columns=columns,
        posterior=posterior,
        variances=columns.variances(learned),
        ordinal=ordinal,
        n_tasters=len(log.tasters),
        fallback_log_label=fallback,
        evidence_n=len(judged),
        rules=rules,
    )


def _fit(
    columns: Columns,
    x: Any,
    category: Ints,
    distance: Floats,
    n_rounds: int,
    tol: float,
    start: Strength | None = None,
) -> tuple[Ordinal, Posterior, Floats]:
    """Alternate a weighted regression on working responses with thresholds given the spread of what was found."""
    from pairing.learning.evidence import BlockRegression

    ordinal = Ordinal.start() if start is None else start.ordinal
    prior = columns.prior()
    count = np.append(np.array(prior.pop("pseudo_count")), 0.0)
    var = np.append(np.array(prior.pop("pseudo_var")), 1.0)
    options = {**prior, "pseudo_count": count, "pseudo_var": var, "fit_intercept": False, "noise_var": 1.0}
    learned = var.copy()
    if start is not None:
        learned[:-1] = columns.learned_order(start.variances)
    if not len(category):
        mean = prior["prior_mean"]
        return ordinal, Posterior(mean, cov=np.diag(prior["prior_scale"])), learned[:-1]
    eta = np.asarray(x @ (prior["prior_mean"] if start is None else columns.carried(start))).ravel()
    model = None
    for _ in range(n_rounds):
        score, information = working_response(ordinal, category, distance - eta)
        used = learned
        model = BlockRegression(**options, init_var=used, max_iter=0, random_state=0)
        model.fit(x, eta + score / information, sample_weight=information)
        learned = getattr(model, "next_var_", np.append(model.block_var_, 1.0))
        new = np.asarray(x @ model.coef_).ravel()
        before = ordinal.parameters
        ordinal = fit_ordinal(ordinal, category, distance - new, model.posterior_.variance(x))
        moved = max(float(np.abs(new - eta).max()), float(np.abs(ordinal.parameters - before).max()))
        eta = new
        if moved < tol:
            break
    assert model is not None
    return ordinal, model.posterior_, used[:-1]
