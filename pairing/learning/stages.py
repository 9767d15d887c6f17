"""Learning liking stage by stage: tasters' use of the scale, outliers, comparisons, low-rank parts.

Scores lie in parts, of which only sums are asked; one log is the case of one part. How the regression is solved is
said by whoever learns: exactly where one machine holds all, by sums over the shared columns where none does.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from pairing.learning import asked
from pairing.learning.asked import SLOPE_SD, SLOPE_SDS, CellSums, TasterSums
from pairing.learning.columns import Columns, places
from pairing.learning.factors import Cells, fit_factors
from pairing.learning.liking import NOISE_COUNT, NOISE_VAR
from pairing.learning.parts import HeldParts
from pairing.learning.posterior import Posterior
from pairing.learning.scatter import Spread, fit_scatter, spread_prior
from pairing.model.arrays import Floats

__all__ = ["MANY_CELLS", "Stages", "with_positive"]

MANY_CELLS = 1000
"""Cells from which on a low-rank part is looked for (our choice); a bench log has fewer."""
MIN_FOR_SLOPES = 20
"""Scores beyond which tasters may differ in how much of the scale they use, and scores in how far they scatter (our
choice)."""
SLOPE_COUNT = 5.0
"""Imagined tasters behind how far they are expected to differ (our choice)."""
APART, STEPPED_STILL = (2, 3), 0.1
"""Times that tasters are told apart at least and at most, and by how much the log variance of stepped cups may move at
the last (our choice)."""
A_BENCH = 10_000
"""Scores below which a single one that is out of reach is heard as such (our choice)."""
ROUNDS, STILL, STILL_NOISE = 6, 0.01, 0.05
"""Working responses of comparisons at most, and by how much the last may move expected gaps, root mean square, points,
and the log of the noise (our choice)."""


@dataclass
class Stages(ABC):
    """Learning liking.

    Attributes
    ----------
    columns : Columns
        Of what is shared.
    adjusted : Parts of Adjusted
    start : array
        Variances of the blocks that are learned; last of one score of the average taster in a fresh cup.
    huge : bool
        Variances are learned from some of the scores.
    sums : dict
        What is counted of the scores as they are heard now.
    fit, parts : Fit and Parts
        The last one, and what it is asked of; none before the first.
    compared : bool
        There are comparisons.
    weighed : bool
        Outliers were found, or in a huge log looked for.
    spread : Spread
        How scores scatter.
    """

    columns: Columns
    adjusted: Any
    start: Floats
    huge: bool = False
    compared: bool = False
    sums: dict[str, Any] = field(default_factory=dict)
    fit: Any = None
    parts: Any = None
    weighed: bool = False
    spread: Spread = field(default_factory=Spread)

    @abstractmethod
    def regress(self) -> None:
        """Learn from the scores as they are adjusted now: `start`, `fit`, and the `parts` that it is asked of."""

    def expect(self, columns: Columns) -> None:
        """Go on with other prior means."""
        self.columns = columns

    def run(self, tables: Mapping[str, tuple[int, int]], said: Callable[[str], object] = lambda _: None) -> None:
        """Go through all stages; ``said`` hears of each that is done.

        Parameters
        ----------
        tables : mapping of block name to (int, int)
            Rows and columns of large tables of cells.
        """
        self.solve()
        said("liking")
        if self.low_rank(tables):
            self.solve()
        said("low-rank parts")
        n, several = self.sums["n"], self.sums["tasters"] > 1
        if n > MIN_FOR_SLOPES and (several or 0 < self.sums["stepped"] < n):
            for number in range(1 if self.huge else APART[1]):
                before = self.spread.stepped
                self.tell_tasters_apart(several=several)
                self.solve()
                if number + 1 >= APART[0] and abs(self.spread.stepped - before) < STEPPED_STILL:
                    break
        said("tasters")

    def solve(self) -> None:
        """Learn from the scores; they count for less that lie far out, where more do than a normal spread explains."""
        self.sums = self.adjusted.sum(asked.weights)
        self._compare()
        if self.weighed or not self.sums["n"]:
            return
        told = self.parts.sum(asked.outlying, self.fit)
        many = told["far"] > 0.01 * told["n"] or (told["n"] < A_BENCH and told["very far"])
        self.weighed = self.huge or many
        if many:
            self.adjusted = self.parts.then(asked.trusted, self.fit, told["weight"] / told["n"])
            self._compare()

    @property
    def level(self) -> float:
        """Precision of the average score, beside that of the average taster's of a fresh cup."""
        return float(self.sums["precision"] / self.sums["n"]) if self.sums["n"] else 1.0

    def _compare(self) -> None:
        r"""Solve; with comparisons to the working responses that the solution before says.

        The left is picked with chance :math:`\Phi(g / \sqrt2 \sigma)`: each side reads like one score, of noise
        :math:`\sigma^2`. That noise is learned from the scores alone, by an EM step with its prior of :math:`\nu`
        scores of :math:`\sigma_0^2`: :math:`\sigma^2 = (\mathrm{E}\|y - X\theta\|^2 + \nu\sigma_0^2) / (n + \nu)`.
        What a working response is off by follows from the answers' own model and says nothing of it.
        """
        self.regress()
        for _ in range(ROUNDS - 1 if self.compared else 0):
            left = self.parts.sum(asked.left_over, self.fit)["square"] / self.level
            noise, before = (left + NOISE_COUNT * NOISE_VAR) / (self.sums["n"] + NOISE_COUNT), self.fit.noise
            self.start[-1] = noise * self.level
            self.adjusted = self.parts.then(asked.compared_again, self.fit)
            moved = self.adjusted.sum(asked.comparisons)
            if np.sqrt(moved["moved"] / moved["m"]) < STILL and abs(np.log(noise / before)) < STILL_NOISE:
                break
            self.regress()

    def low_rank(self, tables: Mapping[str, tuple[int, int]]) -> bool:
        """Look for low-rank parts of large tables; return whether any was found."""
        if not tables:
            return False
        sums, noise = self.parts.sum(asked.cell_sums, self.fit, tuple(tables)), self.fit.noise * self.fit.level
        means = {}
        for name, shape in tables.items():
            cells = self._cells(sums[name], name, shape)
            if isinstance(factors := fit_factors(HeldParts((cells,)), float(np.sqrt(noise))), HeldParts):
                means[name] = factors.parts[0].cells
        if means:
            self.adjusted = self.adjusted.then(asked.shifted, means, self.columns)
            self.expect(replace(self.columns, means=means))
        return bool(means)

    def _cells(self, sums: CellSums, name: str, shape: tuple[int, int]) -> Cells:
        """Return the cells of a table: what is left in each, and what its own column says."""
        columns, noise, weights = self.columns, self.fit.noise * self.fit.level, self.fit.weights
        known = columns.keys.get(name, np.empty(0, np.int64))
        at = places(known, sums.key)
        own = np.append(weights[columns.slice(name)] if len(known) else np.empty(0), 0.0)[at]
        variance = np.where(at >= 0, columns.variances(self.start[:-1])[name], 0.0)
        symmetric = {block.name: block.table for block in columns.blocks}[name] == ("flavouring", "flavouring")
        return sums.cells(own, variance, noise, shape, symmetric=symmetric)

    def tell_tasters_apart(self, *, several: bool) -> None:
        """Learn how much of the scale each taster uses (an EM step), and how far scores scatter."""
        sums, slope = self.parts.then(TasterSums.of, self.fit), None
        if several:
            told = sums.sum(TasterSums.slope)
            centre = max(float(told["product"]), 1e-6) / max(float(told["square"]), 1e-6)
            noise_sd = float(np.sqrt(self.fit.noise * self.fit.level))
            known = sums.sum(TasterSums.evidence, centre, noise_sd)["known"]
            known += spread_prior(SLOPE_SDS, SLOPE_SD, SLOPE_COUNT)
            prior = (noise_sd / SLOPE_SDS[int(np.argmax(known))]) ** 2
            mean = sums.sum(TasterSums.mean_slope, centre, prior)
            slope = centre, prior, mean["slope"] / mean["n"]
        self.spread = fit_scatter(sums.then(TasterSums.of_scores))
        self.adjusted = self.adjusted.beside(sums).then(asked.told_apart, slope, self.spread)


def with_positive(columns: Columns, posterior: Posterior) -> Posterior:
    """Being off the needed dose costs points: a negative cost would reward not knowing the dose."""
    for block in columns.blocks:
        if block.positive and block.name in columns.start:
            posterior = posterior.positive(columns.start[block.name])
    return posterior
