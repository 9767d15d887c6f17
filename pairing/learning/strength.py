"""Needed dose: where each flavouring reads 'just right' in each base, from every strength that was ever given."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning import columns as col
from pairing.learning import effects
from pairing.learning.adopted import NO_POOL, Adopted
from pairing.learning.block import About, Block, entries_of, in_use
from pairing.learning.columns import Columns, Encoded
from pairing.learning.design import Additions, Traits, Who, additions_of
from pairing.learning.log import Log
from pairing.learning.ordinal import MAX_ROWS, Binned, Ordinal, fit_ordinal, working_response
from pairing.learning.paired import Paired, working_gap
from pairing.learning.posterior import Posterior
from pairing.learning.rules import NO_RULES, RuleColumns
from pairing.learning.scene import Occasion, Scene, Typical
from pairing.learning.some_rows import variance_rows
from pairing.model.constants import SERVING_SHARE
from pairing.model.recipes import Recipes

__all__ = [
    "BLOCKS",
    "Strength",
    "StrengthParams",
    "blocks_of",
    "fit_strength",
    "left_less_right",
    "log_label",
    "working",
]

Floats = np.ndarray[Any, np.dtype[np.float64]]
Ints = np.ndarray[Any, np.dtype[np.int64]]

NONE = np.empty(0)
LABEL_SD = 0.3
"""How far labels are off in common, natural log units (our choice, no source)."""
MAX_ITER = 3
"""Updates of the variances between two working responses (our choice): with more, what is found is the same."""
MANY_JUDGED = 80_000
"""Judgements of a huge log that variances are learned from (our choice)."""
MOVED = 0.1
"""Log variances that moved by less since leave what is uncertain of the doses as it was (our choice)."""
GUESS_SD = 1.0
"""How far the dose may be off that form and carrier make one expect where there is no label (our choice)."""
LOT_SD = 0.15
"""How far one lot of a flavouring may be off another, each by so much, natural log units (our choice): not learned,
since one strong lot among many that are alike would be taken for noise."""
BLOCKS = (
    Block("label", "average", LABEL_SD**2, fixed=True, keys=effects.everywhere),
    Block("base", "base", 0.05, keys=effects.base, about=About(base=True), between_bases=True),
    Block("flavouring", "flavouring", 0.1, 4.0, keys=effects.flavouring, about=About(flavourings=1)),
    Block("unlabelled", "flavouring", GUESS_SD**2, fixed=True, keys=effects.unlabelled, about=About(flavourings=1)),
    Block("family", "family", 0.02, keys=effects.family, about=About(families=1)),
    Block(
        "affinity",
        "affinity",
        0.03,
        4.0,
        keys=effects.affinity,
        about=About(base=True, flavourings=1),
        between_bases=True,
        cells=True,
    ),
    Block(
        "base*family",
        "affinity",
        0.01,
        keys=effects.base_family,
        about=About(base=True, families=1),
        between_bases=True,
    ),
    Block(
        "trait*flavouring",
        "affinity",
        0.007,
        keys=effects.trait_flavouring,
        about=About(base=True, flavourings=1),
        between_bases=True,
    ),
    Block("fat*fat_loving", "affinity", 0.3**2, mean=0.15, fixed=True, keys=effects.fat_loving),
    Block("companions", "companions", 0.1**2, mean=0.05, fixed=True, keys=effects.companions),
    Block("masking", "companions", 0.004, keys=effects.masking, about=About(flavourings=1)),
    Block("taster", "taster", 0.03, keys=effects.taster, local=True),
    Block("taster*flavouring", "taster", 0.02, keys=effects.taster_flavouring, local=True, cells=True),
    Block("cup", "occasion", 0.02, keys=effects.cup, local=True),
    Block("session", "occasion", 0.01, keys=effects.session, local=True, least=2),
    Block("lot", "lot", LOT_SD**2, fixed=True, keys=effects.lot, local=True),
    Block("position", "occasion", 0.003, keys=effects.position, least=2),
    Block("minutes", "occasion", 0.05**2, fixed=True, keys=effects.minutes),
    Block("fading", "occasion", 0.7**2, fixed=True, keys=effects.fading),
    Block("thickening", "occasion", 0.03**2, keys=effects.thickening, between_bases=True),
    Block("temperature", "occasion", 0.1**2, fixed=True, keys=effects.temperature),
    Block("full glass", "occasion", 0.15**2, mean=math.log(SERVING_SHARE), fixed=True, keys=effects.full_glass),
    Block("stepped", "stepped", 0.1**2, fixed=True, keys=effects.stepped),
)
"""What the log needed dose of an addition could rest on, relative to the label, for fresh cups: expected variances, in
squared natural log units, and means where they are not 0 (our choice). What belongs to the occasion is learned, and
left out of predictions."""


def blocks_of(traits: Traits, rules: RuleColumns = NO_RULES, pool: Adopted = NO_POOL) -> tuple[Block, ...]:
    """Return the blocks of the needed dose for a shelf, with what other kitchens and rules expect of them."""
    return in_use(rules.dose_blocks(pool.blocks(BLOCKS)), traits.n_bases)


@dataclass(frozen=True)
class StrengthParams:
    """How strength words come about: P(strength ≤ k) = Φ((thresholds[k] − ln(dose ÷ needed)) ÷ scale).

    Attributes
    ----------
    thresholds : tuple of five floats
        In natural log units of dose; 2|3 and 3|4 are symmetric about 0.
    scale : float
        Spread of perception, natural log units.
    stepped : float
        How much stronger (+) or weaker (−) a stepped cup reads than a fresh one, natural log units.
    cup_sd : float
        How much all readings of one cup are off together, natural log units.
    """

    thresholds: tuple[float, ...]
    scale: float
    stepped: float = 0.0
    cup_sd: float = 0.0


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
    evidence_n: int
    rules: RuleColumns = NO_RULES
    pool: Adopted = NO_POOL

    def log_label(self, base: Ints, flavouring: Ints) -> Floats:
        """Log of the label dose in a base; where there is none, of the dose that form and carrier make one expect."""
        return log_label(self.traits, base, flavouring)

    @property
    def informed(self) -> bool:
        """Whether any strength or comparison of strength was logged, or other kitchens are listened to."""
        return self.columns.n > 0 or bool(self.pool.known)

    @property
    def params(self) -> StrengthParams:
        """How strength words come about."""
        at = self.columns.start.get("stepped")
        return StrengthParams(
            thresholds=tuple(self.ordinal.thresholds.tolist()),
            scale=self.ordinal.scale,
            stepped=0.0 if at is None else -float(self.posterior.mean[at]),
            cup_sd=float(np.sqrt(self.variances.get("cup", 0.0))),
        )

    def encode(self, recipes: Recipes, adds: Additions, who: Who | None = None) -> Encoded:
        """Encode the log needed dose of additions, less the log label dose; ``who`` is per recipe."""
        asked = Who.everyone(len(recipes), self.n_tasters) if who is None else who
        recipes = _poured(recipes, self.traits)
        whose = asked.take(adds.row) if asked.personal else None
        entries = entries_of(self.columns.blocks, Scene.of_additions(adds, recipes, self.traits, whose))
        entries |= self.pool.entries(entries) | self.rules.dose_entries(recipes)
        return self.columns.encode(entries, len(adds), self.variances)

    def needed(self, recipes: Recipes, who: Who | None = None, *, rough: bool = False) -> tuple[Floats, Floats]:
        """Log needed dose of every slot: mean and sd, shape (n, k), NaN in empty slots."""
        adds = additions_of(recipes)
        rows = self.encode(recipes, adds, who)
        mean = np.full(recipes.flavouring.shape, np.nan)
        sd = mean.copy()
        at = adds.row, adds.slot
        mean[at] = self.log_label(adds.base, adds.flavouring) + col.mean(self.posterior, rows)
        sd[at] = np.sqrt(col.variance(self.posterior, rows, rough=rough))
        return mean, sd


def _poured(recipes: Recipes, traits: Traits) -> Recipes:
    """Take recipes that do not say which lots they are of from those in use."""
    if recipes.lot is not None or (traits.lot_in_use < 0).all():
        return recipes
    return replace(recipes, lot=np.where(recipes.present, traits.lot_in_use[recipes.flavouring], -1))


def log_label(traits: Traits, base: Ints, flavouring: Ints) -> Floats:
    """Natural log of the label dose; where there is none, of the dose that form and carrier make one expect."""
    label = traits.log_label[base, flavouring]
    return np.where(np.isnan(label), traits.log_expected[flavouring], label)


def fit_strength(
    log: Log,
    traits: Traits,
    *,
    paired: Paired | None = None,
    rules: RuleColumns = NO_RULES,
    pool: Adopted = NO_POOL,
    start: Strength | None = None,
    n_rounds: int = 20,
    tol: float = 0.02,
) -> Strength:
    """Learn needed doses from every strength in the log, the not detected and the too strong alike.

    ``paired`` are comparisons of strength; ``pool`` is what other kitchens know; ``start`` is an earlier fit to begin
    from.
    """
    recipes = log.recipes if paired is None else Recipes.stack([log.recipes, paired.left, paired.right])
    adds = additions_of(recipes)
    known = adds.row < len(log)
    strength = np.full(len(adds), np.nan)
    strength[known] = log.strength[adds.row[known], adds.slot[known]]
    keep = np.flatnonzero(~np.isnan(strength) | ~known)
    used = adds.take(keep)
    n = int((~np.isnan(strength)).sum())  # judged additions come first
    log_dose = recipes.log_dose[used.row, used.slot]
    blocks = blocks_of(traits, rules, pool)
    judged = used.take(slice(0, n))
    occasion = Occasion.of(log, judged.row, Typical.of(Typical.told(log)))
    whose = Who(log.taster[judged.row], len(log.tasters)) if len(log.tasters) > 1 else None
    entries = entries_of(blocks, Scene.of_additions(used, recipes, traits, whose, occasion))
    entries |= pool.entries(entries) | rules.dose_entries(recipes, keep)
    columns = Columns.of(blocks, entries)
    x = columns.encode(entries, len(used)).x
    distance = log_dose - log_label(traits, used.base, used.flavouring)
    answers = None if paired is None else _answers(paired, used, n, len(log), x, distance)
    data = _Judgements(
        x[:n], strength[keep[:n]].astype(np.int64), distance[:n], answers, _some(recipes, traits, judged)
    )
    ordinal, posterior, learned = _fit(columns, data, n_rounds, tol, start, Ordinal.start(pool.ordinal))
    return Strength(
        traits=traits,
        columns=columns,
        posterior=posterior,
        variances=columns.variances(learned),
        ordinal=ordinal,
        n_tasters=len(log.tasters),
        evidence_n=n,
        rules=rules,
        pool=pool,
    )


@dataclass(frozen=True)
class _Answers:
    """Comparisons of strength: columns and log dose of the left less the right."""

    x: Any
    distance: Floats
    share: Floats


@dataclass(frozen=True)
class _Judgements:
    """Columns, category and log dose over the label of every judgement, and comparisons."""

    x: Any
    category: Ints
    distance: Floats
    answers: _Answers | None
    variance_rows: Ints | None

    @property
    def one_word(self) -> bool:
        """Whether all that was heard is one word: it moves doses, but tells nothing of spreads and variances."""
        return self.answers is None and (self.category == self.category[:1]).all()

    @property
    def rows(self) -> Any:
        """Columns of judgements, then of comparisons."""
        return self.x if self.answers is None else sparse.vstack([self.x, -self.answers.x], format="csr")

    def working(self, ordinal: Ordinal, eta: Floats) -> tuple[Floats, Floats]:
        """Working response and weight of every row, given the linear predictor of the rows."""
        if self.answers is None:
            return working(ordinal, self.category, NONE, self.distance, eta)
        distance = np.append(self.distance, self.answers.distance)
        return working(ordinal, self.category, self.answers.share, distance, eta)

    @property
    def some(self) -> Ints:
        """Judgements whose uncertainty stands for all."""
        n = len(self.category)
        return np.arange(n) if n <= MAX_ROWS else np.linspace(0, n - 1, MAX_ROWS).astype(np.int64)

    def improved(self, ordinal: Ordinal, eta: Floats, variance: Floats) -> Ordinal:
        """Thresholds and scale one step better, given what is uncertain of some of the rows."""
        n = len(self.category)
        paired = None
        if self.answers is not None:
            paired = self.answers.share, self.answers.distance + eta[n:]
        excess = self.distance - eta[:n]
        if n <= MAX_ROWS:
            return fit_ordinal(ordinal, self.category, excess, variance, None, paired)
        return fit_ordinal(ordinal, *Binned.of(self.category, excess, variance.mean()).rows, paired)


def working(ordinal: Ordinal, category: Ints, share: Floats, distance: Floats, eta: Floats) -> tuple[Floats, Floats]:
    """Working response and weight of judgements, then of comparisons.

    ``distance`` is a judgement's log dose over the label, or a comparison's left less right; ``eta`` what is predicted
    of the needed dose, of a comparison right less left.
    """
    n = len(category)
    score, information = working_response(ordinal, category, distance[:n] - eta[:n])
    if len(share):
        more, weight = working_gap(share, distance[n:] + eta[n:], ordinal.scale * np.sqrt(2.0))
        score, information = np.append(score, more), np.append(information, weight)
    return eta + score / information, information


def _some(recipes: Recipes, traits: Traits, judged: Additions) -> Ints | None:
    """Choose judgements of a huge log to learn variances from."""
    if len(judged) <= MANY_JUDGED:
        return None
    rows = variance_rows(recipes, traits.n_flavourings, len(recipes) * MANY_JUDGED // len(judged))
    return None if rows is None else np.flatnonzero(np.isin(judged.row, rows))


def _answers(paired: Paired, used: Additions, n: int, n_log: int, x: Any, distance: Floats) -> _Answers:
    mix = left_less_right(len(paired), used.row[n:] - n_log)
    return _Answers((mix @ x[n:]).tocsr(), np.asarray(mix @ distance[n:]), paired.share)


def left_less_right(n: int, row: Ints) -> Any:
    """Return what makes n comparisons of additions to their left, then their right cups: each side is a mean."""
    weight = np.where(row < n, 1.0, -1.0) / np.bincount(row, minlength=2 * n)[row]
    return sparse.csr_matrix((weight, (row % max(n, 1), np.arange(len(row)))), (n, len(row)))


def _fit(
    columns: Columns, data: _Judgements, n_rounds: int, tol: float, start: Strength | None, ordinal: Ordinal
) -> tuple[Ordinal, Posterior, Floats]:
    """Alternate a weighted regression on working responses with thresholds given the spread of what was found."""
    from pairing.learning.evidence import BlockRegression

    if start is not None:
        ordinal = replace(ordinal, parameters=start.ordinal.parameters)
    prior = columns.prior()
    count = np.append(np.array(prior.pop("pseudo_count")), 0.0)
    var = np.append(np.array(prior.pop("pseudo_var")), 1.0)
    options = {**prior, "pseudo_count": count, "pseudo_var": var, "fit_intercept": False, "noise_var": 1.0}
    options["variance_rows"] = data.variance_rows
    learned = var.copy()
    if start is not None:
        learned[:-1] = columns.learned_order(start.variances)
    x = data.rows
    if not x.shape[0]:
        return ordinal, Posterior(prior["prior_mean"], cov=np.diag(prior["prior_scale"])), learned[:-1]
    eta = np.asarray(x @ (prior["prior_mean"] if start is None else columns.carried(start))).ravel()
    model, uncertain, at = None, np.zeros(0), np.full(len(learned), np.inf)
    for _ in range(n_rounds):
        target, information = data.working(ordinal, eta)
        used = learned
        coef = None if model is None else getattr(model, "start_", None)
        once = coef is None  # while the doses are far off, and where one step is exact
        model = BlockRegression(
            **options, init_var=used, init_coef=coef, max_iter=0 if once else MAX_ITER, random_state=0
        )
        model.fit(x, target, sample_weight=information)
        new = np.asarray(x @ model.coef_).ravel()
        before = ordinal.parameters
        if not data.one_word:
            learned = model.next_var_
            if model.posterior_.draw is None or np.abs(np.log(learned) - at).max() > MOVED:
                uncertain, at = model.posterior_.rough_variance(data.x[data.some]), np.log(learned)
            ordinal = data.improved(ordinal, new, uncertain)
        moved = max(float(np.sqrt(np.mean((new - eta) ** 2))), float(np.abs(ordinal.parameters - before).max()))
        eta = new
        if moved < tol:
            break
    assert model is not None
    return ordinal, model.posterior_, used[:-1]
