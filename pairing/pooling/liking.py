"""Liking from the logs of many kitchens: the stages of `pairing.learning.liking_fit`, over parts.

Scores, what each taster makes of the scale, outliers and the kitchens' own effects stay where the readings are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.block import Entries
from pairing.learning.columns import Columns, Counts, places
from pairing.learning.design import Traits, additions_of
from pairing.learning.factors import Cells, Factors, fit_factors
from pairing.learning.iterative import Regressed, regress
from pairing.learning.liking import OWN
from pairing.learning.liking_fit import OUTLIER_SD, SLOPE_SDS, slope_evidence, slope_prior
from pairing.learning.low_rank import MANY_CELLS
from pairing.learning.parts import HeldParts
from pairing.learning.penalty import expected_squares
from pairing.learning.rows import Level, Rows
from pairing.learning.scatter import Scatter, fit_scatter, taster_ratios
from pairing.learning.scene import Typical
from pairing.learning.some_rows import highest_places, rows_up_to
from pairing.learning.strength import Strength
from pairing.model.arrays import Floats, Ints
from pairing.pooling.doses import Working, log_label
from pairing.pooling.entries import Made, Own, Plan, judged_entries, own_numbers, scored_entries
from pairing.pooling.folder import LogPart

__all__ = ["Adjusted", "DosesKnown", "Scored", "fit_liking_over"]

TABLES = {"affinity": "base", "pair": "flavouring"}
"""Tables of shared cells with a low-rank part, and what their rows are; their columns are flavourings."""
TASTE = "taster*flavouring"


@dataclass(frozen=True, eq=False)
class DosesKnown:
    """What is known of needed doses, for the penalty.

    Attributes
    ----------
    strength : Strength
        Of what all kitchens share.
    plan : Plan
    level : Level
    beta, draws : arrays, shape (p,) and (p, 4)
    seed : int
    """

    strength: Strength
    plan: Plan
    level: Level
    beta: Floats
    draws: Floats
    seed: int

    def penalty(self, part: LogPart, working: Working, rows: Ints, traits: Traits) -> dict[str, Entries]:
        """Make the entries of the off-target penalty of scored cups, as each kitchen needs its doses."""
        adds = additions_of(part.log.recipes)
        place = np.full(len(part.log), -1)
        place[rows] = np.arange(len(rows))
        adds = adds.take(np.flatnonzero(place[adds.row] >= 0))
        made = judged_entries(part, part.log.recipes, adds, self.plan.blocks, traits, None)
        shared = self.plan.columns.encode(made.shared, len(adds), self.strength.variances)
        mean = shared.x @ self.strength.posterior.mean + shared.unseen @ shared.unseen_mean
        spread = ((shared.x @ self.draws) ** 2).mean(axis=1) + shared.unseen.power(2) @ shared.unseen_var
        effects = working.rows.effects(self.level, self.beta)
        variance = (working.rows.deviations(self.level, self.seed, self.draws) ** 2).mean(axis=1)
        own = working.judged.own.look_up(made.own, len(adds), effects, variance, self.strength.variances)
        distance = part.log.recipes.log_dose[adds.row, adds.slot] - log_label(traits, adds) - mean - own[0]
        under, over = expected_squares(distance, np.sqrt(spread + own[1]))
        row = place[adds.row]
        return {"too weak": Entries.of(row, 0, -under), "too strong": Entries.of(row, 0, -over)}


@dataclass(frozen=True, eq=False)
class Scored:
    """Scores of one part.

    Attributes
    ----------
    x : sparse matrix, shape (n, p)
    own : Own
    y : array, shape (n,)
    taster : int array, shape (n,)
        Place among the tasters of this part.
    names : int array, shape (n_tasters,)
        A number for each taster that no other has.
    stepped : bool array, shape (n,)
    highest : int array, shape (n,)
        See `pairing.learning.some_rows`.
    number : int array, shape (n,)
    tables : mapping of block name to Entries
        Cells with a low-rank part.
    """

    x: Any
    own: Own
    y: Floats
    taster: Ints
    names: Ints
    stepped: Any
    highest: Ints
    number: Ints
    tables: dict[str, Entries]
    worth_keeping: bool = True

    @classmethod
    def of(
        cls, parts: tuple[LogPart, Working | None], plan: Plan, traits: Traits, typical: Typical,
        doses: DosesKnown | None, tables: tuple[str, ...],
    ) -> Scored:  # fmt: skip
        """Encode the scores of a part."""
        part, working = parts
        log = part.log
        rows = np.flatnonzero(~np.isnan(log.liking))
        made: Made = scored_entries(part, rows, plan.blocks, traits, typical)
        shared = dict(made.shared)
        if doses is not None and working is not None:
            shared |= doses.penalty(part, working, rows, traits)
        x = plan.columns.encode(shared, len(rows)).x
        of = np.zeros(len(log.tasters), np.int64)
        of[log.taster] = part.kitchen
        cells = {name: (made.shared | made.own)[name] for name in tables if name in made.shared | made.own}
        return cls(
            x=x,
            own=Own.of(made, part, plan),
            y=log.liking[rows],
            taster=log.taster[rows],
            names=own_numbers(part, of, np.arange(len(of)), -2) >> 23,
            stepped=log.stepped[rows],
            highest=highest_places(log.recipes.take(rows), traits.n_flavourings),
            number=own_numbers(part, made.kitchen, np.arange(len(rows)), -3),
            tables=cells,
        )

    def taste_keys(self, n_flavourings: int) -> Ints:
        """Return the cells of taster × flavouring with tasters by number."""
        who, item = np.divmod(self.tables[TASTE].key, n_flavourings)
        return np.asarray(self.names[who] * n_flavourings + item)


@dataclass(frozen=True, eq=False)
class Adjusted:
    """Scores with what was learned of tasters, of outliers and of low-rank parts.

    Attributes
    ----------
    scored : Scored
    offset : array, shape (n,)
        What low-rank parts say where cells have no columns, and of the tasters' own cells.
    slopes : array, shape (n_tasters,)
    precision, weight : arrays, shape (n,)
        By who gave the score and in what cup; and of an outlier.
    """

    scored: Scored
    offset: Floats
    slopes: Floats
    precision: Floats
    weight: Floats

    @classmethod
    def of(cls, scored: Scored) -> Adjusted:
        """Begin with nothing known."""
        n = len(scored.y)
        return cls(scored, np.zeros(n), np.ones(len(scored.names)), np.ones(n), np.ones(n))

    def x(self, own: Any) -> Any:
        """Shared columns, what is common to all tasters stretched by each one's slope."""
        x = self.scored.x
        if (self.slopes == 1.0).all():
            return x
        factor = np.repeat(self.slopes[self.scored.taster], np.diff(x.indptr))
        factor[own[x.indices]] = 1.0
        return sparse.csr_matrix((x.data * factor, x.indices, x.indptr), x.shape)

    def rows(self, mean: Floats, own: Any, norm: float, cut: tuple[int, int] | None = None) -> Rows:
        """Make the rows to be solved for; ``mean`` are prior means, ``own`` columns that no slope stretches."""
        s, x = self.scored, self.x(own)
        y, weight = s.y - self.offset - x @ mean, self.precision * self.weight / norm
        z, number = s.own.z, s.number
        if cut is not None:
            some = rows_up_to(s.highest, *cut)
            x, y, weight, z, number = x[some], y[some], weight[some], z[some], number[some]
        return Rows.of(x, y, weight, z, s.own.prior, s.own.number, number)

    def left(self, rows: Rows, mean: Floats, own: Any, level: Level, beta: Floats) -> tuple[Floats, Floats]:
        """Return what a fit leaves of every score, and the effects of the kitchens' own columns."""
        effects = rows.effects(level, beta)
        return self.scored.y - self.offset - self.x(own) @ (mean + beta) - self.scored.own.z @ effects, effects


