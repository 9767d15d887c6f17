"""Conjugate gradients against a dense solution, and variances that are found wherever one starts."""

import numpy as np
import pytest
from scipy import sparse

from pairing.learning.conjugate import small_columns
from pairing.learning.evidence import BlockRegression
from pairing.learning.exact import Prior
from pairing.learning.inverse import nested_columns
from pairing.learning.iterative import System, fit_variances, regress
from pairing.learning.parts import HeldParts
from pairing.learning.rows import Level, Rows

SIZES = (5, 12, 80)


def stepped_cups(seed: int = 0):
    """Rows of base, flavouring and cup, each cup sipped one to four times."""
    rng = np.random.default_rng(seed)
    base, flavouring = rng.integers(0, SIZES[0], SIZES[2]), rng.integers(0, SIZES[1], SIZES[2])
    cup = np.repeat(np.arange(SIZES[2]), rng.integers(1, 5, SIZES[2]))
    columns = np.column_stack([base[cup], SIZES[0] + flavouring[cup], SIZES[0] + SIZES[1] + cup])
    n = len(cup)
    x = sparse.csr_matrix((np.ones(3 * n), columns.ravel(), np.arange(0, 3 * n + 1, 3)), (n, sum(SIZES)))
    block = np.repeat([0, 1, 2], SIZES)
    return x, rng.uniform(0.2, 2.0, n), block, rng.uniform(0.5, 4.0, sum(SIZES)), rng


def system_of(x, weight, prior, y, inner=()):
    inner = np.asarray(inner, np.int64)
    outer = np.setdiff1d(np.arange(x.shape[1]), inner)
    rows = Rows.of(x[:, outer], y, weight, x[:, inner], prior.take(inner), inner)
    return System.of(HeldParts((rows,)), prior.take(outer), 0), outer


@pytest.mark.parametrize("nested", [True, False])
@pytest.mark.parametrize("lead", [True, False])
def test_solution_is_the_dense_one(nested, lead, monkeypatch):
    x, weight, block, precision, rng = stepped_cups()
    monkeypatch.setattr("pairing.learning.conjugate.MAX_SMALL", 400 if lead else 0)
    prior = Prior(block, np.zeros(len(block)), 1 / precision, 3, np.zeros(4), np.ones(4))
    y = rng.standard_normal(len(weight))
    system, outer = system_of(x, weight, prior, y, nested_columns(x, block) if nested else ())
    assert len(system.small) == (0 if not lead else len(outer))
    found = system.mean(Level((1.0,) * 4), None, 1e-10)
    whole = (x.T @ x.multiply(weight[:, None])).toarray() + np.diag(precision)
    np.testing.assert_allclose(found, np.linalg.solve(whole, x.T @ (weight * y))[outer], atol=1e-7)


def test_small_columns_leave_out_the_large():
    block = np.repeat([0, 1, -1, 3], [5, 500, 1, 20])
    assert set(block[small_columns(block)]) == {0, 3, -1}


def sparse_cells(seed: int = 3, n: int = 3000):
    """Cells that are seen once or twice: the data know little of each, so that plain rounds take small steps."""
    rng = np.random.default_rng(seed)
    one, two = rng.integers(0, 40, n), rng.integers(0, 60, n)
    cell = np.unique(one * 60 + two, return_inverse=True)[1]
    sizes = 40, 60, int(cell.max()) + 1
    columns = np.column_stack([one, 40 + two, 100 + cell])
    x = sparse.csr_matrix((np.ones(3 * n), columns.ravel(), np.arange(0, 3 * n + 1, 3)), (n, sum(sizes)))
    block = np.repeat([0, 1, 2], sizes)
    theta = rng.standard_normal(sum(sizes)) * np.sqrt(np.array([0.3, 0.4, 0.25])[block])
    return x, x @ theta + rng.standard_normal(n), block


def test_variances_are_found_wherever_one_starts():
    """Two starts far apart agree within a hundredth of the noise; the exact solver is as near as traces can tell."""
    x, y, block = sparse_cells()
    prior = Prior(block, np.zeros(len(block)), np.ones(len(block)), 3, np.zeros(4), np.ones(4))
    system, _ = system_of(x, np.ones(len(y)), prior, y)
    fits = []
    for start in ([0.3, 0.3, 0.01, 1.5], [0.1, 1.0, 2.0, 0.3]):
        found = fit_variances(system, np.log(start), floor=1e-6, fixed_noise=False)
        assert found.n_iter < 15
        fits.append(x @ system.mean(found.level, found.beta, 1e-6))
    assert np.sqrt(np.mean((fits[0] - fits[1]) ** 2)) < 0.01
    exact = BlockRegression(block, fit_intercept=False, solver="exact", tol=1e-6).fit(x, y)
    assert np.sqrt(np.mean((fits[0] - x @ exact.coef_) ** 2)) < 0.03


