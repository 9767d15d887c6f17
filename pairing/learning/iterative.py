"""Block variances and posterior for problems too large for a dense matrix, over data in any number of parts.

Linear systems are solved by conjugate gradients, multiplying by the rows and their transpose, part by part: with many
cells the Gram matrix would be larger than both. Traces are estimated with random signs (Hutchinson 1990, Commun. Stat.
Simul. 19:433); draws of the posterior come from perturbing data and prior (Papandreou & Yuille 2010, NIPS 23).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pairing.learning.conjugate import conjugate, lead_by, small_columns
from pairing.learning.exact import FLOOR, Prior
from pairing.learning.fixed_point import MAX_MOVE, MEMORY, extrapolated
from pairing.learning.inverse import invert
from pairing.learning.parts import Parts
from pairing.learning.rows import Level, Rows, block_sums

__all__ = ["Fitted", "Regressed", "System", "fit_variances", "regress"]

Array = np.ndarray[Any, np.dtype[np.float64]]
PROBED = 240_000
"""Entries of all probes together (our choice): fewer columns are probed more often, for a variance rests on the sum of
its own."""
MAX_PROBES = 8
AT_ONCE = 640_000
"""Entries of draws that are solved for together (our choice): solving takes the room of ten times as many."""
FURTHEST = 5.0
"""How far a log variance is thought to have to go at most (our choice)."""
MAX_SWEEPS = 40
"""Updates of the variances at most (our choice)."""
STILL, AHEAD = 0.005, 0.01
"""Root mean squares, relative to the noise, by which the last step may have moved the fit, and by which all that is
ahead may move it, when the variances count as found (our choice)."""


@dataclass(frozen=True, eq=False)
class System:
    """The normal equations of the shared columns, the local ones eliminated, over rows in parts.

    Attributes
    ----------
    parts : Parts of Rows
    prior : Prior
        Of the shared columns.
    small : int array
        Columns that lead the conjugate gradients.
    diagonal, core : arrays, shape (p,) and (s, s)
        The diagonal of X'X, and its part for the small columns.
    n, square : float
        Scores, and their sum of squares.
    n_local : int
        Columns that are eliminated.
    seed : int
    n_probes : int
    """

    parts: Parts
    prior: Prior
    small: Any
    diagonal: Array
    core: Array
    n: float
    square: float
    n_local: int
    seed: int
    n_probes: int

    @classmethod
    def of(cls, parts: Parts, prior: Prior, seed: int) -> System:
        """Ask the parts for what holds at every level."""
        small = small_columns(prior.block)
        shape = parts.sum(Rows.shape, small)
        n_probes = int(np.clip(PROBED // max(len(prior.block), 1), 1, MAX_PROBES))
        return cls(parts, prior, small, seed=seed, n_probes=n_probes, **shape)

    def solve(self, level: Level, rhs: Array, start: Array | None, tol: Any) -> Array:
        """Solve for right-hand sides of shape (p, r)."""
        own = level.precision(self.prior)
        few, coarse = np.flatnonzero(self.prior.block < 0), None
        if self.n_local and len(few):  # else the small columns' part is exact for them
            coarse = self.parts.sum(Rows.coarse, level, few)["coarse"] + np.diag(own[few])

        def times(v: Array) -> Array:
            product = self.parts.sum(Rows.apply, level, v)["product"]
            product += own[:, None] * v
            return np.asarray(product)

        lead = lead_by(self.diagonal + own, self.small, self.core + np.diag(own[self.small]), few, coarse)
        return conjugate(times, lead, rhs, start, tol)

    def mean(self, level: Level, start: Array | None, tol: float) -> Array:
        """Posterior mean, less the prior mean, at given variances."""
        rhs = self.parts.sum(Rows.begin, level, self.seed, 0)["rhs"]
        return self.solve(level, rhs, None if start is None else start[:, None], tol)[:, 0]

    def covariance(self, level: Level) -> Array:
        """Posterior covariance, shape (p, p), exact: for few columns."""
        gram = self.parts.sum(Rows.gram, level)["gram"]
        return np.asarray(level.noise * invert(gram + np.diag(level.precision(self.prior)))[0])

    def draws(self, level: Level, n: int) -> Array:
        r"""Draw deviations from the posterior mean, shape (p, n).

        With :math:`\varepsilon \sim N(0, \sigma^2 I)` and :math:`\eta \sim N(0, \sigma^2 \Lambda)`,
        :math:`A^{-1} (X'\varepsilon + \eta)` has covariance :math:`\sigma^2 A^{-1} (X'X + \Lambda) A^{-1} =
        \sigma^2 A^{-1}`, the posterior's.
        """
        p = len(self.prior.block)
        spread = np.sqrt(level.precision(self.prior) * level.noise)
        rng = np.random.default_rng(self.seed)
        out = np.empty((p, n))
        width = max(AT_ONCE // max(p, 1), 1)
        for first in range(0, n, width):
            some = out[:, first : first + width]
            rhs = self.parts.sum(Rows.noise, level, self.seed, some.shape[1], first)["rhs"]
            rhs += rng.standard_normal(rhs.shape) * spread[:, None]
            some[:] = self.solve(level, rhs, None, 3e-3)
        return out


@dataclass(frozen=True)
class Fitted:
    """Variances that were found.

    Attributes
    ----------
    level : Level
    solution : array, shape (p, 1 + n_probes)
        Posterior mean less the prior mean, and the probes' solutions, at the variances one update earlier.
    n_iter : int
    """

    level: Level
    solution: Array
    n_iter: int

    @property
    def beta(self) -> Array:
        """The posterior mean less the prior mean."""
        return self.solution[:, 0]


def fit_variances(
    system: System,
    start: Array,
    *,
    floor: float,
    fixed_noise: bool,
    init: Array | None = None,
    max_iter: int = MAX_SWEEPS,
) -> Fitted:
    r"""Find the variances that maximise the restricted likelihood, their priors included.

    With the posterior mean β and :math:`A = X'X + \Lambda`, :math:`\lambda_j = \sigma^2 / (\tau_{b(j)} s_j)`, twice the
    derivative of the restricted log-likelihood by :math:`\log \tau_b` is

    .. math:: \frac{1}{\tau_b} \sum_{j \in b} \frac{\beta_j^2}{s_j} - \gamma_b, \qquad
              \gamma_b = n_b - \sum_{j \in b} \lambda_j (A^{-1})_{jj},

    where :math:`\gamma_b` counts the effects that the data have determined; a scaled inverse chi-squared prior adds
    :math:`\nu_b t_b / \tau_b - \nu_b`. It is 0 where :math:`\tau_b = (\sum_j \beta_j^2 / s_j + \nu_b t_b) / (\gamma_b +
    \nu_b)`, and where :math:`\sigma^2` is the residual sum of squares over :math:`n - \sum_b \gamma_b`, flat columns
    counted in full (MacKay 1992, Neural Computation 4:415). Going round these equations takes dozens of rounds where
    the data determine little of each effect: each step is then but a small share :math:`\gamma_b / n_b` of the way. The
    steps are extrapolated (`extrapolated`), so that each is an estimate of the whole way that is left.

    The trace in :math:`\gamma_b` is estimated by probes :math:`z_j = \pm \sqrt{\lambda_j}`, as the sum of
    :math:`z_j (A^{-1} z)_j` over the block: scaled so, the effects of strong blocks add little noise to the traces of
    weak ones.

    So the measure of being done is what the steps do to the fit. It stops when the last step moved the fitted response
    by less than ``STILL`` times the noise, root mean square, and all that is ahead would by less than ``AHEAD``. For
    each block by itself that is about :math:`(\gamma_b + \nu_b) / (\gamma_b^2 / n_b + \nu_b)` of these equations'
    steps (half the denominator is the curvature), and moves its effects by their distance from the data,
    :math:`1 - \gamma_b / n_b`.

    Parameters
    ----------
    system : System
    start : array, shape (n_blocks + 1,)
        Log variances to start from, the noise last.
    floor : float
        Least variance.
    fixed_noise : bool
        Leave the noise at its start.
    init : array, shape (p,) or (p, 1 + n_probes), optional
        Weights to start from, less their prior means, and the probes' solutions of an earlier fit.
    max_iter : int
        Updates at most.
    """
    prior, seed = system.prior, system.seed
    p = len(prior.block)
    random = np.random.default_rng(seed).choice([-1.0, 1.0], size=(p, system.n_probes))
    solution = np.zeros((p, 1 + system.n_probes))
    if init is not None:
        known = init.reshape(p, -1)[:, : solution.shape[1]]
        solution[:, : known.shape[1]] = known
    points, images, before = [start], [], None
    for n_iter in range(1, max_iter + 1):  # noqa: B007 - handed back
        level = Level(tuple(np.exp(points[-1])))
        rhs = system.parts.sum(Rows.begin, level, seed, system.n_probes)["rhs"]
        probes = random * np.sqrt(level.precision(prior))[:, None]
        rhs[:, 1:] += probes
        solution = system.solve(level, rhs, solution, np.append(1e-3, np.full(system.n_probes, 2e-3)))
        found = system.parts.sum(Rows.finish, level, solution, seed, before)
        told = _Told.of(system, found, solution, probes)
        images.append(told.image(system, level, floor, fixed_noise=fixed_noise))
        points, images = points[-MEMORY - 1 :], images[-MEMORY - 1 :]
        before = level, solution[:, 0].copy()
        noise = level.noise * system.n
        points = [*points, np.maximum(extrapolated(points, images, told.weight), np.log(floor))]
        if told.moved < STILL**2 * noise and told.ahead(system, level) < AHEAD**2 * noise:
            break
    return Fitted(Level(tuple(np.exp(points[-1]))), solution, n_iter)


@dataclass(frozen=True, eq=False)
class Regressed:
    """What was learned from parts.

    Attributes
    ----------
    system : System
        Of all rows.
    level : Level
        The variances.
    beta : array, shape (p,)
        Posterior means less prior means.
    solution : array, shape (p, 1 + n_probes)
        What a further fit of the same columns may start from.
    n_iter : int
    """

    system: System
    level: Level
    beta: Array
    solution: Array
    n_iter: int


def regress(
    whole: Parts,
    some: Parts | None,
    prior: Prior,
    start: Array,
    *,
    seed: int,
    fixed_noise: bool = False,
    init: Array | None = None,
    max_iter: int = MAX_SWEEPS,
) -> Regressed:
    """Learn variances from some rows, or from all, then the posterior means from all.

    Parameters
    ----------
    whole, some : Parts of Rows
    prior : Prior
    start : array, shape (n_blocks + 1,)
        Log variances to start from, the noise last.
    init : array, shape (p,) or (p, 1 + n_probes), optional
        See `fit_variances`.
    """
    system = System.of(whole, prior, seed)
    part = system if some is None else System.of(some, prior, seed)
    floor = FLOOR * max(part.square / max(part.n, 1.0), 1e-6)
    found = fit_variances(part, start, floor=floor, fixed_noise=fixed_noise, init=init, max_iter=max_iter)
    nearby = found.beta if some is None or init is None else init.reshape(len(prior.block), -1)[:, 0]
    beta = system.mean(found.level, nearby, 1e-4 if some is None else 3e-3)
    solution = np.column_stack([beta, found.solution[:, 1:]])
    return Regressed(system, found.level, beta, solution, found.n_iter)


@dataclass(frozen=True)
class _Told:
    r"""What one solution tells of the variances.

    Attributes
    ----------
    size, gamma, fit, spread : arrays, shape (n_blocks,)
        Of every block: its effects, how many of them the data have determined, the sum of :math:`\beta_j^2 / s_j`, and
        the sum of squares of what they add to the response.
    residual, freedom, moved : float
        The residual sum of squares, what it has of degrees of freedom, and the sum of squares by which the fit moved.
    """

    size: Array
    gamma: Array
    fit: Array
    spread: Array
    residual: float
    freedom: float
    moved: float

    @classmethod
    def of(cls, system: System, found: dict[str, Any], solution: Array, probes: Array) -> _Told:
        """Put together what the parts found, and what the shared columns add."""
        prior, beta = system.prior, solution[:, 0]
        shrunk = (probes * solution[:, 1:]).mean(axis=1)
        size = block_sums(prior, np.ones(len(beta))) + found["size"]
        lost = block_sums(prior, shrunk) + found["lost"]
        effective = len(beta) - shrunk.sum() + (found["size"] - found["lost"]).sum()
        return cls(
            size=size,
            gamma=np.clip(size - lost, 1e-3 * size, size),
            fit=block_sums(prior, beta**2 / prior.scale) + found["fit"],
            spread=block_sums(prior, system.diagonal * beta**2) + found["spread"],
            residual=found["residual"],
            freedom=max(system.n - effective, 0.02 * system.n),
            moved=found["moved"],
        )

    @property
    def weight(self) -> Array:
        """The root of what the data know of each log variance."""
        return np.asarray(np.sqrt(np.append(self.gamma**2 / np.maximum(self.size, 1.0), self.freedom)))

    def image(self, system: System, level: Level, floor: float, *, fixed_noise: bool) -> Array:
        """Log variances after one round of the equations, each step lengthened by the root of what it falls short."""
        count = system.prior.pseudo_count
        step = self._step(system, level)
        noise = (self.residual + count[-1] * system.prior.pseudo_var[-1]) / (self.freedom + count[-1])
        last = 0.0 if fixed_noise else np.log(max(noise, floor) / level.noise)
        long = np.append(np.sqrt(self._short(count[:-1])) * step, last)
        return np.asarray(np.maximum(np.log(level.variances) + np.clip(long, -MAX_MOVE, MAX_MOVE), np.log(floor)))

    def ahead(self, system: System, level: Level) -> float:
        """Sum of squares by which the whole way that is left would move the fit, block by block."""
        count = system.prior.pseudo_count[:-1]
        way = self._step(system, level) * self._short(count)
        short = 1.0 - self.gamma / np.maximum(self.size, 1e-300)
        return float((np.expm1(np.clip(way, -FURTHEST, FURTHEST)) * short) ** 2 @ self.spread)

    def _short(self, count: Array) -> Array:
        """By how much one round's steps fall short of Newton's: its prior counts for the curvature as well."""
        curvature = self.gamma**2 / np.maximum(self.size, 1e-300) + count
        return np.asarray((self.gamma + count) / np.maximum(curvature, 1e-300))

    def _step(self, system: System, level: Level) -> Array:
        """One round's steps of the blocks' log variances."""
        count, target = system.prior.pseudo_count[:-1], system.prior.pseudo_var[:-1]
        new = (self.fit + count * target) / np.maximum(self.gamma + count, 1e-300)
        return np.asarray(np.log(np.maximum(new, 1e-300) / level.blocks))