# --- steps and questions: pure functions of parts --------------------------------------------------------------------


def weights(adjusted: Adjusted) -> dict[str, Any]:
    """Count the scores, and sum their weights and precisions."""
    n = len(adjusted.scored.y)
    precise = float(adjusted.precision.sum())
    return {"n": n, "weight": float((adjusted.precision * adjusted.weight).sum()), "precision": precise}


def outlying(parts: tuple[Adjusted, Rows], mean: Floats, own: Any, level: Level, beta: Floats) -> dict[str, Any]:
    """Count scores that lie far out, and sum what their weights would be."""
    wild = _wild(parts, mean, own, level, beta)
    return {"far": int((wild > OUTLIER_SD).sum()), "n": len(wild), "weight": float(_trust(wild).sum())}


def trusted(parts: tuple[Adjusted, Rows], mean: Floats, own: Any, level: Level, beta: Floats, total: float) -> Adjusted:
    """Let scores that lie far out count for less."""
    return replace(parts[0], weight=_trust(_wild(parts, mean, own, level, beta)) / total)


def _wild(parts: tuple[Adjusted, Rows], mean: Floats, own: Any, level: Level, beta: Floats) -> Floats:
    left = parts[0].left(parts[1], mean, own, level, beta)[0]
    return np.asarray(np.abs(left) * np.sqrt(parts[0].precision / level.noise))


