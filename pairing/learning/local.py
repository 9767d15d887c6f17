"""Columns that belong to one part alone, and the exact elimination of their effects.

What is a taster's, a session's, a cup's or a kitchen's own meets only readings of one part. Its effects need not
travel: they are taken out where the readings are, and come back from the solution for the other columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from pairing.learning.exact import Prior
from pairing.model.arrays import Floats, Ints

__all__ = ["Eliminated", "Local"]


@dataclass(frozen=True, eq=False)
class Local:
    """Columns of one part.

    Attributes
    ----------
    z : sparse matrix, shape (n, q)
        Rows over these columns, each multiplied by the root of its weight.
    prior : Prior
        Of these columns; no flat one is among them.
    number : int array, shape (q,)
        A number for each column that no other local column of the whole data has.
    """

    z: Any
    prior: Prior
    number: Ints

    def __len__(self) -> int:
        return int(self.z.shape[1])

    @cached_property
    def gram(self) -> Any:
        """Z'Z, which falls into blocks: no row joins two kitchens."""
        return (self.z.T @ self.z).tocsc()

    def eliminated(self, precision: Floats) -> Eliminated:
        """Return the inverse of ``Z'Z + diag(precision)``."""
        return Eliminated.of(self.gram, precision)


@dataclass(frozen=True, eq=False)
class Eliminated:
    r"""The inverse D⁻¹ of the local columns' part of a precision matrix, exact.

    With shared columns X and local columns Z the normal equations
    :math:`\begin{pmatrix} X'X + P & X'Z \\ Z'X & D \end{pmatrix} \binom{\beta}{b} = \binom{X'y}{Z'y}`,
    :math:`D = Z'Z + \Lambda`, become :math:`(X'X + P - X'Z D^{-1} Z'X) \beta = X'(y - Z D^{-1} Z'y)` and
    :math:`b = D^{-1} Z'(y - X\beta)`: absorption (Henderson 1984, Applications of Linear Models in Animal Breeding).
    D is sparse and falls into blocks, whose factors a minimum-degree order keeps sparse; where no row has two local
    columns it is diagonal.

    Attributes
    ----------
    spread : array, shape (q,), or None
        The diagonal of D⁻¹ where D is diagonal.
    factors : SuperLU or None
        Else the triangular factors of D.
    """

    spread: Floats | None
    factors: Any = None

    @classmethod
    def of(cls, gram: Any, precision: Floats) -> Eliminated:
        """Factor ``gram + diag(precision)``."""
        whole = (gram + sparse.diags(precision)).tocsc()
        if whole.nnz == len(precision):
            return cls(1.0 / whole.diagonal())
        options = {"SymmetricMode": True}
        return cls(None, splu(whole, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options))

    def solve(self, rhs: Floats) -> Floats:
        """Return D⁻¹ times some columns, shape (q, r)."""
        if self.spread is not None:
            return self.spread[:, None] * rhs
        return np.asarray(self.factors.solve(rhs))
