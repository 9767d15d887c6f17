"""Conjugate gradients against a dense solution, with what speeds them up on and off."""

import numpy as np
import pytest
from scipy import sparse

from pairing.learning.exact import Prior
from pairing.learning.inverse import nested_columns
from pairing.learning.iterative import Gram, draws, small_columns, solve

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


@pytest.mark.parametrize("nested", [True, False])
@pytest.mark.parametrize("lead", [True, False])
def test_solution_is_the_dense_one(nested, lead):
    x, weight, block, precision, rng = stepped_cups()
    inner = nested_columns(x, block) if nested else None
    small = small_columns(block, inner) if lead else None
    rhs = rng.standard_normal((x.shape[1], 3))
    found = solve(Gram(x, weight, inner, small), precision, rhs, tol=1e-10)
    whole = (x.T @ x.multiply(weight[:, None])).toarray() + np.diag(precision)
    np.testing.assert_allclose(found, np.linalg.solve(whole, rhs), atol=1e-7)


def test_rows_that_are_alike_are_taken_together():
    x, weight, *_ = stepped_cups()
    gram = Gram(x, weight)
    assert gram.root.shape[0] == SIZES[2]
    np.testing.assert_allclose(
        (gram.transposed @ gram.root).toarray(), (x.T @ x.multiply(weight[:, None])).toarray(), atol=1e-12
    )


def test_small_columns_leave_out_the_nested_and_the_large():
    block = np.repeat([0, 1, -1, 2, 3], [5, 500, 1, 80, 20])
    nested = np.flatnonzero(block == 2)
    assert set(block[small_columns(block, nested)]) == {0, 3, -1}


def test_draws_have_the_posterior_spread():
    x, weight, block, precision, rng = stepped_cups()
    inner = nested_columns(x, block)
    prior = Prior(block, np.zeros(len(block)), 1 / precision, 3, np.zeros(4), np.ones(4))
    found = draws(Gram(x, weight, inner, small_columns(block, inner)), prior, np.zeros(4), rng, 4000)
    cov = np.linalg.inv((x.T @ x.multiply(weight[:, None])).toarray() + np.diag(precision))
    np.testing.assert_allclose(found.var(axis=1), np.diag(cov), rtol=0.2)
