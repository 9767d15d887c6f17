"""Why a recipe is suggested, in plain words, with the evidence in numbers."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from pairing.host.guard import because
from pairing.learning.log import recipes_of
from pairing.model.columns import STRENGTH_WORDS
from pairing.model.constants import IN_RANGE_LOG
from pairing.plan.belief import word_chances
from pairing.plan.history import Combination, history
from pairing.plan.objective import Objective

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pairing.model.brief import Brief
    from pairing.model.recipe import Recipe

__all__ = ["purpose", "reasons"]

_PARTS = 3
_LEAST_POINTS = 0.1
_KINDS = ("base", "flavouring", "affinity", "pair", "family", "rule", "taster")
_EASED = 0.97


class _Part(NamedTuple):
    part: str
    kind: str
    points: float
    sd: float


def purpose(recipe: Recipe, tried: Combination | None) -> str:
    """Return ``new``, ``adjust`` (tried, but at a dose that is now thought to be off) or ``confirm``."""
    if tried is None:
        return "new"
    off = [abs(math.log(float(dose or 1) / tried.doses[f])) for f, dose in recipe.doses.items() if f in tried.doses]
    return "adjust" if max(off, default=0.0) > IN_RANGE_LOG else "confirm"


def reasons(
    model: Any, brief: Brief, recipe: Recipe, worth: float, needed: Mapping[str, tuple[float, float]], eased: float
) -> tuple[str, ...]:
    """Say what kind of trial it is, what speaks for and against it, and what it is worth.

    ``needed`` is mean and sd of the log needed dose of each flavouring, for those who drink it.
    """
    past, key = history(model), (recipe.base_id, recipe.flavouring_ids)
    tried = past.get(key)
    liking = math.nan if tried is None else past.liking(key, brief.tasters)
    said = [_standing(recipe, tried, purpose(recipe, tried), liking)]
    said += _evidence(model, brief, recipe)
    said += [s for f in recipe.flavouring_ids if (s := _dose(model, f, *needed[f]))]
    if eased < _EASED:
        said.append(_eased(model, recipe, needed))
    wanted = "liking" if brief.goal == "liking" else f"likeness to {brief.target_id}"
    said.append(f"one cup of it is expected to raise the best known {wanted} by {worth:.2f} points")
    return tuple(said)


def _standing(recipe: Recipe, tried: Combination | None, kind: str, liking: float) -> str:
    where = f"in {recipe.base_id}"
    if tried is None:
        return f"new: not tried {where} yet"
    liked = "" if math.isnan(liking) else f", liked {liking:.1f}"
    times = "once" if tried.cups == 1 else f"{tried.cups} times"
    if kind == "adjust":
        far = max(recipe.doses, key=lambda f: abs(math.log(float(recipe.doses[f] or 1) / tried.doses[f])))
        word = tried.strengths.get(far)
        read = "" if word is None else f" ('{STRENGTH_WORDS[word]}')"
        return (
            f"adjust: tried {times} {where}{liked}; {far} was at {tried.doses[far]:.3g} g/kg{read}, "
            f"{recipe.doses[far]:.3g} g/kg should be right"
        )
    how = "only at the end of a ladder" if not tried.poured else "poured straight" if tried.cups == 1 else ""
    return f"confirm: tried {times} {where}{liked}{', ' + how if how else ''}; pour it fresh and taste again"


def _evidence(model: Any, brief: Brief, recipe: Recipe) -> list[str]:
    """Name the parts of the prediction that matter most, each with its sd and the cups behind it."""
    table = Objective.of(model, brief).response.explain(recipes_of(model.shelf, [recipe]))
    rows = [
        _Part(str(part), str(kind), float(points), float(sd))
        for part, kind, points, sd in zip(table["part"], table["kind"], table["points"], table["sd"], strict=True)
        if kind in _KINDS and abs(points) >= _LEAST_POINTS and (kind == "rule" or _speaks_of(str(part), recipe, model))
    ]
    rows.sort(key=lambda row: -abs(row.points))
    return [_part(model, brief, recipe, row) for row in rows[:_PARTS]]


def _speaks_of(part: str, recipe: Recipe, model: Any) -> bool:
    """Whether a part is about this recipe's own base, flavourings or their families, not about any cup of its kind."""
    families = (model.shelf.flavouring(f).family for f in recipe.doses)
    return any(name and name in part for name in (recipe.base_id, *recipe.doses, *families))


def _part(model: Any, brief: Brief, recipe: Recipe, row: _Part) -> str:
    part, kind, points, sd = row
    verb = "gained" if points > 0 else "lost"
    about = {f for f in recipe.flavouring_ids if f in part}
    cups = None
    if kind in ("flavouring", "pair", "affinity", "base") and (about or kind == "base"):
        base_id = recipe.base_id if kind in ("affinity", "base") or recipe.base_id in part else None
        cups = history(model, brief.target_id if brief.goal == "likeness" else None).cups_with(about, base_id)
    never = ", not tasted so far" if brief.goal == "liking" else ", not compared with it so far"
    evidence = "" if cups is None else f" in {cups} cup{'' if cups == 1 else 's'}" if cups else never
    if cups == 0:
        verb = "is expected to gain" if points > 0 else "is expected to lose"
    if kind == "rule":
        part = _in_words(model, recipe, part)
    of = "" if brief.goal == "liking" else f" of likeness to {brief.target_id}"
    return f"{part}: {verb} {abs(points):.1f} ± {sd:.1f} points{of}{evidence}"


def _in_words(model: Any, recipe: Recipe, rule_id: str) -> str:
    """Say what a rule says of this recipe, and which rule it is."""
    rule = next((r for r in model.rules if r.id == rule_id), None)
    return rule_id if rule is None else f"{because(rule, recipe)[0]} ({rule_id})"


def _dose(model: Any, flavouring_id: str, log_needed: float, log_sd: float) -> str | None:
    log_label = float(model.strength.traits.log_label[list(model.shelf.flavourings).index(flavouring_id)])
    above = log_needed - log_label
    sure = f"(± {100 * math.expm1(log_sd):.0f} %)"
    if not history(model).cups_with({flavouring_id}, None):
        why = "it has no label direction" if math.isnan(above) else "only its label speaks for it"
        return f"{flavouring_id} was never tasted, its dose is a guess {sure}: {why}; start lower and step up"
    if math.isnan(above) or abs(above) < IN_RANGE_LOG:
        return None
    return f"{flavouring_id} needs {math.exp(above):.1f} × its label here {sure}"


def _eased(model: Any, recipe: Recipe, needed: Mapping[str, tuple[float, float]]) -> str:
    """Say who leads and who is the accent when a limit took a part of a dose, and how strong each should read."""
    said = []
    for flavouring_id, (mean, sd) in needed.items():
        distance = math.log(float(recipe.doses[flavouring_id] or 1)) - mean
        params = model.strength_params
        spread = distance + sd * np.linspace(-2, 2, 9)
        chance = word_chances(spread, params)
        weight = np.exp(-0.5 * np.linspace(-2, 2, 9) ** 2)
        word = int((weight @ chance).argmax())
        role = "accent" if distance < -0.05 else "lead"
        said.append(f"{flavouring_id} as the {role}, most likely '{STRENGTH_WORDS[word]}'")
    return "a dose was lowered to keep the limits: " + "; ".join(said)
