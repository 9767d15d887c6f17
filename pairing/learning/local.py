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

__all__ = ["Eliminated", "Local", "elimination_order"]

_SYMMETRIC: dict[str, Any] = {"diag_pivot_thresh": 0.0, "options": {"SymmetricMode": True}}


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
    given_order : int array, shape (q,), optional
        See `elimination_order`; None: it is found when it is needed.
    """

    z: Any
    prior: Prior
    number: Ints
    given_order: Ints | None = None

    def __len__(self) -> int:
        return int(self.z.shape[1])

    @cached_property
    def gram(self) -> Any:
        """Z'Z, which falls into blocks: no row joins two kitchens."""
        return (self.z.T @ self.z).tocsc()

    @cached_property
    def order(self) -> Ints | None:
        """In which order the columns are eliminated."""
        return elimination_order(self.gram) if self.given_order is None else self.given_order

    def eliminated(self, precision: Floats) -> Eliminated:
        """Return the inverse of ``Z'Z + diag(precision)``."""
        return Eliminated.of(self.gram, precision, self.order)


def elimination_order(gram: Any) -> Ints | None:
    """Return a minimum-degree order of the columns of Z'Z, shape (q,); None where none meets another.

    It holds for D at all precisions and for fewer rows, and takes several times as long to find as the factors do.
    """
    if gram.nnz <= np.count_nonzero(gram.diagonal()):
        return None
    whole = (gram + sparse.identity(gram.shape[0])).tocsc()
    return np.argsort(splu(whole, permc_spec="MMD_AT_PLUS_A", **_SYMMETRIC).perm_c)


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
    order : int array, shape (q,), or None
        Else the order in which columns are eliminated.
    factors : SuperLU or None
        And the triangular factors of D in that order.
    """

    spread: Floats | None
    order: Ints | None = None
    factors: Any = None

    @classmethod
    def of(cls, gram: Any, precision: Floats, order: Ints | None) -> Eliminated:
        """Factor ``gram + diag(precision)``; ``order`` is that of `elimination_order`."""
        if order is None:
            return cls(1.0 / (gram.diagonal() + precision))
        whole = (gram + sparse.diags(precision)).tocsc()[:, order].tocsr()[order].tocsc()
        return cls(None, order, splu(whole, permc_spec="NATURAL", **_SYMMETRIC))

    def solve(self, rhs: Floats) -> Floats:
        """Return D⁻¹ times some columns, shape (q, r)."""
        if self.spread is not None:
            return self.spread[:, None] * rhs
        found = np.empty_like(rhs)
        found[self.order] = self.factors.solve(rhs[self.order])
        return found
