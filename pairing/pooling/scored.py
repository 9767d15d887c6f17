"""Scores of the kitchens of one part, and what was learned of each: they stay where the readings are."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.block import Entries
from pairing.learning.design import Traits, additions_of
from pairing.learning.paired import working_gap
from pairing.learning.penalty import expected_squares
from pairing.learning.rows import Level, Rows
from pairing.learning.scene import Typical
from pairing.learning.some_rows import highest_places, rows_up_to
from pairing.learning.strength import Strength, log_label
from pairing.model.arrays import Floats, Ints
from pairing.pooling.compared import Asked
from pairing.pooling.doses import Working
from pairing.pooling.entries import Own, Plan, judged_entries, own_numbers, scored_entries
from pairing.pooling.folder import LogPart

__all__ = ["TASTE", "Adjusted", "DosesKnown", "Scored", "Table"]

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

    def penalty(self, part: LogPart, working: Working, asked: Asked, traits: Traits) -> dict[str, Entries]:
        """Make the entries of the off-target penalty of scored and compared cups, as each kitchen needs its doses."""
        adds = additions_of(asked.recipes)
        made = judged_entries(part, asked, adds, None, self.plan.blocks, self.plan.rules, traits, None)
        shared = self.plan.columns.encode(made.shared, len(adds), self.strength.variances)
        mean = shared.x @ self.strength.posterior.mean + shared.unseen @ shared.unseen_mean
        spread = ((shared.x @ self.draws) ** 2).mean(axis=1) + shared.unseen.power(2) @ shared.unseen_var
        effects = working.rows.effects(self.level, self.beta)
        variance = (working.rows.deviations(self.level, self.seed, self.draws) ** 2).mean(axis=1)
        own = working.judged.own.look_up(made.own, len(adds), effects, variance, self.strength.variances)
        given = np.flatnonzero(~np.isnan(log_dose := asked.recipes.log_dose[adds.row, adds.slot]))
        distance = log_dose - log_label(traits, adds.base, adds.flavouring) - mean - own[0]
        under, over = expected_squares(distance[given], np.sqrt(spread + own[1])[given])
        row = adds.row[given]
        return {"too weak": Entries.of(row, 0, -under), "too strong": Entries.of(row, 0, -over)}


@dataclass(frozen=True, eq=False)
class Table:
    """Cells of scores, each of value 1, in little room.

    Attributes
    ----------
    row, key : int arrays, shape (m,)
    """

    row: Any
    key: Any

    @classmethod
    def of(cls, found: Entries, n: int) -> Table:
        """Take keys of the first n rows."""
        scored = found.row < n
        small = np.int32 if found.key.max(initial=0) < np.iinfo(np.int32).max else np.int64
        return cls(found.row[scored].astype(np.int32), found.key[scored].astype(small))


@dataclass(frozen=True, eq=False)
class Gaps:
    """Preferences of one part: the left cup less the right.

    Attributes
    ----------
    x, z : sparse matrices, shape (m, p) and (m, q)
        Over shared columns, and over the kitchens' own.
    share : array, shape (m,)
        Of the left.
    number : int array, shape (m,)
    """

    x: Any
    z: Any
    share: Floats
    number: Ints

    def working(self, gap: Floats, noise: float) -> tuple[Floats, Floats]:
        """Return the response and the weight, at expected gaps and the variance of one score."""
        score, information = working_gap(self.share, gap, float(np.sqrt(2.0 * noise)))
        return gap + score / information, information * noise


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
    tables : mapping of block name to Table
        Cells with a low-rank part.
    gaps : Gaps or None
    """

    x: Any
    own: Own
    y: Floats
    taster: Ints
    names: Ints
    stepped: Any
    highest: Ints
    number: Ints
    tables: dict[str, Table]
    gaps: Gaps | None = None

    @classmethod
    def of(
        cls, parts: tuple[LogPart, Working | None], plan: Plan, traits: Traits, typical: Typical,
        doses: DosesKnown | None, tables: tuple[str, ...],
    ) -> Scored:  # fmt: skip
        """Encode the scores of a part."""
        part, working = parts
        log = part.log
        rows = np.flatnonzero(~np.isnan(log.liking))
        n, asked = len(rows), Asked.of(part, rows, "prefer")
        made = scored_entries(part, asked, plan.blocks, plan.rules, traits, typical)
        shared = dict(made.shared)
        if doses is not None and working is not None:
            shared |= doses.penalty(part, working, asked, traits)
        x, own, gaps = plan.columns.encode(shared, len(asked.recipes)).x, Own.of(made, part, plan), None
        if m := len(asked.share):
            number = own_numbers(part, asked.compared, np.arange(m), -4)
            gaps = Gaps(asked.gaps(x), asked.gaps(own.z), asked.share, number)
            x, own = x[:n], replace(own, z=own.z[:n])
        of = np.zeros(len(log.tasters), np.int64)
        of[log.taster] = part.kitchen
        every = made.shared | made.own
        cells = {name: Table.of(every[name], n) for name in tables if name in every}
        return cls(
            x=x,
            own=own,
            y=log.liking[rows],
            taster=log.taster[rows],
            names=own_numbers(part, of, np.arange(len(of)), -2) >> 23,
            stepped=log.stepped[rows],
            highest=highest_places(log.recipes.take(rows), traits.n_flavourings),
            number=own_numbers(part, made.kitchen[:n], np.arange(n), -3),
            tables=cells,
            gaps=gaps,
        )

    def taste_keys(self, n_flavourings: int) -> Ints:
        """Return the cells of taster × flavouring with tasters by number."""
        who, item = np.divmod(self.tables[TASTE].key.astype(np.int64), n_flavourings)
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
    gap : array, shape (m,)
        Expected of the comparisons, left less right.
    moved : float
        Sum of squares by which that has moved.
    """

    scored: Scored
    offset: Floats
    slopes: Floats
    precision: Floats
    weight: Floats
    gap: Floats
    moved: float = 0.0

    @classmethod
    def of(cls, scored: Scored, mean: Floats) -> Adjusted:
        """Begin with nothing known but prior means."""
        n = len(scored.y)
        gap = np.empty(0) if scored.gaps is None else np.asarray(scored.gaps.x @ mean)
        return cls(scored, np.zeros(n), np.ones(len(scored.names)), np.ones(n), np.ones(n), gap)

    def x(self, own: Any) -> Any:
        """Shared columns, what is common to all tasters stretched by each one's slope."""
        x = self.scored.x
        if (self.slopes == 1.0).all():
            return x
        factor = np.repeat(self.slopes[self.scored.taster], np.diff(x.indptr))
        factor[own[x.indices]] = 1.0
        return sparse.csr_matrix((x.data * factor, x.indices, x.indptr), x.shape)

    def rows(self, mean: Floats, own: Any, norm: float, noise: float, cut: tuple[int, int] | None = None) -> Rows:
        """Make the rows to be solved for; ``mean`` are prior means, ``own`` columns that no slope stretches.

        With comparisons the variance of one score, ``noise``, has to be known; with ``cut`` they are left out.
        """
        s, x = self.scored, self.x(own)
        y, weight = s.y - self.offset - x @ mean, self.precision * self.weight / norm
        z, number = s.own.z, s.number
        if cut is not None:
            some = rows_up_to(s.highest, *cut)
            x, y, weight, z, number = x[some], y[some], weight[some], z[some], number[some]
        elif s.gaps is not None:
            more, information = s.gaps.working(self.gap, noise)
            x, z = (sparse.vstack(both, format="csr") for both in ((x, s.gaps.x), (z, s.gaps.z)))
            y, weight = np.append(y, more - s.gaps.x @ mean), np.append(weight, information)
            number = np.append(number, s.gaps.number)
        return Rows.of(x, y, weight, z, s.own.prior, s.own.number, number, s.own.order)

    def left(self, rows: Rows, mean: Floats, own: Any, level: Level, beta: Floats) -> tuple[Floats, Floats]:
        """Return what a fit leaves of every score, and the effects of the kitchens' own columns."""
        effects = rows.effects(level, beta)
        return self.scored.y - self.offset - self.x(own) @ (mean + beta) - self.scored.own.z @ effects, effects
