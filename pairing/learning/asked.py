"""What is asked of scores, and what is made of the answers: pure functions of a part and of a fit of all parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pairing.learning.columns import Columns, places
from pairing.learning.factors import Cells
from pairing.learning.liking import OWN
from pairing.learning.scatter import Spread, Squares
from pairing.learning.scored import Adjusted, Expected, Fit
from pairing.model.arrays import Floats, Ints

__all__ = [
    "SLOPE_SDS",
    "CellSums",
    "TasterSums",
    "cell_sums",
    "compared_again",
    "comparisons",
    "left_over",
    "outlying",
    "shifted",
    "slope_evidence",
    "told_apart",
    "trusted",
    "weights",
]

SLOPE_SD = 0.3
"""How far tasters are expected to differ in how much of the scale they use (our choice)."""
SLOPE_SDS = SLOPE_SD * 2.0 ** np.arange(-4, 1.5, 0.5)
"""How far they may differ: what their scores say best is taken."""
IMAGINED = 2.0
"""Imagined scores of every taster that scatter like all: a few scores alike tell little (our choice)."""
TAKEN_AT_MOST = 0.95
"""Share of a score that effects may take up, when it is told how far scores scatter (our choice)."""
LEAST_WEIGHT = 1e-3
"""Weight of a score at an end of the scale of a cup that is expected beyond it (our choice)."""
OUTLIER_SD = 3.0
"""Scores further than this many standard deviations from what the model expects count for less (our choice)."""


def weights(adjusted: Adjusted) -> dict[str, Any]:
    """Count the scores and their tasters, and sum their precisions."""
    scored = adjusted.scored
    found = {"n": len(scored.y), "stepped": int(scored.stepped.sum()), "tasters": scored.n_tasters}
    return found | {"precision": float(adjusted.precision.sum())}


# --- outliers ---------------------------------------------------------------------------------------------------------


def outlying(part: Any, fit: Fit) -> dict[str, Any]:
    """Count scores that lie far out, and sum what their weights would be."""
    far, beyond = _far(part, fit)
    told = {"n": len(far), "far": int(((far > OUTLIER_SD) | beyond).sum()), "weight": float(_trust(far).sum())}
    return told | {"very far": int(((far > OUTLIER_SD + 1.0) | beyond).sum())}


def trusted(part: Any, fit: Fit, mean: float) -> Adjusted:
    """Let scores count for less that lie far out; ``mean`` is that of all weights.

    A score at an end of the scale says next to nothing of how far beyond it a cup lies that is expected there.
    """
    far, beyond = _far(part, fit)
    return replace(fit.adjusted(part), weight=np.where(beyond, LEAST_WEIGHT, _trust(far) / mean))


def _far(part: Any, fit: Fit) -> tuple[Floats, Any]:
    """How many standard deviations off every score is, and whether it is at the end that its cup is expected beyond."""
    adjusted, left = fit.adjusted(part), fit.expected(part).left
    y, (low, high) = adjusted.scored.y, adjusted.scored.ends
    beyond = (y <= low) & (y - left < low) | (y >= high) & (y - left > high)
    return np.where(beyond, 0.0, np.abs(left) * np.sqrt(adjusted.precision / (fit.level * fit.noise))), beyond


def _trust(far: Floats) -> Floats:
    return np.asarray((OUTLIER_SD / np.maximum(far, OUTLIER_SD)) ** 2)


# --- comparisons ------------------------------------------------------------------------------------------------------


def left_over(part: Any, fit: Fit) -> dict[str, Any]:
    """Sum what is left of scores and how uncertain what was expected is, both squared, by their weights."""
    adjusted = fit.adjusted(part)
    square = fit.expected(part).left ** 2 + fit.rough_variance(part)
    return {"square": float((adjusted.precision * adjusted.weight) @ square)}


def compared_again(part: Any, fit: Fit) -> Adjusted:
    """Expect of comparisons what a fit says."""
    adjusted = fit.adjusted(part)
    if adjusted.scored.gaps is None:
        return adjusted
    gap = fit.gaps(part)
    return replace(adjusted, gap=gap, moved=float(((gap - adjusted.gap) ** 2).sum()))


def comparisons(adjusted: Adjusted) -> dict[str, Any]:
    """Count the comparisons, and sum by how much what is expected of them has moved."""
    return {"m": len(adjusted.gap), "moved": adjusted.moved}


# --- low-rank parts ---------------------------------------------------------------------------------------------------


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

    def cells(self, own: Floats, variance: Any, noise: float, shape: tuple[int, int], *, symmetric: bool) -> Cells:
        """Return the cells of a table as factors are sought in: what is left in each, and what its own column says.

        Parameters
        ----------
        own, variance : arrays, shape (n,)
            Effect of each cell's own column, and its variance; 0 where it has none.
        noise : float
            Variance of one score.
        shape : (int, int)
            Of the whole table.
        """
        weight = noise / (noise / self.count + variance)
        return Cells(*np.divmod(self.key, shape[1]), self.left / self.count + own, weight, shape, symmetric)


def cell_sums(part: Any, fit: Fit, names: tuple[str, ...]) -> dict[str, Any]:
    """Sum what is left in shared cells."""
    tables, left, out = fit.adjusted(part).scored.tables, fit.expected(part).left, {}
    for name in names:
        none = np.empty(0, np.int64)
        key, row = (tables[name].key.astype(np.int64), tables[name].row) if name in tables else (none, none)
        out[name] = CellSums.of(key, left[row])
    return out


def shifted(adjusted: Adjusted, means: Mapping[str, Any], columns: Columns) -> Adjusted:
    """Expect of shared cells without columns what the factors say."""
    common, own, n = adjusted.common, adjusted.own, len(adjusted.scored.y)
    for name, mean in means.items():
        if (table := adjusted.scored.tables.get(name)) is None:
            continue
        alone = places(columns.keys.get(name, np.empty(0, np.int64)), table.key) < 0
        each = np.zeros(len(alone))
        each[alone] = mean(table.key[alone].astype(np.int64))
        said = table.spread(each, n)
        common, own = (common, own + said) if name in OWN else (common + said, own)
    return replace(adjusted, common=common, own=own)


# --- tasters ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class TasterSums:
    """What tells the tasters of a part apart.

    Attributes
    ----------
    product, square : arrays, shape (n_tasters,)
        Of what is common to all, and of what is left for it; its square, whose uncertainty counts against a slope.
    squares : Squares
        What is left of scores, by the share of each that no effect took up.
    """

    product: Floats
    square: Floats
    squares: Squares

    @classmethod
    def of(cls, part: Any, fit: Fit) -> TasterSums:
        """Take them from what a fit leaves."""
        adjusted, expected, variance = fit.adjusted(part), fit.expected(part), fit.variance(part)
        return cls(*_slope_sums(adjusted, expected, variance[1]), _squares(adjusted, expected, variance[0], fit))

    def slope(self) -> dict[str, Any]:
        """Sum what the common slope follows from."""
        return {"product": self.product.sum(), "square": self.square.sum()}

    def evidence(self, centre: float, noise_sd: float) -> dict[str, Any]:
        """Log evidence of each spread of the slopes, but for its prior."""
        known = [slope_evidence(self.product, self.square, centre, noise_sd, sd) for sd in SLOPE_SDS]
        return {"known": np.array(known)}

    def slopes(self, centre: float, prior: float) -> Floats:
        """Slope of every taster, before their mean is made 1."""
        return np.asarray(np.clip((self.product / centre + prior) / (self.square + prior), 0.3, 2.0))

    def mean_slope(self, centre: float, prior: float) -> dict[str, Any]:
        """Sum the slopes, and count them."""
        return {"slope": float(self.slopes(centre, prior).sum()), "n": len(self.product)}

    def of_scores(self) -> Squares:
        """Return what is left of scores."""
        return self.squares


def _slope_sums(adjusted: Adjusted, expected: Expected, variance: Any) -> tuple[Floats, Floats]:
    taster, k = adjusted.scored.taster, adjusted.scored.n_tasters
    count = np.maximum(np.bincount(taster, minlength=k), 1)

    def centred(values: Floats) -> Floats:
        """Less each taster's mean: an offset must not pass for a slope."""
        return np.asarray(values - (np.bincount(taster, values, minlength=k) / count)[taster])

    points, left = centred(expected.common), centred(adjusted.scored.y - expected.own)
    product, square = (np.bincount(taster, v, minlength=k) for v in (points * left, points**2 + variance))
    return product.astype(np.float64), square.astype(np.float64)


