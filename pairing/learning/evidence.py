"""The one solver: Bayesian regression over blocks of columns, each block's variance learned by evidence."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from numbers import Real
from typing import Any, Self, cast

import numpy as np
from scipy import sparse
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils import check_array, check_random_state
from sklearn.utils.validation import check_is_fitted, validate_data

from pairing.errors import TableError
from pairing.learning import exact
from pairing.learning.exact import MAX_DENSE_COLUMNS
from pairing.learning.inverse import Inverse, nested_columns
from pairing.learning.iterative import MAX_SWEEPS, System, fit_variances
from pairing.learning.parts import HeldParts
from pairing.learning.posterior import Posterior, draws_for
from pairing.learning.rows import Level, Rows

__all__ = ["BlockRegression"]

Array = np.ndarray[Any, np.dtype[np.float64]]
MAX_OUTER_COLUMNS = {True: 2000, False: 500}
"""Columns beside a nested block up to which one evaluation, or a whole climb, is done exactly (our choice)."""
MAX_DENSE_ROWS = 1300
"""Rows up to which the solver is exact, whatever the columns (our choice)."""


class BlockRegression(RegressorMixin, BaseEstimator):
    r"""Linear regression with normal priors whose variances are shared within blocks and learned from the data.

    .. math:: y = X\theta + \varepsilon, \quad \theta_j \sim N(m_j, \tau_{b(j)} s_j), \quad
              \varepsilon_i \sim N(0, \sigma^2 / w_i)

    The variances maximise the restricted likelihood (flat columns integrated out), with an optional scaled inverse
    chi-squared prior on each; with a flat intercept and random blocks this is REML for crossed random effects.

    Parameters
    ----------
    blocks : array of int, shape (n_features,), default None
        Block of each column, 0 … K−1; -1: the column's variance is ``prior_scale`` itself; -2: flat prior.
        None: one block.
    prior_mean, prior_scale : array, shape (n_features,), default None
        Prior means (None: 0) and relative variances (None: 1).
    pseudo_count, pseudo_var : array, shape (K + 1,), default None
        Strength and place of the prior on each block's variance and, last, the noise variance; None: no prior.
    fit_intercept : bool, default True
        Add a flat intercept.
    noise_var : float, default None
        Fix the noise variance.
    solver : {"auto", "exact", "iterative"}, default "auto"
        Exact where a dense matrix is quick to invert, iterative else.
    init_var : array, shape (K + 1,), default None
        Variances to start from.
    init_coef : array, shape (n_features,) or (n_features, 1 + n_probes), default None
        Weights that the iterative solver starts from, or ``start_`` of an earlier fit; an intercept starts from 0.
    variance_rows : array of int, default None
        Rows that the iterative solver learns the variances from; all rows have their say in the weights.
    tol : float, default 1e-4
        The exact solver stops when no log variance moves by more; the iterative one when the fit stands still, whatever
        this says (see `pairing.learning.iterative.fit_variances`).
    max_iter : int, default 60
        Steps that the exact solver makes at most; 0: none, it solves once at ``init_var``. The iterative solver makes
        at most 40 updates of the variances, and one even at 0.
    random_state : int or RandomState, default None
        For the probes and draws of the iterative solver.

    Attributes
    ----------
    coef_ : array, shape (n_features,)
    intercept_ : float
    block_var_ : array, shape (K,)
    noise_var_ : float
    log_evidence_ : float
        Restricted log-likelihood at the learned variances (NaN for the iterative solver).
    next_var_ : array, shape (K + 1,)
        Variances one step further, for loops that change the data between steps (from the iterative solver those that
        it ended with, whose update is its step).
    posterior_ : Posterior
        Over the columns and, last, the intercept.
    start_ : array, shape (n_features, 1 + n_probes)
        What another fit of the same columns may start from (iterative solver only).
    n_iter_ : int

    References
    ----------
    MacKay (1992), Neural Computation 4:415. Patterson & Thompson (1971), Biometrika 58:545.

    Examples
    --------
    >>> import numpy as np
    >>> x = np.eye(4)[[0, 0, 1, 1, 2, 2, 3, 3]]
    >>> model = BlockRegression().fit(x, [1, 1.2, 2, 2.1, 3, 2.9, 4, 4.2])
    >>> model.predict(x[:1]).round(1)
    array([1.1])
    """

    def __init__(
        self,
        blocks: Any = None,
        *,
        prior_mean: Any = None,
        prior_scale: Any = None,
        pseudo_count: Any = None,
        pseudo_var: Any = None,
        fit_intercept: bool = True,
        noise_var: float | None = None,
        solver: str = "auto",
        init_var: Any = None,
        init_coef: Any = None,
        variance_rows: Any = None,
        tol: float = 1e-4,
        max_iter: int = 60,
        random_state: Any = None,
    ) -> None:
        self.blocks = blocks
        self.prior_mean = prior_mean
        self.prior_scale = prior_scale
        self.pseudo_count = pseudo_count
        self.pseudo_var = pseudo_var
        self.fit_intercept = fit_intercept
        self.noise_var = noise_var
        self.solver = solver
        self.init_var = init_var
        self.init_coef = init_coef
        self.variance_rows = variance_rows
        self.tol = tol
        self.max_iter = max_iter
        self.random_state = random_state

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        tags.input_tags.sparse = True
        return tags

    def fit(self, X: Any, y: Any, sample_weight: Any = None) -> Self:
        """Learn variances and weights.

        Parameters
        ----------
        X : array or sparse matrix, shape (n_samples, n_features)
        y : array, shape (n_samples,)
        sample_weight : array, shape (n_samples,), or None
            A row of weight 2 counts as that row twice.
        """
        X, y = validate_data(self, X, y, accept_sparse="csr", dtype=np.float64, y_numeric=True)
        weight = _weights(sample_weight, len(y))
        if not (keep := weight > 0).all():
            X, y, weight = X[keep], y[keep], weight[keep]
        prior = self._prior(X.shape[1])
        X = self._with_intercept(X)
        problem = exact.Problem(X, y - np.asarray(X @ prior.mean).ravel(), weight, prior, self.noise_var)
        start = self._start(problem)
        inner = nested_columns(problem.x, prior.block)
        if self._use_iterative(problem, inner):
            self._fit_iterative(problem, start, inner)
        else:
            self._fit_exact(problem, start, inner)
        k = prior.n_blocks
        self.block_var_ = np.exp(self._params[:k])
        self.noise_var_ = float(np.exp(self._params[k]))
        n = self.n_features_in_
        self.coef_ = self.posterior_.mean[:n].copy()
        self.intercept_ = float(self.posterior_.mean[n]) if self.fit_intercept else 0.0
        return self

    def predict(self, X: Any, return_std: bool = False) -> Any:
        """Posterior mean of ``X``'s rows and, when asked, the standard deviation of that mean (noise left out)."""
        check_is_fitted(self)
        X = validate_data(self, X, accept_sparse="csr", dtype=np.float64, reset=False)
        mean = np.asarray(X @ self.coef_).ravel() + self.intercept_
        return (mean, np.sqrt(self.posterior_.variance(self._with_intercept(X)))) if return_std else mean

    def sample(self, X: Any, n: int = 100, random_state: Any = None) -> Array:
        """Joint draws of the rows' true values, shape (n, n_samples)."""
        check_is_fitted(self)
        X = validate_data(self, X, accept_sparse="csr", dtype=np.float64, reset=False)
        seed = check_random_state(random_state).randint(2**31 - 1)
        return self.posterior_.sample(self._with_intercept(X), n, np.random.default_rng(seed))

    def _with_intercept(self, X: Any) -> Any:
        if not self.fit_intercept:
            return X
        one = np.ones((X.shape[0], 1))
        return sparse.hstack([X, one], format="csr") if sparse.issparse(X) else np.hstack([X, one])

    def _prior(self, p: int) -> exact.Prior:
        block = np.zeros(p, np.int64) if self.blocks is None else np.asarray(self.blocks, np.int64)
        mean = np.zeros(p) if self.prior_mean is None else np.asarray(self.prior_mean, float)
        scale = np.ones(p) if self.prior_scale is None else np.asarray(self.prior_scale, float)
        for name, array in (("blocks", block), ("prior_mean", mean), ("prior_scale", scale)):
            if array.shape != (p,):
                raise TableError(f"{name} has shape {array.shape}, the columns are {p}", "give one entry per column")
        if (scale <= 0).any() or not np.isfinite(scale).all():
            raise TableError("prior_scale has an entry that is not above 0", "give finite variances above 0")
        k = int(block.max(initial=-1)) + 1
        count = np.zeros(k + 1) if self.pseudo_count is None else np.asarray(self.pseudo_count, float)
        var = np.ones(k + 1) if self.pseudo_var is None else np.asarray(self.pseudo_var, float)
        if count.shape != (k + 1,) or var.shape != (k + 1,):
            raise TableError(
                f"pseudo_count and pseudo_var need {k + 1} entries", "one per block, then one for the noise"
            )
        if self.fit_intercept:
            block, mean, scale = np.append(block, -2), np.append(mean, 0.0), np.append(scale, 1.0)
        return exact.Prior(block, mean, scale, k, count, var)

    def _start(self, problem: exact.Problem) -> Array:
        k = problem.prior.n_blocks
        if self.init_var is not None:
            start: Array = np.log(np.maximum(np.asarray(self.init_var, float), exact.FLOOR * problem.spread))
        else:
            with_prior = problem.prior.pseudo_count > 0
            start = np.log(np.where(with_prior, problem.prior.pseudo_var, problem.spread / (k + 1)))
        if self.noise_var is not None:
            start[k] = np.log(self.noise_var)
        return start

    def _init(self, prior: exact.Prior) -> Array | None:
        """Return the weights to start from, less their prior means, shape (columns, 1 or more)."""
        if self.init_coef is None:
            return None
        coef, n = np.asarray(self.init_coef, float), self.n_features_in_
        if coef.shape[:1] != (n,) or coef.ndim > 2:
            raise TableError(f"init_coef has shape {coef.shape}, the columns are {n}", "give one entry per column")
        coef = coef.reshape(n, -1)
        out = np.vstack([coef, np.zeros((len(prior.mean) - n, coef.shape[1]))])
        out[:, 0] -= prior.mean
        return out

    def _use_iterative(self, problem: exact.Problem, inner: Any) -> bool:
        n, p = problem.x.shape
        if self.solver not in ("auto", "exact", "iterative"):
            raise TableError(f"solver {self.solver!r} is not known", "use auto, exact or iterative")
        if self.solver == "auto" and p > MAX_DENSE_COLUMNS and n > MAX_DENSE_ROWS:
            return inner is None or p - len(inner) > MAX_OUTER_COLUMNS[self.max_iter == 0]
        return self.solver == "iterative"

    def _fit_exact(self, problem: exact.Problem, start: Array, inner: Any) -> None:
        x, prior, weight = problem.x, problem.prior, problem.weight
        options: dict[str, Any] = {
            "floor": exact.FLOOR * problem.spread,
            "fixed_noise": problem.noise_fixed is not None,
            "tol": self.tol,
            "max_iter": self.max_iter,
        }
        if x.shape[0] < x.shape[1] and x.shape[0] <= MAX_DENSE_ROWS:
            kernels = exact.row_kernels(problem)
            params, point, self.n_iter_ = exact.maximise(
                lambda v: exact.row_point(problem, kernels, v), prior, start, **options
            )
            mean, whole = exact.columns_from_rows(problem, params, point)
            cov = Inverse(whole, float("nan"))
        else:
            weighted = x.multiply(weight[:, None]).tocsr() if sparse.issparse(x) else x * weight[:, None]
            gram = x.T @ weighted
            gram = gram.toarray() if inner is None and sparse.issparse(gram) else gram
            moment = np.asarray(weighted.T @ problem.y).ravel()
            square = float(weight @ problem.y**2)
            params, point, self.n_iter_ = exact.maximise(
                lambda v: exact.column_point(problem, gram, moment, square, v, inner), prior, start, **options
            )
            assert point.inverse is not None
            mean, cov = point.beta, point.inverse
        self._params, self.log_evidence_ = params, point.value
        free = np.append(np.ones(prior.n_blocks, bool), problem.noise_fixed is None)
        self.next_var_ = np.exp(params + exact.newton_step(prior, params, point, free, np.log(options["floor"])))
        self.posterior_ = Posterior(mean + prior.mean, cov.core, cov)

    def _fit_iterative(self, problem: exact.Problem, start: Array, inner: Any) -> None:
        seed = int(check_random_state(self.random_state).randint(2**31 - 1))
        split = _Split.of(problem, inner)
        init = self._init(problem.prior)
        shared = None if init is None else init[split.outer]
        whole = System.of(split.parts(problem), problem.prior.take(split.outer), seed)
        part = whole
        if self.variance_rows is not None:
            part = System.of(split.parts(problem, np.asarray(self.variance_rows)), whole.prior, seed)
        found = fit_variances(
            part,
            start,
            floor=exact.FLOOR * problem.spread,
            fixed_noise=problem.noise_fixed is not None,
            init=shared,
            max_iter=int(np.clip(self.max_iter, 1, MAX_SWEEPS)),
        )
        level, self.n_iter_ = found.level, found.n_iter
        nearby = found.beta if part is whole or shared is None else shared[:, 0]
        beta = whole.mean(level, nearby, 1e-4 if part is whole else 3e-3)
        every = split.placed(np.column_stack([beta, found.solution[:, 1:]]))
        self._params = np.log(level.variances)
        self.log_evidence_ = float("nan")
        self.next_var_ = np.array(level.variances)
        n_draws = draws_for(problem.x.shape[1])
        every[:, 0] = split.joined(whole, level, beta) + problem.prior.mean
        self.start_ = every[: self.n_features_in_]
        self.posterior_ = Posterior(every[:, 0].copy(), draw=partial(split.draws, whole, level), n_draws=n_draws)


