"""Off-target penalty: expected squared log distance from the needed dose, each side apart."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from pairing.model.arrays import Floats

__all__ = ["expected_squares"]

MAX_DISTANCE = 1.75
"""Beyond this log distance (a factor of 5.8) liking is taken to fall no further: the scale has an end (our choice)."""


def expected_squares(mean: Floats, sd: Floats) -> tuple[Floats, Floats]:
    r"""Give the expected squared distance below and above the needed dose.

    With z normal of mean μ and sd s, :math:`E[z^2 1(z>0)] = (\mu^2 + s^2)\Phi(\mu/s) + \mu s \varphi(\mu/s)`.

    Parameters
    ----------
    mean, sd : array
        Log dose less log needed dose, and its uncertainty.

    Returns
    -------
    under, over : array

    Examples
    --------
    >>> expected_squares(np.array([0.5]), np.array([0.0]))
    (array([0.]), array([0.25]))
    """
    spread = np.maximum(sd, 1e-9)
    mu = np.clip(mean, -MAX_DISTANCE, MAX_DISTANCE)
    ratio = mu / spread
    density = np.exp(-0.5 * ratio**2) / np.sqrt(2 * np.pi)
    square, cross = mu**2 + spread**2, mu * spread * density
    over = np.maximum(square * ndtr(ratio) + cross, 0.0)
    under = np.maximum(square * ndtr(-ratio) - cross, 0.0)
    tiny = 1e-12
    return np.where(under < tiny, 0.0, under), np.where(over < tiny, 0.0, over)
