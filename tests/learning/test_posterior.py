"""What is known of the weights: moments of a weight that must be positive, and of those that hang on it."""

import numpy as np
import pytest
from scipy import sparse
from scipy.stats import truncnorm

from pairing.learning.evidence import BlockRegression
from pairing.learning.posterior import Posterior

MEAN = np.array([0.4, -1.0, 2.0])
COV = np.array([[0.81, 0.3, -0.2], [0.3, 0.5, 0.1], [-0.2, 0.1, 0.6]])
EVERY = np.eye(3)


@pytest.mark.parametrize("place", [-1.2, 0.0, 0.4, 3.0])
def test_a_positive_weight_has_the_moments_of_a_truncated_normal(place):
    """The reference is ``scipy.stats.truncnorm``."""
    known = Posterior(np.array([place, *MEAN[1:]]), cov=COV).positive(0)
    sd = np.sqrt(COV[0, 0])
    reference = truncnorm(-place / sd, np.inf, loc=place, scale=sd)
    assert known.mean[0] == pytest.approx(reference.mean())
    assert known.variance(EVERY)[0] == pytest.approx(reference.var())


def test_the_other_weights_follow_the_positive_one():
    """Weights given the first are normal, with a mean on a line and a spread that does not change: by joint draws."""
    draws = np.random.default_rng(0).multivariate_normal(MEAN, COV, 400_000)
    kept = draws[draws[:, 0] > 0]
    known = Posterior(MEAN, cov=COV).positive(0)
    np.testing.assert_allclose(known.mean, kept.mean(axis=0), atol=0.005)
    np.testing.assert_allclose(known.covariance(EVERY, EVERY), np.cov(kept.T), atol=0.006)


def nested():
    """A fit with a block of 900 columns that are read once or twice each, beside two columns."""
    rng = np.random.default_rng(2)
    n, many = 1500, 900
    few = rng.standard_normal((n, 2))
    own = sparse.csr_matrix((np.ones(n), (np.arange(n), rng.integers(0, many, n))), (n, many))
    x = sparse.hstack([sparse.csr_matrix(few), own], format="csr")
    y = few @ [0.05, -0.4] + own @ rng.normal(0, 0.7, many) + rng.standard_normal(n)
    return x, BlockRegression([0, 0] + [1] * many, fit_intercept=False).fit(x, y).posterior_


def test_it_is_the_same_where_a_block_is_nested():
    x, known = nested()
    assert known.inverse.bridge is not None
    rows = sparse.vstack([sparse.eye(4, x.shape[1]), x[:6]], format="csr")
    plain = Posterior(rows @ known.mean, cov=known.covariance(rows, rows)).positive(0)
    found = known.positive(0)
    np.testing.assert_allclose(rows @ found.mean, plain.mean, atol=1e-10)
    np.testing.assert_allclose(found.covariance(rows, rows), plain.cov, atol=1e-10)
