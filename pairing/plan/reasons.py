"""Why a recipe is suggested: what was tried of it, what it is expected to gain, and what its doses rest on."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from pairing.host.scoring import because
from pairing.learning.rules import rule_block
from pairing.model.cache import IdentityCache
from pairing.model.constants import IN_RANGE_LOG
from pairing.model.reason import Reason
from pairing.model.recipes import Recipes
from pairing.plan.belief import word_chances
from pairing.plan.history import history
from pairing.plan.objective import Objective
from pairing.quantities.directions import label_dose

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pairing.learning.answers import Answers
    from pairing.model.brief import Brief
    from pairing.model.recipe import Recipe

__all__ = ["reasons"]

_PARTS = 3
_LEAST_POINTS = 0.1
_EASED = 0.97
_SCORED_BY_RULE: IdentityCache[Mapping[str, int]] = IdentityCache()


def reasons(
    model: Answers, brief: Brief, recipe: Recipe, worth: float, needed: Mapping[str, tuple[float, float]], eased: float
) -> Iterator[Reason]:
    """Tell what kind of trial it is, what speaks for and against it, and what it is worth.

    ``needed`` is mean and sd of the log needed dose of each flavouring, for those who drink it; ``eased`` the share of
    its dose to which a flavouring was lowered.
    """
    yield _standing(model, brief, recipe)
    target_id = brief.target_id if brief.goal == "likeness" else None
    found = Objective.of(model, brief).response.parts(
        Recipes.of(model.shelf, [recipe]).at_temperature(brief.temperature_c)
    )
    told = [part for part in found if _weight(part) >= _LEAST_POINTS and _speaks_of(part, recipe)]
    for part in sorted(told, key=_weight, reverse=True)[:_PARTS]:
        yield _evidence(model, replace(part, target_id=target_id), recipe)
    for flavouring_id in recipe.doses:
        yield from _dose(model, recipe, flavouring_id, *needed[flavouring_id])
    if eased < _EASED:
        yield from _roles(model, recipe, needed)
    yield Reason(kind="worth", points=worth, target_id=target_id)


def _standing(model: Answers, brief: Brief, recipe: Recipe) -> Reason:
    """Tell what kind of trial it is: new, to confirm, or to adjust where a dose is now thought to be off."""
    past, key = history(model), (recipe.base_id, recipe.flavouring_ids)
    one = Reason(kind="new", base_id=recipe.base_id, flavouring_ids=recipe.flavouring_ids, cups=0)
    if (tried := past.get(key)) is None:
        return one
    liking = past.liking(key, brief.tasters)
    one = replace(one, cups=tried.cups, poured=tried.poured, liking=None if math.isnan(liking) else liking)
    off, far = max((abs(math.log(float(dose or 1) / tried.doses[f])), f) for f, dose in recipe.doses.items())
    if off <= IN_RANGE_LOG:
        return replace(one, kind="confirm")
    one = replace(one, kind="adjust", flavouring_ids=(far,), strength=tried.strengths.get(far))
    return replace(one, tried_g_per_kg=tried.doses[far], dose_g_per_kg=recipe.doses[far])


def _weight(part: Reason) -> float:
    return abs(part.points or 0.0)


def _speaks_of(part: Reason, recipe: Recipe) -> bool:
    """Whether a part is about what is in this cup, not about any cup of its kind or what its flavourings come from."""
    if part.kind == "rule":
        return True
    return bool(part.base_id or part.flavouring_ids or part.families) and set(part.flavouring_ids) <= set(recipe.doses)


def _evidence(model: Answers, part: Reason, recipe: Recipe) -> Reason:
    """Add the scored cups that are behind a part, and the words of a rule."""
    if part.kind == "rule":
        rule = next(r for r in model.rules if r.id == part.rule_id)
        scored = _SCORED_BY_RULE.of((model,), lambda: _scored_by_rule(model))
        part = replace(part, base_id=recipe.base_id, flavouring_ids=recipe.flavouring_ids)
        return replace(part, cups=scored[rule.id], text=because(rule, recipe, model.shelf)[0])
    traits, ids = model.strength.traits, np.array(list(model.shelf.flavourings))
    groups = [{f} for f in part.flavouring_ids]
    groups += [set(ids[traits.family == traits.families.index(name)].tolist()) for name in part.families]
    past = history(model, part.target_id)
    return replace(part, cups=past.cups_with(*groups, base_id=part.base_id, scored=True))


def _scored_by_rule(model: Answers) -> dict[str, int]:
    """Count the scored cups that each rule speaks of."""
    log, found = model.log, {}
    rows = np.flatnonzero(~np.isnan(log.liking))
    entries = model.rule_columns.liking_entries(log.recipes.take(rows), model.strength.needed)
    for rule in model.rules:
        told = entries.get(rule_block(rule))
        found[rule.id] = 0 if told is None else len(np.unique(log.cup[rows[told.row]]))
    return found


def _dose(model: Answers, recipe: Recipe, flavouring_id: str, log_needed: float, log_sd: float) -> Iterator[Reason]:
    """Tell a dose that is a guess, or far from the label."""
    label = label_dose(model.shelf.flavouring(flavouring_id), model.shelf.base(recipe.base_id))
    above = math.nan if label is None else log_needed - math.log(label.mid)
    cups = history(model).cups_with({flavouring_id})
    if not cups or abs(above) >= IN_RANGE_LOG:
        yield Reason(
            kind="needed dose",
            base_id=recipe.base_id,
            flavouring_ids=(flavouring_id,),
            cups=cups,
            label_ratio=None if math.isnan(above) else math.exp(above),
            log_sd=log_sd,
        )


def _roles(model: Answers, recipe: Recipe, needed: Mapping[str, tuple[float, float]]) -> Iterator[Reason]:
    """Tell who leads and who was lowered to an accent to keep a limit, and how strong each will probably read."""
    steps = np.linspace(-2, 2, 9)
    for flavouring_id, (mean, sd) in needed.items():
        dose = float(recipe.doses[flavouring_id] or 1)
        distance = math.log(dose) - mean
        chance = np.exp(-0.5 * steps**2) @ word_chances(distance + sd * steps, model.strength_params)
        yield Reason(
            kind="lowered" if distance < math.log(_EASED) / 2 else "lead",
            base_id=recipe.base_id,
            flavouring_ids=(flavouring_id,),
            dose_g_per_kg=dose,
            strength=int(chance.argmax()),
        )