def test_a_small_step_is_not_the_end():
    """From a small variance the fit hardly moves at first: what looks at the last step alone stops far off."""
    x, y, block = sparse_cells()
    prior = Prior(block, np.zeros(len(block)), np.ones(len(block)), 3, np.zeros(4), np.ones(4))
    system, _ = system_of(x, np.ones(len(y)), prior, y)
    found = fit_variances(system, np.log([0.4, 0.47, 0.001, 1.3]), floor=1e-6, fixed_noise=False)
    assert found.level.variances[2] > 0.2


@pytest.mark.parametrize("n_some", [None, 500])
def test_variances_may_come_from_some_rows_but_means_come_from_all(n_some):
    x, y, block = sparse_cells(n=1000)
    prior = Prior(block, np.zeros(len(block)), np.ones(len(block)), 3, np.zeros(4), np.ones(4))
    whole, some = (system_of(x[:n], np.ones(len(y[:n])), prior, y[:n])[0].parts for n in (None, n_some))
    start = np.log([0.3, 0.3, 0.2, 1.0])
    found = regress(whole, None if n_some is None else some, prior, start, seed=0, max_iter=3)
    precise = found.system.mean(found.level, None, 1e-10)
    assert np.sqrt(np.mean((x @ (found.beta - precise)) ** 2)) < 0.005


def test_a_fixed_noise_stays():
    x, y, block = sparse_cells(n=500)
    prior = Prior(block, np.zeros(len(block)), np.ones(len(block)), 3, np.zeros(4), np.ones(4))
    system, _ = system_of(x, np.ones(len(y)), prior, y)
    found = fit_variances(system, np.log([0.3, 0.3, 0.2, 0.7]), floor=1e-6, fixed_noise=True)
    assert found.level.noise == pytest.approx(0.7)


def test_of_however_many_columns_the_traces_are_estimated(monkeypatch):
    x, y, block = sparse_cells(n=500)
    monkeypatch.setattr("pairing.learning.iterative.PROBED", x.shape[1] - 1)
    prior = Prior(block, np.zeros(len(block)), np.ones(len(block)), 3, np.zeros(4), np.ones(4))
    system, _ = system_of(x, np.ones(len(y)), prior, y)
    found = fit_variances(system, np.log([0.3, 0.3, 0.2, 0.7]), floor=1e-6, fixed_noise=False, max_iter=2)
    assert np.isfinite(found.level.variances).all()


def test_what_eliminated_columns_could_say_is_found_all_the_same():
    """Five tasters of 4,000 cups each: the average could as well be theirs, and is known only by how they differ."""
    rng = np.random.default_rng(0)
    n, tasters = 20_000, 5
    taster = rng.integers(0, tasters, n)
    one = sparse.csr_matrix((np.ones(n), (np.arange(n), np.zeros(n, int))), (n, 1))
    x = sparse.hstack([one, sparse.csr_matrix((np.ones(n), (np.arange(n), rng.integers(0, 500, n))), (n, 500))]).tocsr()
    z = sparse.csr_matrix((np.ones(n), (np.arange(n), taster)), (n, tasters))
    count, var = np.zeros(3), np.ones(3)
    shared = Prior(np.append(-1, np.zeros(500, int)), np.zeros(501), np.append(4.0, np.ones(500)), 2, count, var)
    own = Prior(np.ones(tasters, int), np.zeros(tasters), np.ones(tasters), 2, count, var)
    y = 1.0 + rng.standard_normal(tasters)[taster] + rng.standard_normal(n)
    level = Level((0.3, 0.3, 1.0))
    system = System.of(HeldParts((Rows.of(x, y, np.ones(n), z, own, np.arange(tasters)),)), shared, 0)
    precise = system.mean(level, None, 1e-12)
    off = precise + np.append(0.3, np.zeros(500))
    assert abs(system.mean(level, off, 3e-3)[0] - precise[0]) < 0.02
