"""The inverse of a precision matrix, dense or with one nested block taken out first.

Effects of cups are nested: no reading belongs to two cups, so that their part of the precision matrix is diagonal. It
is eliminated exactly (a Schur complement), and what is left is as small as the number of other columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse
from scipy.linalg import lapack

__all__ = ["Inverse", "dense_inverse", "invert", "nested_columns", "nested_inverse"]

Array = np.ndarray[Any, np.dtype[np.float64]]
WORTH_NESTING = 64
"""Columns from which a nested block is worth taking out (our choice)."""


def invert(matrix: Array) -> tuple[Array, float]:
    """Inverse and log-determinant of a positive definite matrix; a jitter is added where rounding needs one."""
    jitter = 0.0
    top = float(np.abs(np.diag(matrix)).max(initial=1.0))
    for _ in range(6):
        factor, info = lapack.dpotrf(matrix + jitter * np.eye(len(matrix)) if jitter else matrix, lower=1)
        if info == 0:
            break
        jitter = max(jitter * 100, 1e-12 * top)
    else:
        raise np.linalg.LinAlgError("matrix is not positive definite")
    inverse, _ = lapack.dpotri(factor, lower=1)
    whole = inverse + inverse.T  # above the diagonal the inverse holds zeros
    whole[np.diag_indices_from(whole)] *= 0.5
    return whole, 2.0 * float(np.log(np.diag(factor)).sum())


@dataclass(frozen=True)
class Inverse:
    """The inverse of A, with the columns ``inner`` nested.

    With :math:`A = [[A_{rr}, A_{rc}], [A_{cr}, D]]`, D diagonal, and :math:`B = A_{rc} D^{-1}`:
    :math:`x' A^{-1} y = (x_r - B x_c)' S^{-1} (y_r - B y_c) + x_c' D^{-1} y_c`.

    Attributes
    ----------
    core : array, shape (q, q)
        The inverse of the Schur complement S of the outer columns; the whole inverse where nothing is nested.
    logdet : float
        Log-determinant of A.
    outer, inner : int array
        Columns kept and columns nested.
    bridge : sparse matrix, shape (n_inner, q), or None
        The transpose of B.
    spread : array, shape (n_inner,)
        The diagonal of :math:`D^{-1}`.
    """

    core: Array
    logdet: float
    outer: Any = None
    inner: Any = None
    bridge: Any = None
    spread: Any = None

    def project(self, x: Any) -> tuple[Any, Any]:
        """Return rows over the core, and over the nested columns (None if there are none)."""
        if self.bridge is None:
            return x, None
        nested = x[:, self.inner]
        return x[:, self.outer] - nested @ self.bridge, nested

    def solve(self, rhs: Array) -> Array:
        """Return the inverse times some columns."""
        if self.bridge is None:
            return self.core @ rhs
        out = np.empty_like(rhs)
        out[self.outer] = self.core @ (rhs[self.outer] - self.bridge.T @ rhs[self.inner])
        out[self.inner] = self.spread[:, None] * rhs[self.inner] - self.bridge @ out[self.outer]
        return out

    def traces(self, weight: Array, block: Any, n_blocks: int) -> tuple[Array, float]:
        """Return the weighted trace of the inverse per block, and over all columns."""

        def per_block(columns: Any, diagonal: Array) -> Array:
            own = block[columns] >= 0
            return np.bincount(block[columns][own], diagonal[own], minlength=n_blocks).astype(np.float64)

        if self.bridge is None:
            diagonal = np.diag(self.core) * weight
            return per_block(slice(None), diagonal), float(diagonal.sum())
        diagonal = np.diag(self.core) * weight[self.outer]
        out = per_block(self.outer, diagonal)
        inner = weight[self.inner]
        weighted = self.bridge.multiply(inner[:, None]).tocsr()
        more = float(inner @ self.spread) + float((self.bridge.T @ weighted).multiply(self.core).sum())
        out[block[self.inner[0]]] += more
        return out, float(diagonal.sum()) + more


def dense_inverse(gram: Array, precision: Array) -> Inverse:
    """Invert ``gram + diag(precision)``."""
    return Inverse(*invert(gram + np.diag(precision)))


def nested_columns(x: Any, block: Any) -> Any:
    """Return the columns of a large block with at most one entry per row, None where none is worth it."""
    if not sparse.issparse(x):
        return None
    entries = np.bincount(x.tocsr().indices, minlength=x.shape[1])
    for b in np.argsort(-np.bincount(block[block >= 0], minlength=1), kind="stable")[:3]:
        columns = np.flatnonzero(block == b)
        if len(columns) < WORTH_NESTING:
            return None
        few = entries[columns].sum() <= x.shape[0]
        if few and np.diff(x[:, columns].tocsr().indptr).max(initial=0) <= 1:
            return columns
    return None


def nested_inverse(gram: Any, precision: Array, inner: Any) -> Inverse:
    """Invert a sparse ``gram + diag(precision)`` in which the columns ``inner`` are nested."""
    outer = np.setdiff1d(np.arange(len(precision)), inner)
    spread = 1.0 / (gram.diagonal()[inner] + precision[inner])
    cross = gram[inner][:, outer].tocsr()
    bridge = cross.multiply(spread[:, None]).tocsr()
    core = gram[outer][:, outer].toarray() - (bridge.T @ cross).toarray() + np.diag(precision[outer])
    inverse, logdet = invert(core)
    return Inverse(inverse, logdet - float(np.log(spread).sum()), outer, inner, bridge, spread)
