"""Fixed points found sooner than by going round: Anderson's extrapolation."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pairing.model.arrays import Floats

__all__ = ["MAX_MOVE", "MEMORY", "extrapolated"]

MEMORY = 4
"""Earlier points that an extrapolation rests on (our choice)."""
MAX_MOVE = 1.5
"""How far any coordinate moves at most at once (our choice)."""


def extrapolated(points: Sequence[Floats], images: Sequence[Floats], weight: Floats) -> Floats:
    r"""Guess the point that a map F leaves in its place, from where it took the last points.

    With residuals :math:`f_i = F(x_i) - x_i` and the differences :math:`\Delta f_i, \Delta F_i` of successive points,
    the coefficients γ minimise :math:`\| f_k - \sum_i \gamma_i \Delta f_i \|` and the guess is
    :math:`F(x_k) - \sum_i \gamma_i \Delta F_i`: a secant step, so that :math:`x_{k+1} - x_k` is an estimate of all that
    is left of the way, where :math:`F(x_k) - x_k` is but the next of many steps (Anderson 1965, J. ACM 12:547; Walker &
    Ni 2011, SIAM J. Numer. Anal. 49:1715, type II).

    Parameters
    ----------
    points, images : sequences of arrays, shape (k,)
        :math:`x_i` and :math:`F(x_i)`, oldest first.
    weight : array, shape (k,)
        How much each coordinate's residual counts.

    Examples
    --------
    >>> half = lambda x: 0.5 * x + 1  # stays at 2
    >>> points = [np.array([8.0]), half(np.array([8.0]))]
    >>> extrapolated(points, [half(x) for x in points], np.ones(1)).round(9)
    array([3.5])

    (At most 1.5 at once; the next guess is 2.)
    """
    x, image = points[-1], images[-1]
    residuals = np.column_stack(images) - np.column_stack(points)
    differences = np.diff(residuals, axis=1)
    if not differences.shape[1]:
        return image
    scale = weight / max(float(np.abs(weight).max()), 1e-300)
    gamma = np.linalg.lstsq(differences * scale[:, None], residuals[:, -1] * scale, rcond=1e-6)[0]
    guess = image - np.diff(np.column_stack(images), axis=1) @ gamma
    return np.asarray(x + np.clip(guess - x, -MAX_MOVE, MAX_MOVE))
