"""Random numbers by number: the same in any order, and as random as they should be."""

import numpy as np
import pytest

from pairing.learning.numbered import normals, signs, uniforms


@pytest.mark.parametrize("draw", [signs, uniforms, normals])
def test_a_number_draws_the_same_in_any_company(draw):
    every = draw(np.arange(1000), 5, 3)
    some = np.array([7, 900, 31])
    np.testing.assert_array_equal(draw(some, 5, 3), every[some])
    np.testing.assert_array_equal(draw(some, 5, 2), every[some, :2])
    assert (draw(np.arange(1000), 6, 3) != every).any()


def test_moments_and_independence():
    drawn = normals(np.arange(200_000), 1, 2)
    assert np.abs(drawn.mean(axis=0)).max() < 0.01
    np.testing.assert_allclose(np.cov(drawn.T), np.eye(2), atol=0.01)
    assert abs(np.corrcoef(drawn[1:, 0], drawn[:-1, 0])[0, 1]) < 0.01
    assert abs(signs(np.arange(200_000), 1, 1).mean()) < 0.01
    uniform = np.sort(uniforms(np.arange(200_000), 3, 1)[:, 0])
    assert np.abs(uniform - np.arange(200_000) / 200_000).max() < 0.005
    assert uniform[0] > 0
    assert uniform[-1] < 1
