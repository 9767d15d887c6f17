"""The solver: conformance, agreement of its three ways, recovery of known variances."""

import numpy as np
import pytest
from scipy import sparse
from scipy.optimize import minimize_scalar
from sklearn.utils.estimator_checks import parametrize_with_checks

from pairing.errors import TableError
from pairing.learning import evidence
from pairing.learning.evidence import BlockRegression

CONFORMANCE = parametrize_with_checks([BlockRegression(), BlockRegression(solver="iterative", random_state=0)]).mark


@pytest.mark.parametrize(CONFORMANCE.args[0], list(CONFORMANCE.args[1]), **CONFORMANCE.kwargs)  # a generator before 1.8
def test_scikit_learn_conformance(estimator, check):
    check(estimator)


def crossed(n=400, p=(12, 30), var=(1.0, 0.25), noise=0.5, seed=0):
    rng = np.random.default_rng(seed)
    index = [rng.integers(0, q, n) for q in p]
    x = sparse.hstack(
        [sparse.csr_matrix((np.ones(n), (np.arange(n), i)), (n, q)) for i, q in zip(index, p, strict=True)]
    )
    theta = np.concatenate([rng.normal(0, np.sqrt(v), q) for v, q in zip(var, p, strict=True)])
    return x.tocsr(), x @ theta + 5 + rng.normal(0, np.sqrt(noise), n), np.repeat([0, 1], p), theta


def test_row_and_column_space_agree():
    x, y, blocks, _ = crossed(n=60, p=(12, 70))
    rows = BlockRegression(blocks, tol=1e-7).fit(x, y)
    columns = BlockRegression(blocks, tol=1e-7).fit(sparse.vstack([x, x]), np.append(y, y), np.full(120, 0.5))
    assert rows.log_evidence_ == pytest.approx(columns.log_evidence_, abs=1e-6)
    np.testing.assert_allclose(rows.block_var_, columns.block_var_, rtol=1e-4)
    np.testing.assert_allclose(rows.coef_, columns.coef_, atol=1e-5)
    every = sparse.eye(83).tocsr()
    np.testing.assert_allclose(
        rows.posterior_.covariance(every, every), columns.posterior_.covariance(every, every), atol=1e-5
    )
    np.testing.assert_allclose(rows.posterior_.variance(every), columns.posterior_.variance(every), atol=1e-5)


def test_iterative_solver_comes_to_the_exact_answer():
    x, y, blocks, _ = crossed(n=2000, p=(40, 300))
    exact = BlockRegression(blocks).fit(x, y)
    large = BlockRegression(blocks, solver="iterative", random_state=0).fit(x, y)
    np.testing.assert_allclose(large.block_var_, exact.block_var_, rtol=0.1)
    np.testing.assert_allclose(large.noise_var_, exact.noise_var_, rtol=0.03)
    assert np.abs(large.predict(x) - exact.predict(x)).max() < 0.05
    sd_exact, sd_large = exact.predict(x, return_std=True)[1], large.predict(x, return_std=True)[1]
    assert np.median(np.abs(sd_large / sd_exact - 1)) < 0.15


def test_iterative_solver_starts_from_the_weights_given(monkeypatch):
    x, y, blocks, theta = crossed(n=500)
    mean = np.full(len(theta), 0.5)
    seen, fit = [], evidence.fit_variances
    monkeypatch.setattr(evidence, "fit_variances", lambda *a, **k: seen.append(k["init"]) or fit(*a, **k))
    options = {"prior_mean": mean, "solver": "iterative", "random_state": 0}
    BlockRegression(blocks, init_coef=theta, **options).fit(x, y)
    BlockRegression(blocks, init_coef=theta, fit_intercept=False, **options).fit(x, y)
    np.testing.assert_array_equal(seen[0][:, 0], np.append(theta - mean, 0.0))
    np.testing.assert_array_equal(seen[1][:, 0], theta - mean)
    for wrong in (theta[1:], theta[:, None, None]):
        with pytest.raises(TableError, match="init_coef has shape"):
            BlockRegression(blocks, init_coef=wrong, **options).fit(x, y)


def test_a_fit_that_starts_where_another_ended_is_done_at_once():
    x, y, blocks, _ = crossed(n=3000, p=(40, 400))
    options = {"solver": "iterative", "random_state": 0}
    first = BlockRegression(blocks, **options).fit(x, y)
    again = BlockRegression(blocks, init_coef=first.start_, init_var=first.next_var_, **options).fit(x, y)
    assert again.n_iter_ <= 2 < first.n_iter_
    np.testing.assert_allclose(again.coef_, first.coef_, atol=0.01)


