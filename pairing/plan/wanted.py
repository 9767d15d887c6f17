"""What plugins want of suggestions: hard limits that leave candidates out, and goals that add to what one is worth."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from pairing.host.scoring import because, features
from pairing.host.tables import recipe_table_of
from pairing.model.arrays import Bools, Floats
from pairing.model.reason import Reason
from pairing.plan.pool import Pool

if TYPE_CHECKING:
    from pairing.api import RuleLike
    from pairing.learning.answers import Answers
    from pairing.model.recipe import Recipe

__all__ = ["goal_reasons", "limited", "limits_in_words", "wanted", "why_limited"]


def limited(model: Answers, pool: Pool) -> dict[str, Bools]:
    """Return, by the id of each limit, which candidates pass; one with a fault is off."""
    rules, matrix, off = _asked(model, "limit", pool)
    return {rule.id: matrix[:, j] > 0 for j, rule in enumerate(rules) if rule.id not in off}


def wanted(model: Answers, pool: Pool) -> Floats:
    """Return what the goals find in each candidate, liking points, shape (n,)."""
    rules, matrix, _ = _asked(model, "goal", pool)
    return np.asarray(matrix @ np.array([rule.prior_mean for rule in rules], dtype=float))


def goal_reasons(model: Answers, pool: Pool) -> Iterator[Reason]:
    """Tell what each goal finds in the one candidate of a pool."""
    rules, matrix, _ = _asked(model, "goal", pool)
    recipe = pool.recipe(0)
    for rule, value in zip(rules, matrix[0].tolist(), strict=True):
        if points := value * rule.prior_mean:
            text = because(rule, recipe, model.shelf)[0]
            yield Reason(kind="goal", rule_id=rule.id, text=text, points=points, flavouring_ids=recipe.flavouring_ids)


def limits_in_words(model: Answers, singles: Pool) -> Iterator[Reason]:
    """Tell of each limit which flavourings it leaves out, alone in every base that there is.

    Parameters
    ----------
    model : Answers
    singles : Pool
        Recipes of one flavouring.
    """
    ids, used = list(model.shelf.flavourings), singles.recipes.flavouring[:, 0]
    for rule in _rules(model, "limit"):
        passing = limited(model, singles).get(rule.id)
        if passing is not None:
            out = np.setdiff1d(used, used[passing])
            if len(out):
                left = tuple(ids[i] for i in out)
                yield Reason(kind="limit", rule_id=rule.id, text=rule.summary, item_ids=left)


def why_limited(model: Answers, rule_id: str, recipe: Recipe) -> str:
    """Say in a limit's own words why it leaves a recipe out."""
    rule = next(rule for rule in _rules(model, "limit") if rule.id == rule_id)
    return because(rule, recipe, model.shelf)[0]


def _rules(model: Answers, acts_on: str) -> list[RuleLike]:
    return [rule for rule in model.rules if rule.acts_on == acts_on]


def _asked(model: Answers, acts_on: str, pool: Pool) -> tuple[list[RuleLike], Floats, set[str]]:
    """Rules, their features, and which of them have a fault."""
    rules = _rules(model, acts_on)
    if not rules:
        return [], np.zeros((len(pool), 0)), set()
    matrix, faults = features(rules, recipe_table_of(model.shelf, pool.recipes))
    model.rule_columns.note(faults)
    return rules, matrix, {fault.subject for fault in faults if not fault.note}
