"""Liking from the logs of many kitchens: the stages of `pairing.learning.stages`, over parts that no machine holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pairing.learning.asked import CellSums
from pairing.learning.columns import Columns, places
from pairing.learning.exact import Prior
from pairing.learning.factors import Cells, Factors, fit_factors
from pairing.learning.iterative import Regressed, regress
from pairing.learning.posterior import FEW_DRAWS
from pairing.learning.rows import Rows
from pairing.learning.scored import Adjusted, own_columns
from pairing.learning.stages import MANY_CELLS, Stages
from pairing.model.arrays import Floats
from pairing.pooling.scored import TASTE, PooledFit, rows_of

__all__ = ["LikingFit"]


@dataclass
class LikingFit(Stages):
    """Learning liking from parts; what is a kitchen's own is eliminated where its readings are.

    Attributes
    ----------
    prior : Prior
        Of the shared columns.
    cut : (int, int) or None
        Cups that variances are learned from, see `pairing.learning.some_rows`; None is all.
    seed : int
    tastes : (int, int)
        Cells of taster × flavouring, and flavourings.
    found : Regressed or None
    init : array or None
        Weights to start from, less the prior means, and those of probes.
    """

    prior: Prior = None  # type: ignore[assignment]
    cut: tuple[int, int] | None = None
    seed: int = 0
    tastes: tuple[int, int] = (0, 0)
    found: Regressed | None = None
    init: Floats | None = None

    def regress(self) -> None:
        """Solve over the parts."""
        own, mean = own_columns(self.columns), self.mean
        start = np.append(self.start[:-1], self.start[-1] / self.level)
        given = mean, own, self.level, float(start[-1])
        rows = self.adjusted.then(rows_of, *given)
        some = None if self.cut is None else self.adjusted.then(rows_of, *given, self.cut)
        found = regress(
            rows, some, self.prior, np.log(start), seed=self.seed, init=self.init, fixed_noise=self.compared
        )
        at, self.init, self.found = found.level, found.solution, found
        self.start = np.append(at.blocks, at.noise * self.level)
        draws = found.system.draws(at, FEW_DRAWS) if self.compared else None
        self.fit = PooledFit(mean + found.beta, found.beta, ~own, at, self.level, draws, self.seed)
        self.parts = self.adjusted.beside(rows)

    @property
    def mean(self) -> Floats:
        """Prior means of the shared columns, shape (p,)."""
        mean: Floats = self.columns.prior()["prior_mean"]
        return mean

    def expect(self, columns: Columns) -> None:
        """Go on with other prior means, from the same weights."""
        before = self.mean
        super().expect(columns)
        assert self.init is not None
        self.init = self.init.copy()
        self.init[:, 0] += before - self.mean

    def low_rank(self, tables: Mapping[str, tuple[int, int]]) -> bool:
        """Look for low-rank parts of tables; that of the tasters lies in the parts, as they do."""
        n_cells, width = self.tastes
        taste, variance = None, self.columns.variances(self.start[:-1]).get(TASTE, 0.0)
        if n_cells >= MANY_CELLS and TASTE in self.columns.keys:
            noise_sd = float(np.sqrt(self.fit.noise * self.fit.level))
            taste = fit_factors(self.parts.then(taste_cells, self.fit, variance, width), noise_sd)
        found = super().low_rank(tables)
        if taste is not None:
            self.adjusted = self.adjusted.beside(taste).then(tasted, width)
        return found or taste is not None


def taste_cells(part: tuple[Adjusted, Rows], fit: PooledFit, variance: float, n_flavourings: int) -> Cells:
    """Return the cells of taster × flavouring of a part, as factors are sought in."""
    scored, shape = part[0].scored, (1 << 40, n_flavourings)
    if TASTE not in scored.tables:
        none = np.empty(0, np.int64)
        return Cells(none, none, np.empty(0), np.empty(0), shape)
    found, key, effects = scored.tables[TASTE], scored.taste_keys(n_flavourings), fit.effects(part)
    sums = CellSums.of(key, fit.expected(part).left[found.row])
    _, first = np.unique(key, return_index=True)
    start, known = scored.own.keys.get(TASTE, (0, np.empty(0, np.int64)))
    at = places(known, found.key[first])
    own = np.where(at >= 0, np.append(effects, 0.0)[np.where(at >= 0, start + at, -1)], 0.0)
    return sums.cells(own, np.where(at >= 0, variance, 0.0), fit.noise * fit.level, shape, symmetric=False)


def tasted(parts: tuple[Adjusted, Factors], n_flavourings: int) -> Adjusted:
    """Expect of the tasters' own cells what the factors say."""
    adjusted, factors = parts
    scored: Any = adjusted.scored
    if TASTE not in scored.tables:
        return adjusted
    said = factors.cells(scored.taste_keys(n_flavourings))
    return replace(adjusted, own=adjusted.own + scored.tables[TASTE].spread(said, len(scored.y)))
