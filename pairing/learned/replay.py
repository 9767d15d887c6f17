"""Replaying one's own log: how many trials would this planner have needed to find the best cup that was found.

A cup that was read with one set of flavourings, then with more, counts as a trial of each.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pairing.errors import LogError
from pairing.model.brief import Brief
from pairing.model.recipes import Recipes
from pairing.plan.batch import choose
from pairing.plan.history import Key, history
from pairing.plan.pool import Pool, with_doses

if TYPE_CHECKING:
    from pairing.learned.learned import Learned
    from pairing.learning.log import Log

__all__ = ["Replay", "replay"]

_FEWEST = 8


@dataclass(frozen=True)
class Replay:
    """Outcome of a replay.

    Attributes
    ----------
    best : tuple
        Base and flavourings of the combination that the whole log likes best.
    liking : float
        What the model of the whole log expects of it.
    own_trials : int
        Trials until the person first tried it.
    planned_trials : float
        Trials until the planner did, on average over the repeats; the first ``given`` are the person's own.
    by_chance : float
        The same for trying the logged combinations in random order after those.
    given, combinations, repeats : int
    """

    best: Key
    liking: float
    own_trials: int
    planned_trials: float
    by_chance: float
    given: int
    combinations: int
    repeats: int

    def __str__(self) -> str:
        base, ids = self.best
        return (
            f"best cup so far: {' + '.join(ids)} in {base} (expected liking {self.liking:.1f}); you first tried it as "
            f"trial {self.own_trials}. Choosing among your {self.combinations} combinations after your first "
            f"{self.given} trials, this planner would have tried it as trial {self.planned_trials:.0f}, chance as "
            f"trial {self.by_chance:.0f}"
        )


def replay(
    model: Learned,
    learn: Callable[[Log], Learned],
    given: int | None = None,
    repeats: int = 3,
    progress: Callable[[float], object] | None = None,
) -> Replay:
    """Replay a log: the planner chooses each next trial among those that were logged, seeing only what it has chosen.

    Parameters
    ----------
    model : Learned
        Of the whole log; names the best combination.
    learn : callable
        Part of the log to a learned model over the same shelf, with the same rules.
    given : int, optional
        How many of the person's own first trials the planner starts from; default a tenth, 4 to 12.
    repeats : int
        Replays; all but the first start from other trials of the log, drawn at random.
    progress : callable, optional
        Told the share done.

    Raises
    ------
    LogError
        When fewer than 8 combinations were tried.
    """
    past = history(model)
    liked = [key for key, c in past.items() if c.liked]
    if len(liked) < _FEWEST:
        raise LogError(
            f"{len(liked)} combinations have a liking, a replay needs {_FEWEST}", "log some more cups with a liking"
        )
    pool = _pool_of(model, liked)
    mean, _ = model.response.predict_encoded(model.response.encode_recipes(pool.recipes.open()))
    best, wanted = liked[int(np.argmax(mean))], set(liked)
    order = [(number, key) for number, (_, key) in enumerate(past.trials) if key in wanted]
    start = given or min(12, max(4, len(order) // 10))
    own = next(i for i, (_, key) in enumerate(order, start=1) if key == best)
    plain = past.tries < 0

    def of_trials(known: list[int]) -> Learned:
        seen = np.isin(past.tries, known)
        return learn(model.log.take(np.flatnonzero(seen | plain & np.isin(model.log.cup, model.log.cup[seen]))))

    runs = []
    for seed in range(repeats):
        runs.append(_run(of_trials, order, best, start, seed))
        if progress is not None:
            progress((seed + 1) / repeats)
    found, chance = (float(np.mean(column)) for column in zip(*runs, strict=True))
    return Replay(best, float(np.max(mean)), own, found, chance, start, len(liked), repeats)


def _pool_of(model: Learned, keys: list[Key]) -> Pool:
    recipes = Recipes.from_ids(model.shelf, [base for base, _ in keys], [ids for _, ids in keys])
    return with_doses(Pool.of(model.shelf, recipes), model)


def _run(
    learn: Callable[[list[int]], Learned], order: list[tuple[int, Key]], best: Key, start: int, seed: int
) -> tuple[int, float]:
    """Count trials until the planner pours the best combination, and how many chance would need."""
    rng = np.random.default_rng(seed)
    trials = list(order)
    if seed:
        rng.shuffle(trials)
    known = [trial for trial, key in trials[:start] if key != best]
    waiting: dict[Key, list[int]] = {}
    for trial, key in trials:
        if trial not in known:
            waiting.setdefault(key, []).append(trial)
    chance = len(known) + (len(waiting) + 1) / 2
    for count in range(len(known) + 1, len(trials) + 1):
        seen = learn(known)
        keys = list(waiting)
        row = choose(seen, Brief(max_flavourings=6), _pool_of(seen, keys), 1, rng)[0].row
        if keys[row] == best:
            return count, chance
        left = waiting[keys[row]]
        known.append(left.pop(0))
        if not left:
            del waiting[keys[row]]
    return len(trials), chance
