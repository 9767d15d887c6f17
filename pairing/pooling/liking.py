"""Liking from the logs of many kitchens: the stages of `pairing.learning.liking_fit`, over parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from pairing.learning.columns import Counts, places
from pairing.learning.design import Traits
from pairing.learning.factors import Cells, fit_factors
from pairing.learning.iterative import Regressed, regress
from pairing.learning.liking import NOISE_COUNT, NOISE_VAR, OWN
from pairing.learning.liking_fit import SLOPE_COUNT, SLOPE_SD, SLOPE_SDS
from pairing.learning.low_rank import MANY_CELLS
from pairing.learning.parts import HeldParts
from pairing.learning.posterior import FEW_DRAWS
from pairing.learning.scatter import SPREAD, SPREAD_COUNT, SPREADS, Scatter, fit_scatter, spread_prior
from pairing.model.arrays import Floats
from pairing.pooling.entries import Plan
from pairing.pooling.liking_steps import (
    TasterSums,
    cell_sums,
    compared_again,
    comparisons,
    left_over,
    outlying,
    shifted,
    taste_cells,
    tasted,
    told_apart,
    trusted,
    weights,
)
from pairing.pooling.scored import TASTE, Adjusted

__all__ = ["LikingFit", "fit_liking_over"]

TABLES = {"affinity": "base", "pair": "flavouring"}
"""Tables of shared cells with a low-rank part, and what their rows are; their columns are flavourings."""
ROUNDS, STILL, STILL_NOISE = 6, 0.01, 0.05
"""Working responses of comparisons at most, and by how much the last may move expected gaps, root mean square, points,
and the log of the noise (our choice)."""


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
    compared: bool = False
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
        """Learn variances and means from the scores as they are adjusted now, and from comparisons."""
        sums = self.adjusted.sum(weights)
        n = max(sums["n"], 1)
        self.norm, self.level_of_fresh = sums["weight"] / n, sums["precision"] / n
        for _ in range(ROUNDS if self.compared else 1):
            given = self.mean, self.own, self.norm, float(np.exp(self.start[-1]))
            self.rows = self.adjusted.then(Adjusted.rows, *given)
            some = None if self.cut is None else self.adjusted.then(Adjusted.rows, *given, self.cut)
            self.found = regress(
                self.rows, some, self.plan.prior, self.start, seed=self.seed, init=self.init, fixed_noise=self.compared
            )
            self.start, self.init = np.log(self.found.level.variances), self.found.solution
            if self.compared and self._went_on():
                break

    def _went_on(self) -> bool:
        """Learn the noise, and go on to the next working response of comparisons; return whether that stands still.

        As in `pairing.learning.liking_fit`: comparisons say nothing of the noise, so that it is learned by an EM step.
        """
        assert self.found is not None
        both = self.adjusted.beside(self.rows)
        told = both.sum(left_over, *self.fit(), self.found.system.draws(self.found.level, FEW_DRAWS), self.seed)
        noise = (told["square"] / self.norm + NOISE_COUNT * NOISE_VAR) / (told["n"] + NOISE_COUNT)
        before, self.start[-1] = self.start[-1], np.log(noise)
        self.adjusted = both.then(compared_again, *self.fit())
        moved = self.adjusted.sum(comparisons)
        return bool(np.sqrt(moved["moved"] / moved["m"]) < STILL and abs(self.start[-1] - before) < STILL_NOISE)

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
        known = sums.sum(TasterSums.evidence, centre, noise_sd)["known"]
        known += spread_prior(SLOPE_SDS, SLOPE_SD, SLOPE_COUNT)
        prior = (noise_sd / SLOPE_SDS[int(np.argmax(known))]) ** 2
        mean = sums.sum(TasterSums.mean_slope, centre, prior)
        told = sums.sum(TasterSums.scatter)
        stepped = fit_scatter(told["count"][None], told["residual"][None])
        common = told["residual"].sum() / max(told["count"] @ np.array([1.0, stepped.stepped]), 1e-9)
        self.scatter = Scatter(np.array([float(common)]), stepped.stepped)
        known = sums.sum(TasterSums.spreads, self.scatter)["known"] + spread_prior(SPREADS, SPREAD, SPREAD_COUNT)
        spread = SPREADS[int(np.argmax(known))]
        given = centre, prior, mean["slope"] / max(mean["n"], 1), self.scatter, spread
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
