"""Conjugate gradients for several right-hand sides at once, and what leads them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from pairing.learning.inverse import invert

__all__ = ["conjugate", "lead_by", "small_columns"]

Array = np.ndarray[Any, np.dtype[np.float64]]
MAX_SMALL = 400
"""Columns that are inverted together to lead the conjugate gradients (our choice)."""
MAX_STEPS = 500


def small_columns(block: Any) -> Any:
    """Return the columns of the smallest blocks, as many as are quickly inverted together."""
    size = np.bincount(block[block >= 0])
    order = np.argsort(size, kind="stable")
    few = order[np.cumsum(size[order]) + (block < 0).sum() <= MAX_SMALL]
    return np.flatnonzero((block < 0) | np.isin(block, few))


def lead_by(
    diagonal: Array, small: Any, core: Array, few: Any = None, coarse: Array | None = None
) -> Callable[[Array], Array]:
    r"""Return the preconditioner: the inverse of the small columns' part, and the others' diagonal.

    With ``few`` columns W whose part of A is ``coarse``, :math:`W (W'AW)^{-1} W'` is added to it, a coarse correction
    (Tang, Nabben, Vuik & Erlangga 2009, J. Sci. Comput. 39:340): where most of what such a column says could be said by
    eliminated ones as well, A is far smaller there than its diagonal, and an error there would hardly be seen.
    """
    spread = (1.0 / np.maximum(diagonal, 1e-12))[:, None]
    inverse = invert(core)[0]
    corrected = None if coarse is None or not len(coarse) else invert(coarse)[0]

    def lead(residual: Array) -> Array:
        out = spread * residual
        out[small] = inverse @ residual[small]
        if corrected is not None:
            out[few] += corrected @ residual[few]
        return out

    return lead


def conjugate(
    times: Callable[[Array], Array], lead: Callable[[Array], Array], rhs: Array, start: Array | None, tol: Any
) -> Array:
    r"""Solve ``times(x) = rhs`` for every column by preconditioned conjugate gradients.

    For symmetric positive definite A each step minimises the quadratic :math:`\tfrac12 x'Ax - x'b` over one more
    direction, A-conjugate to those before; with the preconditioner M ≈ A the residual r is measured as
    :math:`r' M^{-1} r` (Hestenes & Stiefel 1952, J. Res. Natl. Bur. Stand. 49:409; Golub & Van Loan 2013, Matrix
    Computations, § 11.5). Stops when that falls to ``tol``² times that of the right-hand side, column by column.

    Parameters
    ----------
    times, lead : callable
        A and the inverse of M, for arrays of shape (p, r).
    rhs : array, shape (p, r)
    start : array, shape (p, r), or None
    tol : float, or array of shape (r,)
    """
    x = np.zeros_like(rhs) if start is None else start.copy()
    goal = tol**2 * _dots(rhs, lead(rhs)) + 1e-300
    residual = rhs.copy() if start is None else rhs - times(x)
    direction = lead(residual)
    rz = _dots(residual, direction)
    for _ in range(MAX_STEPS):
        if (rz <= goal).all():
            break
        product = times(direction)
        step = rz / np.maximum(_dots(direction, product), 1e-300)
        product *= step
        residual -= product
        x += np.multiply(step, direction, out=product)
        z = lead(residual)
        before, rz = rz, _dots(residual, z)
        direction *= rz / np.maximum(before, 1e-300)
        direction += z
    return x


def _dots(one: Array, other: Array) -> Array:
    """Return the products of their columns, without an array of all terms."""
    return np.asarray(np.einsum("ij,ij->j", one, other))
