"""Scores of the kitchens of one part, and what was learned of each: they stay where the readings are."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.block import Entries
from pairing.learning.design import Traits, additions_of
from pairing.learning.penalty import expected_squares
from pairing.learning.rows import Level, Rows
from pairing.learning.scene import Typical
from pairing.learning.scored import Adjusted, Expected, Gaps, Scored, Table
from pairing.learning.some_rows import highest_places, rows_up_to
from pairing.learning.strength import Strength, log_label
from pairing.model.arrays import Floats, Ints
from pairing.model.constants import LIKING_ENDS
from pairing.pooling.compared import Asked
from pairing.pooling.doses import Working
from pairing.pooling.entries import Own, Plan, judged_entries, own_numbers, scored_entries
from pairing.pooling.folder import LogPart

__all__ = ["TASTE", "DosesKnown", "KitchenScores", "PooledFit", "rows_of"]

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


@dataclass(frozen=True, eq=False, kw_only=True)
class KitchenGaps(Gaps):
    """Preferences of one part.

    Attributes
    ----------
    z : sparse matrix, shape (m, q)
        Over the kitchens' own columns.
    number : int array, shape (m,)
    """

    z: Any
    number: Ints


@dataclass(frozen=True, eq=False, kw_only=True)
class KitchenScores(Scored):
    """Scores of one part.

    Attributes
    ----------
    own : Own
    names : int array, shape (n_tasters,)
        A number for each taster that no other has.
    highest : int array, shape (n,)
        See `pairing.learning.some_rows`.
    number : int array, shape (n,)
    """

    own: Own
    names: Ints
    highest: Ints
    number: Ints

    @classmethod
    def of(
        cls, parts: tuple[LogPart, Working | None], plan: Plan, traits: Traits, typical: Typical,
        doses: DosesKnown | None, tables: tuple[str, ...],
    ) -> KitchenScores:  # fmt: skip
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
            gaps = KitchenGaps(x=asked.gaps(x), z=asked.gaps(own.z), share=asked.share, number=number)
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
            n_tasters=len(of),
            ends=LIKING_ENDS,
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


def rows_of(
    adjusted: Adjusted, mean: Floats, own: Any, level: float, noise: float, cut: tuple[int, int] | None = None
) -> Rows:
    """Make the rows to be solved for.

    Parameters
    ----------
    mean : array, shape (p,)
        Prior means.
    own : bool array, shape (p,)
        Columns that no slope stretches.
    level, noise : float
        Precision of the average score, and its variance, which with comparisons has to be known.
    cut : (int, int), optional
        Cups to learn variances from; comparisons are left out.
    """
    s, x = adjusted.scored, adjusted.x(own)
    y, weight = s.y - adjusted.offset - x @ mean, adjusted.precision * adjusted.weight / level
    z, number = s.own.z, s.number
    if cut is not None:
        some = rows_up_to(s.highest, *cut)
        x, y, weight, z, number = x[some], y[some], weight[some], z[some], number[some]
    elif s.gaps is not None:
        more, information = s.gaps.working(adjusted.gap, noise)
        x, z = (sparse.vstack(both, format="csr") for both in ((x, s.gaps.x), (z, s.gaps.z)))
        y, weight = np.append(y, more - s.gaps.x @ mean), np.append(weight, information)
        number = np.append(number, s.gaps.number)
    return Rows.of(x, y, weight, z, s.own.prior, s.own.number, number, s.own.order)


@dataclass(frozen=True, eq=False)
class PooledFit:
    """A fit of all parts, each with its rows beside it; see `pairing.learning.scored.Fit`.

    Attributes
    ----------
    weights, beta : arrays, shape (p,)
        Of the shared columns, and less their prior means.
    stretched : bool array, shape (p,)
        Columns that slopes stretch.
    at : Level
    level : float
    draws : array, shape (p, few), or None
        Of the shared columns, where there are comparisons.
    seed : int
    """

    weights: Floats
    beta: Floats
    stretched: Any
    at: Level
    level: float
    draws: Any
    seed: int

    @property
    def noise(self) -> float:
        """Variance of the average score."""
        return self.at.noise

    def adjusted(self, part: tuple[Adjusted, Rows]) -> Adjusted:
        """Return the scores."""
        return part[0]

    def effects(self, part: tuple[Adjusted, Rows]) -> Floats:
        """Return the effects of the kitchens' own columns."""
        return part[1].effects(self.at, self.beta)

    def expected(self, part: tuple[Adjusted, Rows]) -> Expected:
        """Return what it expects of the scores."""
        scored, common = part[0].scored, np.where(self.stretched, self.weights, 0.0)
        own = scored.x @ (self.weights - common) + scored.own.z @ self.effects(part)
        return Expected.of(part[0], scored.x @ common, own)

    def gaps(self, part: tuple[Adjusted, Rows]) -> Floats:
        """Return what it expects of the comparisons."""
        gaps = part[0].scored.gaps
        return np.asarray(gaps.x @ self.weights + gaps.z @ self.effects(part))

    def rough_variance(self, part: tuple[Adjusted, Rows]) -> Floats:
        """Return the variance of what it expects of the scores, right on average."""
        spread = part[0].x(~self.stretched) @ self.draws
        spread += part[0].scored.own.z @ part[1].deviations(self.at, self.seed, self.draws)
        return np.asarray((spread**2).mean(axis=1))

    def variance(self, part: tuple[Adjusted, Rows]) -> tuple[float, float]:
        """Return nothing: with so many scores it does not show."""
        return 0.0, 0.0