def _trust(wild: Floats) -> Floats:
    return np.asarray((OUTLIER_SD / np.maximum(wild, OUTLIER_SD)) ** 2)


@dataclass(frozen=True, eq=False)
class CellSums:
    """What is left in cells; those of several parts add up."""

    key: Ints
    count: Floats
    left: Floats

    @classmethod
    def of(cls, key: Ints, left: Floats) -> CellSums:
        """Sum over the cells of one part."""
        keys, place = np.unique(key, return_inverse=True)
        return cls(keys, np.bincount(place).astype(float), np.bincount(place, left, minlength=len(keys)).astype(float))

    def __add__(self, other: CellSums) -> CellSums:
        """Return the sums of both."""
        keys, place = np.unique(np.append(self.key, other.key), return_inverse=True)
        count, left = (
            np.bincount(place, np.append(getattr(self, name), getattr(other, name)), minlength=len(keys)).astype(float)
            for name in ("count", "left")
        )
        return CellSums(keys, count, left)


def cell_sums(
    parts: tuple[Adjusted, Rows], names: tuple[str, ...], mean: Floats, own: Any, level: Level, beta: Floats
) -> dict[str, Any]:
    """Sum what is left in shared cells."""
    left = parts[0].left(parts[1], mean, own, level, beta)[0]
    tables = parts[0].scored.tables
    nothing = Entries.of([], 0)
    found = {name: tables.get(name, nothing) for name in names}
    return {name: CellSums.of(e.key, left[e.row]) for name, e in found.items()}


def taste_cells(
    parts: tuple[Adjusted, Rows],
    mean: Floats,
    own: Any,
    level: Level,
    beta: Floats,
    variance: float,
    n_flavourings: int,
) -> Cells:
    """Return the cells of taster × flavouring of a part, as factors are sought in."""
    adjusted, rows = parts
    left, effects = adjusted.left(rows, mean, own, level, beta)
    scored, shape = adjusted.scored, (1 << 40, n_flavourings)
    if TASTE not in scored.tables:
        none = np.empty(0, np.int64)
        return Cells(none, none, np.empty(0), np.empty(0), shape)
    found, key = scored.tables[TASTE], scored.taste_keys(n_flavourings)
    sums = CellSums.of(key, left[found.row])
    _, first = np.unique(key, return_index=True)
    start, known = scored.own.keys.get(TASTE, (0, np.empty(0, np.int64)))
    at = places(known, found.key[first])
    value = sums.left / sums.count + np.where(at >= 0, np.append(effects, 0.0)[np.where(at >= 0, start + at, -1)], 0.0)
    spread = level.noise / sums.count + np.where(at >= 0, variance, 0.0)
    return Cells(*np.divmod(sums.key, n_flavourings), value, level.noise / spread, shape)


def tasted(parts: tuple[Adjusted, Factors], n_flavourings: int) -> Adjusted:
    """Expect of the tasters' own cells what the factors say."""
    adjusted, factors = parts
    scored = adjusted.scored
    if TASTE not in scored.tables:
        return adjusted
    found = scored.tables[TASTE]
    said = factors.cells(scored.taste_keys(n_flavourings)) * found.value
    return replace(adjusted, offset=adjusted.offset + np.bincount(found.row, said, minlength=len(scored.y)))


def shifted(adjusted: Adjusted, means: Mapping[str, Any], columns: Columns) -> Adjusted:
    """Expect of shared cells without columns what the factors say."""
    offset = adjusted.offset.copy()
    for name, mean in means.items():
        if (found := adjusted.scored.tables.get(name)) is not None:
            alone = places(columns.keys.get(name, np.empty(0, np.int64)), found.key) < 0
            said = mean(found.key[alone]) * found.value[alone]
            offset += np.bincount(found.row[alone], said, minlength=len(offset))
    return replace(adjusted, offset=offset)