def _weights(sample_weight: Any, n: int) -> Array:
    """Return the weight of every row; a single number stands for all."""
    if sample_weight is None or isinstance(sample_weight, Real):
        return np.full(n, 1.0 if sample_weight is None else float(sample_weight))
    weight = check_array(sample_weight, ensure_2d=False, dtype=np.float64, input_name="sample_weight")
    if weight.shape != (n,):
        raise TableError(f"sample_weight has shape {weight.shape}, the rows are {n}", "give one weight per row")
    if not (weight > 0).any():
        raise TableError("every sample_weight is zero", "give at least one row a weight above 0")
    return np.asarray(weight)


@dataclass(frozen=True)
class _Split:
    """Columns of one part: those that are solved for, and a nested block that is eliminated."""

    outer: Any
    inner: Any

    @classmethod
    def of(cls, problem: exact.Problem, inner: Any) -> _Split:
        inner = np.zeros(0, np.int64) if inner is None else inner
        outer = np.ones(problem.x.shape[1], bool)
        outer[inner] = False
        return cls(np.flatnonzero(outer), inner)

    def parts(self, problem: exact.Problem, rows: Any = None) -> HeldParts:
        """Take the problem, or some of its rows, as the only part."""
        x = problem.x if sparse.issparse(problem.x) else sparse.csr_matrix(problem.x)
        y, weight = problem.y, problem.weight
        if rows is not None:
            x, y, weight = x[rows], y[rows], weight[rows]
        shared = x[:, self.outer] if len(self.inner) else x
        prior = problem.prior.take(self.inner)
        return HeldParts((Rows.of(shared, y, weight, x[:, self.inner], prior, self.inner),))

    @staticmethod
    def rows(system: System) -> Rows:
        """Return the only part."""
        assert isinstance(system.parts, HeldParts)
        return cast(Rows, system.parts.parts[0])

    def joined(self, system: System, level: Level, shared: Array) -> Array:
        """Return the weights of all columns, given those of the shared ones."""
        return self.placed(shared, self.rows(system).effects(level, shared))

    def draws(self, system: System, level: Level, n: int) -> Array:
        """Draw deviations of all columns from their means, shape (columns, n)."""
        shared = system.draws(level, n)
        return self.placed(shared, self.rows(system).deviations(level, system.seed, shared))

    def placed(self, shared: Array, own: Any = 0.0) -> Array:
        """Put what is known of the columns that are solved for, and of the nested ones, in the order of all."""
        out = np.empty((len(self.outer) + len(self.inner), *shared.shape[1:]))
        out[self.outer], out[self.inner] = shared, own
        return out
