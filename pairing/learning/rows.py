"""The rows of one part: what the iterative solver asks of them, as sums over the shared columns.

`Rows.begin`, `Rows.apply`, `Rows.finish` and `Rows.noise` are all that a solver needs. Each is a pure function of the
rows and of its arguments; what is costly and may be asked again is remembered.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar, cast

import numpy as np
from scipy import sparse

from pairing.learning.exact import Prior
from pairing.learning.local import Eliminated, Local
from pairing.learning.numbered import normals, signs
from pairing.learning.parts import Placed
from pairing.model.arrays import Floats, Ints

__all__ = ["Level", "Rows"]

T = TypeVar("T")
WORTH_MERGING = 0.8
"""Rows that are alike are merged where fewer than this share are distinct (our choice)."""
LOOKED_AT = 20_000
"""Rows from which that share is told (our choice)."""
FEW_COLUMNS = 0.5
"""Share of the shared columns up to which a part keeps to those that it uses (our choice)."""
PIECE = 100_000
"""Rows that are multiplied at a time, so that little room is taken (our choice)."""
REMEMBERED = {"inverse": 1, "fitted": 2, "few": 1}
"""At how many levels, and solutions, what is costly is kept: of the fit the one before, too."""


@dataclass(frozen=True)
class Level:
    """Variances at which something is asked: of every block, then of one score."""

    variances: tuple[float, ...]

    @property
    def blocks(self) -> Floats:
        """Variance of every block."""
        return np.array(self.variances[:-1])

    @property
    def noise(self) -> float:
        """Variance of one score."""
        return self.variances[-1]

    def precision(self, prior: Prior) -> Floats:
        """Prior precision of columns, times the variance of one score."""
        return prior.precision(self.blocks) * self.noise


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows over the shared columns and over some of their own.

    Every row, its response and its local columns are multiplied by the root of its weight. Below, A is
    ``[X Z]'[X Z]`` plus the prior precision times the noise variance, and S what is left of A for the shared columns
    once the local ones are eliminated.

    Attributes
    ----------
    x : sparse matrix, shape (n, m)
        Over the shared columns that occur.
    y : array, shape (n,)
        Less the prior means' part.
    local : Local
    n : float
        Scores that the rows stand for.
    within : float
        Sum of squares between scores whose rows were taken together.
    number : int array, shape (n,)
        A number for each row that no other row of the whole data has.
    used : int array, shape (m,), or None
        Which of the p shared columns occur; None: all.
    p : int
    """

    x: Any
    y: Floats
    local: Local
    n: float
    within: float
    number: Ints
    used: Any = None
    p: int = 0
    memo: dict[Any, Any] = field(default_factory=dict)

    def __getstate__(self) -> dict[str, Any]:
        """Leave out what is remembered: factors cannot be written."""
        return self.__dict__ | {"memo": {}}

    @classmethod
    def of(
        cls, x: Any, y: Floats, weight: Floats, local: Any, prior: Prior, number: Ints, row_number: Any = None,
        order: Ints | None = None,
    ) -> Rows:  # fmt: skip
        """Make rows; those that are alike, as the sips of a stepped cup are, are taken together.

        Parameters
        ----------
        x, local : sparse matrices, shape (n, p) and (n, q)
        y, weight : arrays, shape (n,)
        prior : Prior
            Of the local columns.
        number : int array, shape (q,)
            Of the local columns; see `Local`.
        row_number : int array, shape (n,), optional
            Of the rows; counted from 0 where there are no others.
        order : int array, shape (q,), optional
            In which the local columns are eliminated; see `Local`.
        """
        n, within = float(weight.sum()), 0.0
        rows = np.arange(len(y)) if row_number is None else row_number
        group, kept = _alike(x, local)
        if group is not None:
            total = np.bincount(group, weight).astype(np.float64)
            centre = np.bincount(group, weight * y) / total
            within = float(weight @ (y - centre[group]) ** 2)
            x, local, y, weight, rows = x[kept], local[kept], centre, total, rows[kept]
        root = np.sqrt(weight)
        if (weight != 1.0).any():
            x, local = scaled(x, root), scaled(local, root)
        p = x.shape[1]
        x, used = _used(x)
        return cls(x, root * y, Local(local, prior, number, order), n, within, rows, used, p)

    # --- asked by the solver ---------------------------------------------------------------------------------------

    def shape(self, small: Ints) -> dict[str, Any]:
        """Return what holds at every level: the diagonal of X'X, its part for the small columns, n, y'y and counts."""
        here, place = self._here(small)
        core = np.zeros((len(small), len(small)))
        for start in range(0, self.x.shape[0], PIECE):
            part = self.x[start : start + PIECE][:, here]
            core[np.ix_(place, place)] += (part.T @ part).toarray()
        square = float(self.y @ self.y) + self.within
        found = {"diagonal": self._placed(_squares(self.x)), "core": core, "n": self.n, "square": square}
        return found | {"n_local": len(self.local)}

    def coarse(self, level: Level, few: Ints) -> dict[str, Any]:
        """Return the part of S, less the shared columns' own prior precision, of a few of them."""
        here, place = self._here(few)

        def made() -> tuple[Floats, Floats]:
            x = self.x[:, here]
            return (x.T @ x).toarray(), (self.local.z.T @ x).toarray()

        gram, cross = self._kept("few", few.tobytes(), made)
        out = np.zeros((len(few), len(few)))
        less = cross.T @ self._inverse(level).solve(cross) if len(self.local) else 0.0
        out[np.ix_(place, place)] = gram - less
        return {"coarse": out}

    def begin(self, level: Level, seed: int, n_probes: int) -> dict[str, Any]:
        """Return right-hand sides of S: the response's, then what the local columns add to those of the probes."""
        z, probes = self.local.z, self._probes(level, seed, n_probes)
        own = np.column_stack([z.T @ self.y, probes])
        left = -(z @ self._inverse(level).solve(own)) if len(self.local) else np.zeros((len(self.y), 1 + n_probes))
        left[:, 0] += self.y
        return {"rhs": self._placed(np.asarray(self.x.T @ left))}

    def apply(self, level: Level, shared: Floats) -> dict[str, Any]:
        """Multiply by S, less the shared columns' own prior precision."""
        fitted = np.asarray(self.x @ self._taken(shared))
        if len(self.local):
            z = self.local.z
            fitted -= z @ self._inverse(level).solve(np.asarray(z.T @ fitted))
        return {"product": self._placed(np.asarray(self.x.T @ fitted))}

    def finish(
        self, level: Level, solution: Floats, seed: int, before: tuple[Level, Floats] | None = None
    ) -> dict[str, Any]:
        r"""Return what the variances' update needs, given the solution for the response and for the probes.

        Returns
        -------
        residual : float
            Sum of squares that is left.
        moved : float
            Sum of squares by which the fit has moved from that of ``before`` (of no effects, where that is None).
        size, fit, spread, lost : arrays, shape (n_blocks,)
            Of the local columns j of each block: their number, the sums of :math:`b_j^2 / s_j` and of
            :math:`(Z'Z)_{jj} b_j^2`, and an estimate of that of :math:`\lambda_j (A^{-1})_{jj}`; see
            `pairing.learning.iterative`.
        """
        fitted = self._fitted(level, solution[:, 0])
        moved = fitted if before is None else fitted - self._fitted(*before)
        left = self.y - fitted
        answer: dict[str, Any] = {"residual": float(left @ left) + self.within, "moved": float(moved @ moved)}
        prior, k = self.local.prior, self.local.prior.n_blocks
        if not len(self.local):
            return answer | {name: np.zeros(k) for name in ("size", "fit", "spread", "lost")}
        probes = self._probes(level, seed, solution.shape[1] - 1)
        probed = self._inverse(level).solve(probes - self.local.z.T @ (self.x @ self._taken(solution[:, 1:])))
        effect = self.effects(level, solution[:, 0])
        lost = (probes * probed).mean(axis=1)
        square = effect**2
        each = {"size": np.ones(len(effect)), "fit": square / prior.scale, "lost": lost}
        each["spread"] = self.local.gram.diagonal() * square
        return answer | {name: block_sums(prior, value) for name, value in each.items()}

    def gram(self, level: Level) -> dict[str, Any]:
        """Return S, less the shared columns' own prior precision, whole."""
        gram = (self.x.T @ self.x).toarray()
        if len(self.local):
            cross = (self.local.z.T @ self.x).toarray()
            gram -= cross.T @ self._inverse(level).solve(cross)
        if self.used is None:
            return {"gram": gram}
        whole = np.zeros((self.p, self.p))
        whole[np.ix_(self.used, self.used)] = gram
        return {"gram": whole}

    def noise(self, level: Level, seed: int, n: int, first: int = 0) -> dict[str, Any]:
        """Return right-hand sides of draws, from the first on: noise of the data and of the local columns' prior."""
        rows, own = self._noise(level, seed, n, first)
        if len(self.local):
            rows = rows - self.local.z @ self._inverse(level).solve(own)
        return {"rhs": self._placed(np.asarray(self.x.T @ rows))}

    # --- the part's own --------------------------------------------------------------------------------------------

    def effects(self, level: Level, shared: Floats) -> Floats:
        """Effects of the local columns, given the shared ones, shape (q,)."""
        left = (self.y - self.x @ self._taken(shared))[:, None]
        return self._inverse(level).solve(np.asarray(self.local.z.T @ left))[:, 0]

    def deviations(self, level: Level, seed: int, shared: Floats) -> Floats:
        """Draws of the local columns around their effects, given those of the shared ones, shape (q, n)."""
        if not len(self.local):
            return np.empty((0, shared.shape[1]))
        own = self._noise(level, seed, shared.shape[1])[1]
        return self._inverse(level).solve(own - np.asarray(self.local.z.T @ (self.x @ self._taken(shared))))

    def _here(self, columns: Ints) -> tuple[Ints, Ints]:
        """Return where some shared columns stand among those that occur, and which of them these are."""
        if self.used is None:
            return columns, np.arange(len(columns))
        return np.intersect1d(self.used, columns, assume_unique=True, return_indices=True)[1:]

    def _taken(self, shared: Floats) -> Floats:
        """Take what is given of the shared columns that occur."""
        return shared if self.used is None else shared[self.used]

    def _placed(self, values: Floats) -> Floats | Placed:
        """Say of which shared columns values of those that occur are."""
        return values if self.used is None else Placed(self.used, values, self.p)

    def _inverse(self, level: Level) -> Eliminated:
        return self._kept("inverse", level, lambda: self.local.eliminated(level.precision(self.local.prior)))

    def _fitted(self, level: Level, shared: Floats) -> Floats:
        def fitted() -> Floats:
            found = np.asarray(self.x @ self._taken(shared))
            return found + self.local.z @ self.effects(level, shared) if len(self.local) else found

        return self._kept("fitted", (level, hash(shared.tobytes())), fitted)

    def _kept(self, name: str, key: Any, make: Callable[[], T]) -> T:
        """Return what was made for this key, or one before, or make it."""
        held = self.memo.setdefault(name, {})
        if key not in held:
            while len(held) >= REMEMBERED[name]:
                held.pop(next(iter(held)))
            held[key] = make()
        return cast(T, held[key])

    def _probes(self, level: Level, seed: int, n: int) -> Floats:
        scale = np.sqrt(level.precision(self.local.prior))
        return np.asarray(scale[:, None] * signs(self.local.number, seed, n))

    def _noise(self, level: Level, seed: int, n: int, first: int = 0) -> tuple[Floats, Floats]:
        rows = np.sqrt(level.noise) * normals(self.number, seed, n, first)
        spread = np.sqrt(level.precision(self.local.prior) * level.noise)
        own = spread[:, None] * normals(self.local.number, seed + 1, n, first)
        return rows, own + self.local.z.T @ rows


