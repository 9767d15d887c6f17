"""Scores of the kitchens of one part, and what was learned of each: they stay where the readings are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.block import Entries
from pairing.learning.design import Traits, additions_of
from pairing.learning.penalty import expected_squares
from pairing.learning.rows import Level, Rows
from pairing.learning.scene import Typical
from pairing.learning.some_rows import highest_places, rows_up_to
from pairing.learning.strength import Strength
from pairing.model.arrays import Floats, Ints
from pairing.pooling.doses import Working, log_label
from pairing.pooling.entries import Made, Own, Plan, judged_entries, own_numbers, scored_entries
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
class Table:
    """Cells of scores, each of value 1, in little room.

    Attributes
    ----------
    row, key : int arrays, shape (m,)
    """

    row: Any
    key: Any

    @classmethod
    def of(cls, found: Entries) -> Table:
        """Take rows and keys."""
        small = np.int32 if found.key.max(initial=0) < np.iinfo(np.int32).max else np.int64
        return cls(found.row.astype(np.int32), found.key.astype(small))


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
        every = made.shared | made.own
        cells = {name: Table.of(every[name]) for name in tables if name in every}
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
