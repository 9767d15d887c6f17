"""Guess a liking from the cups that are most alike: what ``pairing evaluate`` puts beside the model.

Likeness of two recipes is the share of flavourings that they have in common (the Jaccard index), and a little more on
the same base; the guess is the mean of the nearest cups, drawn towards the average where few are near.

References
----------
T. Cover, P. Hart, Nearest neighbor pattern classification, IEEE Transactions on Information Theory 13 (1967) 21-27.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pairing.api import Baseline, Scores, hookimpl

PAIRING_API = (1, 1)

NEAREST = 8
"""Cups that are asked (our choice)."""
SAME_BASE = 0.3
"""What the same base adds to likeness, whose most is 1 (our choice)."""
PRIOR = 1.0
"""Cups of the average that are counted in (our choice)."""


def _alike(known: Scores, asked: Scores) -> Any:
    """Return how alike every asked cup is to every known one, shape (asked, known)."""
    here, there = (scores.table.incidence.astype(float) for scores in (asked, known))
    both = here @ there.T
    either = here.sum(axis=1)[:, None] + there.sum(axis=1)[None, :] - both
    same = asked.table.base_index[:, None] == known.table.base_index[None, :]
    return np.where(either > 0, both / np.maximum(either, 1.0), 1.0) + SAME_BASE * same


def guess(known: Scores, asked: Scores) -> Any:
    """Return the mean liking of the cups most alike, each weighted by how alike it is."""
    average = known.liking.mean() if len(known.liking) else 5.0
    if not len(known.liking):
        return np.full(len(asked.table), average)
    alike = _alike(known, asked)
    nearest = np.argsort(-alike, axis=1, kind="stable")[:, :NEAREST]
    weight = np.take_along_axis(alike, nearest, axis=1)
    return ((weight * known.liking[nearest]).sum(axis=1) + PRIOR * average) / (weight.sum(axis=1) + PRIOR)


@hookimpl
def pairing_baselines() -> list[Baseline]:
    """Return the guess."""
    return [
        Baseline(
            id="nearest",
            summary="the mean of the cups most alike",
            source="Cover and Hart 1967; number of cups and weights are our choice",
            guess=guess,
        )
    ]