@dataclass(frozen=True, eq=False)
class TasterSums:
    """What tells the tasters of a part apart: slope products and squares; scores and squares, fresh and stepped."""

    product: Floats
    square: Floats
    count: Floats
    residual: Floats

    @classmethod
    def of(cls, parts: tuple[Adjusted, Rows], mean: Floats, own: Any, level: Level, beta: Floats) -> TasterSums:
        """Take them from what a fit leaves."""
        adjusted, rows = parts
        scored, x, weights_ = adjusted.scored, adjusted.scored.x, mean + beta
        left, effects = adjusted.left(rows, mean, own, level, beta)
        k = len(scored.names)
        each = np.maximum(np.bincount(scored.taster, minlength=k), 1)

        def centred(values: Floats) -> Floats:
            return values - (np.bincount(scored.taster, values, minlength=k) / each)[scored.taster]

        points = centred(x @ np.where(own, 0.0, weights_))
        rest = scored.y - adjusted.offset - x @ np.where(own, weights_, 0.0) - scored.own.z @ effects
        product, square = (np.bincount(scored.taster, v, minlength=k) for v in (points * centred(rest), points**2))
        cell = scored.taster * 2 + scored.stepped
        count, residual = (np.bincount(cell, v, minlength=2 * k).reshape(-1, 2) for v in (np.ones(len(left)), left**2))
        return cls(product.astype(float), square.astype(float), count.astype(float), residual.astype(float))

    def slope(self) -> dict[str, Any]:
        """Sum what the common slope follows from."""
        return {"product": self.product.sum(), "square": self.square.sum()}

    def evidence(self, centre: float, noise_sd: float) -> dict[str, Any]:
        """Log evidence of each spread of the slopes, but for its prior."""
        return {
            "known": np.array([slope_evidence(self.product, self.square, centre, noise_sd, sd) for sd in SLOPE_SDS])
        }

    def slopes(self, centre: float, prior: float) -> Floats:
        """Slope of every taster, before their mean is made 1."""
        return np.asarray(np.clip((self.product / centre + prior) / (self.square + prior), 0.3, 2.0))

    def mean_slope(self, centre: float, prior: float) -> dict[str, Any]:
        """Sum the slopes, and count them."""
        return {"slope": float(self.slopes(centre, prior).sum()), "n": len(self.product)}

    def scatter(self) -> dict[str, Any]:
        """Sum over all tasters what tells stepped cups from fresh ones."""
        return {"count": self.count.sum(axis=0), "residual": self.residual.sum(axis=0)}


def told_apart(
    parts: tuple[Adjusted, TasterSums], centre: float, prior: float, mean: float, stepped: Scatter
) -> Adjusted:
    """Give every taster a slope, and every score a precision."""
    adjusted, sums = parts
    scored = adjusted.scored
    relative = (sums.residual / np.array([1.0, stepped.stepped])).sum(axis=1) / stepped.tasters[0]
    both = Scatter(taster_ratios(sums.count.sum(axis=1), relative), stepped.stepped)
    slopes = sums.slopes(centre, prior) / mean
    return replace(adjusted, slopes=slopes, precision=both.precision(scored.taster, scored.stepped))


# --- the driver ------------------------------------------------------------------------------------------------------


