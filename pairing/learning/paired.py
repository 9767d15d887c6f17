"""Blind comparisons as evidence: which of two cups was stronger, or preferred.

A taster picks the left cup with probability Φ(gap ÷ scale) (Thurstone 1927, Psychol. Rev. 34:273, case V); a tie counts
as half an answer for each side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import log_ndtr, ndtr

from pairing.errors import TableError, nearest
from pairing.learning.log import Log
from pairing.model.arrays import Floats
from pairing.model.recipe import parse_recipe_text
from pairing.model.recipes import Recipes

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["Paired", "log_chance", "read_comparisons", "working_gap"]

SHARE = {"left": 1.0, "right": 0.0, "tie": 0.5}


@dataclass(frozen=True)
class Paired:
    """Comparisons of one question.

    Attributes
    ----------
    left, right : Recipes, n each
    share : array, shape (n,)
        1 where the left was picked, 0 the right, ½ a tie.
    """

    left: Recipes
    right: Recipes
    share: Floats

    def __len__(self) -> int:
        return len(self.share)


def read_comparisons(shelf: Shelf, log: Log, comparisons: pd.DataFrame | None, question: str) -> Paired | None:
    """Read the comparisons that ask one question; None where there are none.

    Raises
    ------
    TableError
        When a side is neither a trial of the log nor a recipe, or an answer is not left, right or tie.
    """
    if comparisons is None or not len(comparisons):
        return None
    rows = comparisons[comparisons["question"] == question]
    if not len(rows):
        return None
    answers = [str(a).strip().casefold() for a in rows["answer"]]
    if wrong := sorted(set(answers) - set(SHARE)):
        raise TableError(f"answer {wrong[0]!r} is not known", "use left, right or tie")
    last = {log.trials[cup]: row for row, cup in enumerate(log.cup)}
    sides = {side: _side(shelf, log, last, rows[side]) for side in ("left", "right")}
    return Paired(sides["left"], sides["right"], np.array([SHARE[a] for a in answers]))


def _side(shelf: Shelf, log: Log, last: dict[str, int], names: Any) -> Recipes:
    distinct = list(dict.fromkeys(map(str, names)))
    parts = []
    for name in distinct:
        if name in last:
            parts.append(log.recipes.take([last[name]]))
        elif "|" in name:
            parts.append(Recipes.of(shelf, [parse_recipe_text(name)]))
        else:
            hint = f"write a trial's id or base|flavouring=dose; {nearest(name, last)}"
            raise TableError(f"a comparison names {name!r}, which is no trial", hint)
    index = {name: i for i, name in enumerate(distinct)}
    return Recipes.stack(parts).take(np.array([index[str(name)] for name in names]))


def working_gap(share: Floats, gap: Floats, scale: float) -> tuple[Floats, Floats]:
    r"""Score and information of each answer with respect to the gap (left less right).

    With :math:`v = \mathrm{gap} / s`, the share :math:`p` of the left and :math:`\lambda(v) = \varphi(v) / \Phi(v)`,
    whose derivative is :math:`-\lambda(v)(\lambda(v) + v)`, the log-likelihood
    :math:`p \log \Phi(v) + (1 - p) \log \Phi(-v)` has

    .. math:: g = \frac{p \lambda(v) - (1 - p) \lambda(-v)}{s}, \quad
              h = \frac{p \lambda(v)(\lambda(v) + v) + (1 - p) \lambda(-v)(\lambda(-v) - v)}{s^2}.
    """
    v = gap / scale
    density = np.exp(-0.5 * v * v) / np.sqrt(2 * np.pi)
    up, down = density / np.maximum(ndtr(v), 1e-12), density / np.maximum(ndtr(-v), 1e-12)
    score = share * up - (1 - share) * down
    information = share * up * (up + v) + (1 - share) * down * (down - v)
    return score / scale, np.maximum(information, 1e-4) / scale**2


def log_chance(share: Floats, gap: Floats, scale: float) -> tuple[Floats, Floats]:
    """Log-probability of each answer, and its derivative by the logarithm of the scale."""
    v = gap / scale
    score, _ = working_gap(share, gap, scale)
    return share * log_ndtr(v) + (1 - share) * log_ndtr(-v), -score * scale * v