def block_sums(prior: Prior, value: Floats) -> Floats:
    """Sum a value of every column over each block."""
    learned = prior.block >= 0
    return np.bincount(prior.block[learned], value[learned], minlength=prior.n_blocks).astype(np.float64)


def scaled(x: Any, factor: Floats) -> Any:
    """Multiply every row of a sparse matrix by its factor; indices are shared, not copied."""
    return sparse.csr_matrix((x.data * np.repeat(factor, np.diff(x.indptr)), x.indices, x.indptr), x.shape)


def _used(x: Any) -> tuple[Any, Any]:
    """Keep to the columns that occur, where they are few: vectors of a part are short then, and stay in the cache."""
    occurs = np.zeros(x.shape[1], bool)
    occurs[x.indices] = True
    used = np.flatnonzero(occurs)
    if len(used) > FEW_COLUMNS * x.shape[1]:
        return x, None
    place = (np.cumsum(occurs) - 1).astype(x.indices.dtype)
    return sparse.csr_matrix((x.data, place[x.indices], x.indptr), (x.shape[0], len(used))), used


def _squares(x: Any) -> Floats:
    """Sum of squares of every column, in pieces that take little room."""
    out = np.zeros(x.shape[1])
    for start in range(0, x.nnz, 10 * PIECE):
        part = slice(start, start + 10 * PIECE)
        out += np.bincount(x.indices[part], x.data[part] ** 2, minlength=x.shape[1])
    return out


def _alike(x: Any, local: Any) -> tuple[Any, Any]:
    """Group rows that are alike, and name one of each; None where most are distinct."""
    unlike = [np.random.default_rng(0).standard_normal(m.shape[1]) for m in (x, local)]

    def told_by(some: Any) -> Floats:
        return np.asarray(x[some] @ unlike[0] + local[some] @ unlike[1])

    if len(np.unique(told_by(slice(0, LOOKED_AT)))) > WORTH_MERGING * min(x.shape[0], LOOKED_AT):
        return None, None
    _, first, group = np.unique(told_by(slice(None)), return_index=True, return_inverse=True)
    return group, first