def test_limits_of_the_iterative_solver_are_as_stated():
    x, y, blocks, _ = crossed(n=500)
    start = np.array([0.3, 0.3, 1.0])
    options = {"init_var": start, "random_state": 0}
    still = BlockRegression(blocks, max_iter=0, **options).fit(x, y)
    np.testing.assert_allclose(np.append(still.block_var_, still.noise_var_), start)
    assert np.abs(np.log(still.next_var_ / start)).max() > 0.05
    moved = BlockRegression(blocks, max_iter=0, solver="iterative", **options).fit(x, y)
    assert moved.n_iter_ == 1
    assert np.abs(np.log(moved.block_var_ / start[:2])).max() > 0.05
    np.testing.assert_allclose(moved.next_var_, np.append(moved.block_var_, moved.noise_var_))
    loose, tight = (BlockRegression(blocks, tol=t, solver="iterative", **options).fit(x, y) for t in (1e-2, 1e-9))
    assert loose.n_iter_ == tight.n_iter_ < 20


def test_weights_are_one_each_or_one_for_all():
    x, y, blocks, _ = crossed(n=100)
    plain = BlockRegression(blocks).fit(x, y)
    np.testing.assert_allclose(BlockRegression(blocks).fit(x, y, 1.0).coef_, plain.coef_)
    with pytest.raises(TableError, match="sample_weight has shape"):
        BlockRegression(blocks).fit(x, y, np.ones(99))


def test_known_variances_are_recovered():
    x, y, blocks, theta = crossed(n=6000, p=(60, 200))
    model = BlockRegression(blocks).fit(x, y)
    np.testing.assert_allclose(model.block_var_, [1.0, 0.25], rtol=0.35)
    np.testing.assert_allclose(model.noise_var_, 0.5, rtol=0.06)
    mean, sd = model.predict(x, return_std=True)
    inside = np.abs(x @ theta + 5 - mean) < 1.2816 * sd
    assert 0.70 < inside.mean() < 0.90


@pytest.mark.parametrize("space", ["columns", "rows"])
@pytest.mark.parametrize("start", [0.02, 40.0])
def test_the_prior_of_a_variance_counts_as_stated(space, start):
    """One reading per column: y ~ N(0, τ + σ²), and the density of log τ is maximised by a reference optimiser."""
    y = np.linspace(-2.0, 2.0, 12)
    noise, count, place = 0.5, 30.0, 3.0

    def lost(log_var):
        var = np.exp(log_var)
        own = ((y**2) / (var + noise) + np.log(var + noise)).sum()
        return own + count * (log_var + place * np.exp(-log_var))

    expected = np.exp(minimize_scalar(lost, bounds=(-8, 8), method="bounded", options={"xatol": 1e-9}).x)
    x = np.eye(12) if space == "columns" else np.hstack([np.eye(12), np.zeros((12, 1))])
    found = BlockRegression(
        [0] * x.shape[1],
        pseudo_count=[count, 0.0],
        pseudo_var=[place, 1.0],
        noise_var=noise,
        fit_intercept=False,
        init_var=[start, noise],
        tol=1e-8,
    ).fit(x, y)
    assert found.block_var_[0] == pytest.approx(expected, rel=1e-4)


def test_prior_mean_moves_with_the_data():
    rng = np.random.default_rng(1)
    x = rng.normal(size=(200, 1))
    y = -0.5 * x[:, 0] + rng.normal(0, 0.1, 200)
    strong = BlockRegression([-1], prior_mean=[2.0], prior_scale=[0.01**2]).fit(x, y)
    weak = BlockRegression([-1], prior_mean=[2.0], prior_scale=[1.0]).fit(x, y)
    assert abs(weak.coef_[0] + 0.5) < 0.02
    assert strong.coef_[0] > 0.5


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"blocks": [0, 1]}, "blocks has shape"),
        ({"prior_scale": [-1.0]}, "not above 0"),
        ({"prior_scale": [0.0]}, "not above 0"),
        ({"pseudo_count": [1.0]}, "need 2 entries — one per block, then one for the noise"),
        ({"pseudo_var": [1.0, 1.0, 1.0]}, "need 2 entries"),
        ({"solver": "magic"}, "'magic' is not known"),
    ],
)
def test_wrong_arguments_are_refused(wrong, told):
    with pytest.raises(TableError, match=told):
        BlockRegression(**wrong).fit(np.ones((3, 1)), [1.0, 2, 3])
