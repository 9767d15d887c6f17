"""Scores of one part of the data, how each is heard, and what a fit expects of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from scipy import sparse

from pairing.learning.block import Entries
from pairing.learning.columns import Columns
from pairing.learning.liking import OWN
from pairing.learning.paired import working_gap
from pairing.learning.scatter import Scatter
from pairing.model.arrays import Floats, Ints

__all__ = ["Adjusted", "Expected", "Fit", "Gaps", "Scored", "Table", "own_columns"]


@dataclass(frozen=True, eq=False)
class Table:
    """Cells of scores, in little room.

    Attributes
    ----------
    row, key : int arrays, shape (m,)
    value : array, shape (m,), or 1
    """

    row: Any
    key: Any
    value: Any = 1.0

    @classmethod
    def of(cls, found: Entries, n: int) -> Table:
        """Take keys of the first n rows."""
        scored = found.row < n
        small = np.int32 if found.key.max(initial=0) < np.iinfo(np.int32).max else np.int64
        value = found.value[scored]
        plain = bool((value == 1.0).all())
        return cls(found.row[scored].astype(np.int32), found.key[scored].astype(small), 1.0 if plain else value)

    def spread(self, each: Floats, n: int) -> Floats:
        """Add what is said of each entry to its row, shape (n,)."""
        return np.bincount(self.row, each * self.value, minlength=n).astype(np.float64)


@dataclass(frozen=True, eq=False, kw_only=True)
class Gaps:
    """Preferences of one part: the left cup less the right.

    Attributes
    ----------
    x : sparse matrix, shape (m, p)
        Over shared columns.
    share : array, shape (m,)
        Of the left.
    """

    x: Any
    share: Floats

    def working(self, gap: Floats, noise: float) -> tuple[Floats, Floats]:
        """Return the response and the weight, at expected gaps and the variance of one score."""
        score, information = working_gap(self.share, gap, float(np.sqrt(2.0 * noise)))
        return gap + score / information, information * noise


@dataclass(frozen=True, eq=False, kw_only=True)
class Scored:
    """Scores of one part.

    Attributes
    ----------
    x : sparse matrix, shape (n, p)
        Over the shared columns.
    y : array, shape (n,)
    taster : int array, shape (n,)
        Place among the tasters of this part.
    n_tasters : int
    stepped : bool array, shape (n,)
    ends : (float, float)
        Of the scale.
    tables : mapping of block name to Table
        Cells with a low-rank part.
    gaps : Gaps or None
    """

    x: Any
    y: Floats
    taster: Ints
    n_tasters: int
    stepped: Any
    ends: tuple[float, float]
    tables: Mapping[str, Table]
    gaps: Any = None


@dataclass(frozen=True, eq=False)
class Adjusted:
    """Scores with what was learned of tasters, of outliers and of low-rank parts.

    Attributes
    ----------
    scored : Scored
    gap : array, shape (m,)
        Expected of the comparisons, left less right.
    slopes : array, shape (n_tasters,)
    scatter : Scatter
    weight : array, shape (n,), or 1
        Of an outlier.
    common, own : arrays, shape (n,), or 0
        What low-rank parts say where cells have no columns: of what is common to all tasters, and of their own.
    moved : float
        Sum of squares by which what is expected of the comparisons has moved.
    """

    scored: Any
    gap: Floats
    slopes: Floats
    scatter: Scatter
    weight: Any = 1.0
    common: Any = 0.0
    own: Any = 0.0
    moved: float = 0.0

    @classmethod
    def of(cls, scored: Scored, mean: Floats) -> Adjusted:
        """Begin with nothing known but prior means, shape (p,)."""
        gap = np.empty(0) if scored.gaps is None else np.asarray(scored.gaps.x @ mean)
        return cls(scored, gap, np.ones(scored.n_tasters), Scatter.even(scored.n_tasters))

    @property
    def stretch(self) -> Floats:
        """Slope of who gave each score."""
        return np.asarray(self.slopes[self.scored.taster])

    @property
    def precision(self) -> Floats:
        """Weight of every score by who gave it and in what cup, beside the average taster's of a fresh cup."""
        return self.scatter.precision(self.scored.taster, self.scored.stepped)

    @property
    def offset(self) -> Floats:
        """What low-rank parts say of every score."""
        return np.asarray(np.broadcast_to(self.stretch * self.common + self.own, self.scored.y.shape))

    def x(self, own: Any) -> Any:
        """Columns, what is common to all tasters stretched by each one's slope; ``own`` columns are not."""
        x = self.scored.x
        if (self.slopes == 1.0).all():
            return x
        factor = np.repeat(self.stretch, np.diff(x.indptr))
        factor[own[x.indices]] = 1.0
        factor *= x.data
        return sparse.csr_matrix((factor, x.indices, x.indptr), x.shape)


@dataclass(frozen=True, eq=False)
class Expected:
    """What a fit expects of scores.

    Attributes
    ----------
    common, own : arrays, shape (n,)
        Of what is common to all tasters, before their slopes, and of their own.
    left : array, shape (n,)
        Scores less both.
    """

    common: Floats
    own: Floats
    left: Floats

    @classmethod
    def of(cls, adjusted: Adjusted, common: Floats, own: Floats) -> Expected:
        """Take them together with what low-rank parts say."""
        common, own = common + adjusted.common, own + adjusted.own
        return cls(common, own, adjusted.scored.y - adjusted.stretch * common - own)


def own_columns(columns: Columns) -> Any:
    """Tell which columns no slope of a taster stretches, shape (p,)."""
    out = np.zeros(columns.n, bool)
    for name in OWN:
        if name in columns.start:
            out[columns.slice(name)] = True
    return out


class Fit(Protocol):
    """A fit, as the parts are asked of it: each answers with what it was made from.

    Attributes
    ----------
    weights : array, shape (p,)
        Of the shared columns.
    noise : float
        Variance of the average score.
    level : float
        Its precision, beside that of the average taster's of a fresh cup.
    """

    weights: Floats
    noise: float
    level: float

    def adjusted(self, part: Any) -> Adjusted:
        """Return the scores that it was made from."""
        ...

    def expected(self, part: Any) -> Expected:
        """Return what it expects of them."""
        ...

    def gaps(self, part: Any) -> Floats:
        """Return what it expects of the comparisons."""
        ...

    def rough_variance(self, part: Any) -> Floats:
        """Return the variance of what it expects, right on average."""
        ...

    def variance(self, part: Any) -> tuple[Any, Any]:
        """Return the variances of what it expects and of what is common, shape (n,); 0 where they are not held."""
        ...
