"""Extrapolated steps: to the fixed point of a linear map in as many as it has dimensions, and never too far at once."""

import numpy as np

from pairing.learning.fixed_point import MAX_MOVE, extrapolated


def rounds(matrix, start, n):
    """Go round x → fixed + matrix (x − fixed), extrapolating; the fixed point is 0."""
    points, images = [start], []
    for _ in range(n):
        images.append(matrix @ points[-1])
        points.append(extrapolated(points, images, np.ones(len(start))))
    return points


def test_a_slow_linear_map_is_solved_in_few_steps():
    slow = np.diag([0.95, 0.9, -0.5])
    found = rounds(slow, np.array([1.0, -1.0, 0.5]), 5)
    assert np.abs(found[-1]).max() < 1e-6
    assert np.abs(np.linalg.matrix_power(slow, 5) @ found[0]).max() > 0.7


def test_no_coordinate_moves_far_at_once():
    found = rounds(np.diag([0.5]), np.array([40.0]), 3)
    assert np.abs(np.diff(np.ravel(found))[1:]).max() <= MAX_MOVE + 1e-12
