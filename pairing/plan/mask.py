"""Which candidates bring an off-note down, and what that costs in liking."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import BriefError
from pairing.model.arrays import Floats
from pairing.model.reason import Reason
from pairing.model.recipes import Recipes
from pairing.plan.batch import Choice
from pairing.plan.objective import Objective

if TYPE_CHECKING:
    from pairing.learning.answers import Answers
    from pairing.model.brief import Brief
    from pairing.plan.pool import Pool

__all__ = ["maskers", "masking"]

_POINTS = 4.0
"""What it is worth to be rid of an off-note for sure, liking points (our choice)."""


def maskers(model: Answers, brief: Brief, pool: Pool, n: int) -> list[Choice]:
    """Choose the candidates that bring the note down most for what they cost in liking, best first.

    Raises
    ------
    UnknownIdError, BriefError
        When the note was never logged, and when no candidate brings it down.
    """
    drop, gain = _effect(model, brief, pool)
    score = _POINTS * drop + gain
    order = [i for i in np.argsort(-score, kind="stable").tolist() if drop[i] > 0]
    if not order:
        raise BriefError(
            f"nothing that is allowed brings {brief.mask} down",
            "allow more, or mend the base: fat, thickness, less acid",
        )
    return [Choice(i, float(score[i])) for i in order[:n]]


def masking(model: Answers, brief: Brief, row: Pool) -> Reason:
    """Tell what one candidate does to the note, and to liking, beside its plain base."""
    note = model.notes.check(str(brief.mask))
    with_it, plain = model.notes.chance(note, row.recipes)[0], model.notes.chance(note, _plain(row))[0]
    gain = float(_effect(model, brief, row)[1][0])
    return Reason(
        kind="mask",
        base_id=row.base_ids[0],
        flavouring_ids=row.flavouring_ids[0],
        points=gain,
        what=note,
        share=float(with_it[0]),
        share_plain=float(plain[0]),
    )


def _plain(pool: Pool) -> Recipes:
    return Recipes.at(pool.recipes.base, np.full((len(pool), 1), -1))


def _effect(model: Answers, brief: Brief, pool: Pool) -> tuple[Floats, Floats]:
    """Return by how much the note comes less often, and the liking gained, beside each candidate's plain base."""
    note = model.notes.check(str(brief.mask))
    chance = model.notes.chance
    drop = chance(note, _plain(pool))[0] - chance(note, pool.recipes)[0]
    plain = model.response.predict_encoded(model.response.encode_recipes(_plain(pool)))[0]
    return drop, np.asarray(Objective.of(model, brief).predict(pool)[0] - plain)
