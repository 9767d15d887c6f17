"""What is asked of scores, and what is made of them: pure functions of parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pairing.learning.columns import Columns, places
from pairing.learning.factors import Cells, Factors
from pairing.learning.liking_fit import IMAGINED, OUTLIER_SD, SLOPE_SDS, slope_evidence
from pairing.learning.rows import Level, Rows
from pairing.learning.scatter import Scatter, spread_evidence, taster_ratios
from pairing.model.arrays import Floats, Ints
from pairing.pooling.scored import TASTE, Adjusted, Table

__all__ = [
    "TasterSums",
    "cell_sums",
    "compared_again",
    "comparisons",
    "left_over",
    "outlying",
    "shifted",
    "taste_cells",
    "tasted",
    "told_apart",
    "trusted",
    "weights",
]


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


def left_over(
    parts: tuple[Adjusted, Rows], mean: Floats, own: Any, level: Level, beta: Floats, draws: Floats, seed: int
) -> dict[str, Any]:
    """Sum what is left of scores and how uncertain what was expected is, both squared, by their weights."""
    adjusted, rows = parts
    left = adjusted.left(rows, mean, own, level, beta)[0]
    spread = adjusted.x(own) @ draws + adjusted.scored.own.z @ rows.deviations(level, seed, draws)
    square = left**2 + (spread**2).mean(axis=1)
    return {"square": float((adjusted.precision * adjusted.weight) @ square), "n": len(left)}


def compared_again(parts: tuple[Adjusted, Rows], mean: Floats, own: Any, level: Level, beta: Floats) -> Adjusted:
    """Expect of comparisons what a fit says."""
    adjusted, rows = parts
    if (gaps := adjusted.scored.gaps) is None:
        return adjusted
    gap = np.asarray(gaps.x @ (mean + beta) + gaps.z @ rows.effects(level, beta))
    return replace(adjusted, gap=gap, moved=float(((gap - adjusted.gap) ** 2).sum()))


def comparisons(adjusted: Adjusted) -> dict[str, Any]:
    """Count the comparisons, and sum by how much what is expected of them has moved."""
    return {"m": len(adjusted.gap), "moved": adjusted.moved}


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
    nothing = Table(np.empty(0, np.int32), np.empty(0, np.int64))
    found = {name: tables.get(name, nothing) for name in names}
    return {name: CellSums.of(e.key.astype(np.int64), left[e.row]) for name, e in found.items()}


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
    said = factors.cells(scored.taste_keys(n_flavourings))
    return replace(adjusted, offset=adjusted.offset + np.bincount(found.row, said, minlength=len(scored.y)))


def shifted(adjusted: Adjusted, means: Mapping[str, Any], columns: Columns) -> Adjusted:
    """Expect of shared cells without columns what the factors say."""
    offset = adjusted.offset.copy()
    for name, mean in means.items():
        if (found := adjusted.scored.tables.get(name)) is not None:
            alone = places(columns.keys.get(name, np.empty(0, np.int64)), found.key) < 0
            said = mean(found.key[alone].astype(np.int64))
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

    def relative(self, stepped: Scatter) -> tuple[Floats, Floats]:
        """Scores of every taster, the imagined ones too, and what is left of them in units of the variance of all."""
        square = (self.residual / np.array([1.0, stepped.stepped])).sum(axis=1)
        return self.count.sum(axis=1) + IMAGINED, square / stepped.tasters[0] + IMAGINED

    def spreads(self, stepped: Scatter) -> dict[str, Any]:
        """Log evidence of each spread of the tasters' variances, but for its prior."""
        return {"known": spread_evidence(*self.relative(stepped))}


def told_apart(
    parts: tuple[Adjusted, TasterSums], centre: float, prior: float, mean: float, stepped: Scatter, spread: float
) -> Adjusted:
    """Give every taster a slope, and every score a precision."""
    adjusted, sums = parts
    scored = adjusted.scored
    both = Scatter(np.exp(taster_ratios(*sums.relative(stepped), spread)), stepped.stepped)
    slopes = sums.slopes(centre, prior) / mean
    return replace(adjusted, slopes=slopes, precision=both.precision(scored.taster, scored.stepped))