@dataclass
class LikingFit:
    """Learning liking stage by stage.

    Attributes
    ----------
    plan : Plan
    mean : array, shape (p,)
        Prior means.
    cut : (int, int) or None
        Cups that variances are learned from, see `pairing.learning.some_rows`; None is all.
    adjusted : Parts of Adjusted
    start : array
        Log variances, the noise last.
    """

    plan: Plan
    mean: Floats
    cut: tuple[int, int] | None
    adjusted: Any
    start: Floats
    seed: int
    found: Regressed | None = None
    init: Floats | None = None
    norm: float = 1.0
    level_of_fresh: float = 1.0
    rows: Any = None
    scatter: Scatter = field(default_factory=lambda: Scatter.even(1))

    @property
    def own(self) -> Any:
        """Columns that no slope stretches."""
        columns, out = self.plan.columns, np.zeros(self.plan.columns.n, bool)
        for name in OWN:
            if name in columns.start:
                out[columns.slice(name)] = True
        return out

    def solve(self) -> None:
        """Learn variances and means from the scores as they are adjusted now."""
        sums = self.adjusted.sum(weights)
        n = max(sums["n"], 1)
        self.norm, self.level_of_fresh = sums["weight"] / n, sums["precision"] / n
        self.rows = self.adjusted.then(Adjusted.rows, self.mean, self.own, self.norm)
        some = None if self.cut is None else self.adjusted.then(Adjusted.rows, self.mean, self.own, self.norm, self.cut)
        self.found = regress(self.rows, some, self.plan.prior, self.start, seed=self.seed, init=self.init)
        self.start, self.init = np.log(self.found.level.variances), self.found.solution

    def fit(self) -> tuple[Any, ...]:
        """Return what questions of the fit are given: prior means, own columns, level and means."""
        assert self.found is not None
        return self.mean, self.own, self.found.level, self.found.beta

    def without_outliers(self) -> None:
        """Let scores count for less that lie far out, where more do than a normal spread explains."""
        both = self.adjusted.beside(self.rows)
        told = both.sum(outlying, *self.fit())
        if told["far"] > 0.01 * told["n"]:
            self.adjusted = both.then(trusted, *self.fit(), told["weight"] / told["n"])
            self.solve()

    def low_rank(self, counts: Mapping[str, Counts], traits: Traits, taste_cells_n: int) -> bool:
        """Look for low-rank parts of large tables; return whether any was found."""
        assert self.found is not None
        level, numbers, sd = self.found.level, self.plan.numbers, float(np.sqrt(self.found.level.noise))
        both = self.adjusted.beside(self.rows)
        names = tuple(n for n in TABLES if n in counts and len(counts[n].key) >= MANY_CELLS)
        sums = both.sum(cell_sums, names, *self.fit()) if names else {}
        means, columns = {}, self.plan.columns
        for name in names:
            found, known = sums[name], columns.keys.get(name, np.empty(0, np.int64))
            at = places(known, found.key)
            own = np.append(self.found.beta[columns.slice(name)] if name in columns.keys else np.empty(0), 0.0)
            spread = level.noise / found.count + np.where(
                at >= 0, level.blocks[numbers[name]] if name in numbers else 0.0, 0.0
            )
            n_rows = {"base": traits.n_bases, "flavouring": traits.n_flavourings}[TABLES[name]]
            row, column = np.divmod(found.key, traits.n_flavourings)
            value, shape = found.left / found.count + own[at], (n_rows, traits.n_flavourings)
            cells = Cells(row, column, value, level.noise / spread, shape, TABLES[name] == "flavouring")
            factors = fit_factors(HeldParts((cells,)), sd)
            if isinstance(factors, HeldParts):
                means[name] = factors.parts[0].cells
        taste = None
        if TASTE in numbers and taste_cells_n >= MANY_CELLS:
            variance = float(level.blocks[numbers[TASTE]])
            taste = fit_factors(both.then(taste_cells, *self.fit(), variance, traits.n_flavourings), sd)
        if taste is not None:
            self.adjusted = self.adjusted.beside(taste).then(tasted, traits.n_flavourings)
        if means:
            self.adjusted = self.adjusted.then(shifted, means, columns)
            columns = replace(columns, means=means)
            now = columns.prior()["prior_mean"]
            assert self.init is not None
            self.init = self.init.copy()
            self.init[:, 0] += self.mean - now
            self.mean, self.plan = now, replace(self.plan, columns=columns)
        return bool(means) or taste is not None

    def tell_tasters_apart(self) -> None:
        """Learn how much of the scale each taster uses, and how far scores scatter."""
        assert self.found is not None
        sums = self.adjusted.beside(self.rows).then(TasterSums.of, *self.fit())
        slope = sums.sum(TasterSums.slope)
        centre = max(float(slope["product"]), 1e-6) / max(float(slope["square"]), 1e-6)
        noise_sd = float(np.sqrt(self.found.level.noise * self.level_of_fresh))
        known = sums.sum(TasterSums.evidence, centre, noise_sd)["known"] + slope_prior()
        prior = (noise_sd / SLOPE_SDS[int(np.argmax(known))]) ** 2
        mean = sums.sum(TasterSums.mean_slope, centre, prior)
        told = sums.sum(TasterSums.scatter)
        stepped = fit_scatter(told["count"][None], told["residual"][None])
        common = told["residual"].sum() / max(told["count"] @ np.array([1.0, stepped.stepped]), 1e-9)
        self.scatter = Scatter(np.array([float(common)]), stepped.stepped)
        given = centre, prior, mean["slope"] / max(mean["n"], 1), self.scatter
        self.adjusted = self.adjusted.beside(sums).then(told_apart, *given)


def fit_liking_over(
    fit: LikingFit, counts: Mapping[str, Counts], traits: Traits, taste_cells_n: int, said: Any
) -> LikingFit:
    """Go through all stages; ``said`` hears of each that is done."""
    fit.solve()
    fit.without_outliers()
    said("liking")
    if fit.low_rank(counts, traits, taste_cells_n):
        fit.solve()
    said("low-rank parts")
    fit.tell_tasters_apart()
    fit.solve()
    said("tasters")
    return fit
