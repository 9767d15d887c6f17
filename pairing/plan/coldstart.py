"""Where little or nothing was tried: an empty log, a new base or version, a new flavouring."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.errors import BriefError
from pairing.model.chance import generator
from pairing.plan.batch import Choice, choose
from pairing.plan.candidates import candidates, checked, with_ids
from pairing.plan.history import history
from pairing.plan.left_out import nothing_left
from pairing.plan.objective import Objective
from pairing.plan.suggest import build

if TYPE_CHECKING:
    from pairing.learning.answers import Answers
    from pairing.model.answers import Suggestion
    from pairing.model.brief import Brief
    from pairing.plan.pool import Pool

__all__ = ["first_trials", "for_new_base", "for_new_flavouring"]

_CLOUD = 400


def first_trials(model: Answers, brief: Brief | None = None, n: int = 6, random_state: Any = 0) -> list[Suggestion]:
    """Suggest the first trials for an empty or nearly empty log: single flavourings, chosen to teach most.

    Each is the cup whose score takes most uncertainty off all that the brief allows, given the cups chosen before it
    (Cohn, Ghahramani & Jordan 1996, active learning by expected variance).
    """
    brief = checked(model, brief, n)
    small = replace(brief, max_flavourings=max(1, len(brief.must_have or ())))
    pool = _some(model, small, candidates(model, small))
    rng = generator(random_state)
    cloud = pool.take(np.sort(rng.choice(len(pool), min(_CLOUD, len(pool)), replace=False)))
    objective = Objective.of(model, brief)
    joint = objective.joint(cloud, objective.predict(cloud)[0])
    left = np.ones(len(cloud), dtype=bool)
    chosen: list[Choice] = []
    rows: list[int] = []
    while left.any() and len(rows) < n:
        taken_off = (joint.cov**2).sum(axis=0) / (np.diag(joint.cov) + joint.noise_var)
        x = int(np.argmax(np.where(left, taken_off, -np.inf)))
        worth = float(joint.worth(np.array([x]), np.arange(len(cloud)))[0])
        chosen.append(Choice(len(rows), worth))
        rows.append(x)
        left[x] = False
        joint = joint.tasted(x)
    return build(model, brief, cloud.take(rows), chosen)


def for_new_base(
    model: Answers, base_id: str, n: int = 3, brief: Brief | None = None, random_state: Any = 0
) -> list[Suggestion]:
    """Suggest which known winners to retry first in a new base or version, at the doses expected there.

    Only combinations that were tried in other bases come into question, and among these the ones that are expected to
    raise the best liking in the new base most.
    """
    base_id = model.shelf.base(base_id).base_id
    asked = checked(model, brief, n)
    if asked.bases is not None and base_id not in asked.bases:
        raise BriefError(f"{base_id} is not among the bases {', '.join(asked.bases)}", "leave bases out to try it")
    wanted = replace(asked, bases=(base_id,))
    pool = _some(model, wanted, candidates(model, wanted))
    known = {ids for (base, ids), c in history(model).items() if c.liked and base != base_id}
    winners = np.array([pool.key(i)[1] in known for i in range(len(pool))], dtype=bool)
    pool = pool.take(winners) if winners.any() else pool
    rng = generator(random_state)
    return build(model, wanted, pool, choose(model, wanted, pool, n, rng))


def for_new_flavouring(
    model: Answers, flavouring_id: str, n: int = 3, brief: Brief | None = None, random_state: Any = 0
) -> list[Suggestion]:
    """Suggest what to try a new flavouring in first: alone and with the partners that are likely to suit it."""
    flavouring_id = model.shelf.flavouring(flavouring_id).flavouring_id
    asked = checked(model, brief, n)
    if flavouring_id in (asked.never or ()):
        raise BriefError(f"{flavouring_id} is in never", "drop it from never to try it")
    must = tuple(dict.fromkeys((*(asked.must_have or ()), flavouring_id)))
    on_hand = None if asked.on_hand is None else tuple(dict.fromkeys((*asked.on_hand, flavouring_id)))
    wanted = with_ids(model, replace(asked, must_have=must, on_hand=on_hand))
    pool = _some(model, wanted, candidates(model, wanted))
    rng = generator(random_state)
    return build(model, wanted, pool, choose(model, wanted, pool, n, rng))


def _some(model: Answers, brief: Brief, pool: Pool) -> Pool:
    if not len(pool):
        raise nothing_left(model, brief)
    return pool