def _squares(adjusted: Adjusted, expected: Expected, variance: Any, fit: Fit) -> Squares:
    scored, fresh = adjusted.scored, fit.noise * fit.level
    square = (scored.y - np.clip(scored.y - expected.left, *scored.ends)) ** 2
    count = 1.0 - np.minimum(variance * adjusted.precision / fresh, TAKEN_AT_MOST)
    cell, n = scored.taster * 2 + scored.stepped, 2 * scored.n_tasters
    told, left = (np.bincount(cell, v, minlength=n).astype(np.float64).reshape(-1, 2) for v in (count, square))
    more = told * (IMAGINED / np.maximum(told.sum(axis=1, keepdims=True), 1e-9))
    return Squares(told + more, left + more * fresh)


def slope_evidence(product: Floats, square: Floats, centre: float, noise_sd: float, sd: float) -> float:
    r"""Log evidence that slopes differ by ``sd``, but for its prior: a sum over tasters.

    A taster's own estimate :math:`p_t / q_t` is normal around the slope of all, with variance
    :math:`\tau^2 + \sigma^2 / q_t`.
    """
    told = square > 0
    variance = sd**2 + noise_sd**2 / square[told]
    off = product[told] / square[told] / centre - 1.0
    return -0.5 * float((np.log(variance) + off**2 / variance).sum())


def told_apart(
    parts: tuple[Adjusted, TasterSums], slope: tuple[float, float, float] | None, spread: Spread
) -> Adjusted:
    """Give every taster a slope (by the common one, its prior and the mean of all) and every score a precision."""
    adjusted, sums = parts
    adjusted = replace(adjusted, scatter=sums.squares.scatter(spread))
    if slope is None:
        return adjusted
    centre, prior, mean = slope
    return replace(adjusted, slopes=sums.slopes(centre, prior) / mean)
