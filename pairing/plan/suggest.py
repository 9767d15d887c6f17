"""What to try next: the recipes whose tasting is expected to raise the best known liking most, within every limit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.answers import Suggestion
from pairing.model.chance import generator
from pairing.model.constants import Z80
from pairing.model.reason import Reason
from pairing.nutrition.serving import serving
from pairing.plan.batch import Choice, choose
from pairing.plan.candidates import candidates, checked
from pairing.plan.left_out import left_out, nothing_left
from pairing.plan.limits import present_tasters
from pairing.plan.mask import maskers, masking
from pairing.plan.objective import Objective
from pairing.plan.pool import Pool
from pairing.plan.reasons import reasons
from pairing.plan.wanted import goal_reasons
from pairing.stock.held import cups_left

if TYPE_CHECKING:
    from pairing.learning.answers import Answers
    from pairing.model.brief import Brief
    from pairing.nutrition.serving import Serving

__all__ = ["build", "suggest"]


def suggest(model: Answers, brief: Brief | None = None, n: int = 5, random_state: Any = 0) -> list[Suggestion]:
    """Suggest ``n`` trials within a brief, most worth first; asking changes nothing.

    Parameters
    ----------
    model : Learned
    brief : Brief, optional
    n : int
        1 to 500; fewer come back where fewer are left.
    random_state : int, numpy Generator or None
        Only breaks ties between equals; None breaks them anew every time.

    Returns
    -------
    list of Suggestion

    Raises
    ------
    BriefError
        When nothing is left: the hint says which limits would free how many. When it is no brief.
    UnknownIdError
        When the brief names what nobody knows.
    """
    brief = checked(model, brief, n)
    pool = candidates(model, brief)
    if not len(pool):
        raise nothing_left(model, brief)
    rng = generator(random_state)
    if brief.mask is not None:
        return build(model, brief, pool, maskers(model, brief, pool, int(n)))
    return build(model, brief, pool, choose(model, brief, pool, int(n), rng))


def build(model: Answers, brief: Brief, pool: Pool, choices: list[Choice]) -> list[Suggestion]:
    """Turn choices into suggestions with amounts, energy, cost, cautions and reasons."""
    rows = pool.take([c.row for c in choices])
    liking = np.column_stack(Objective(model.response, brief.tasters, brief.temperature_c).on_scale(rows))
    alike: list[float | None] = [None] * len(choices)
    if brief.target_id is not None:
        alike = (
            Objective(model.likeness_to(brief.target_id), brief.tasters, brief.temperature_c).on_scale(rows)[0].tolist()
        )
    return [
        _suggestion(model, brief, rows.take([i]), choice.worth, tuple(liking[i].tolist()), alike[i], i == 0)
        for i, choice in enumerate(choices)
    ]


def _suggestion(
    model: Answers,
    brief: Brief,
    row: Pool,
    worth: float,
    liking: tuple[float, float, float],
    likeness: float | None,
    first: bool,
) -> Suggestion:
    recipe = row.recipe(0)
    figures: Serving = serving(recipe, model.shelf, brief.serving_g)
    who = present_tasters(model.shelf, brief)
    ids = row.flavouring_ids[0]
    means, sds = model.dose_posterior([recipe.base_id], [ids], brief.tasters)
    needed = dict(zip(ids, zip(means[0].tolist(), sds[0].tolist(), strict=True), strict=True))
    said = list(reasons(model, brief, recipe, worth, needed, float(np.asarray(row.eased)[0])))
    if brief.mask is not None:
        said.insert(0, masking(model, brief, row))
    said += goal_reasons(model, row)
    if (left := cups_left(model.shelf, figures.grams)) is not None:
        said.append(Reason(kind="stock", base_id=recipe.base_id, flavouring_ids=(left[1],), cups=left[0]))
    if first:
        said += left_out(model, brief)
    return Suggestion(
        recipe=recipe,
        grams=figures.grams,
        drops=figures.drops,
        dose_low={f: math.exp(mean - Z80 * sd) for f, (mean, sd) in needed.items()},
        dose_high={f: math.exp(mean + Z80 * sd) for f, (mean, sd) in needed.items()},
        liking=liking[0],
        liking_low=liking[1],
        liking_high=liking[2],
        likeness=likeness,
        added_kcal=figures.added_kcal,
        total_kcal=figures.total_kcal,
        added_cost=figures.added_cost,
        purpose=said[0].kind,
        reasons=tuple(said),
        cautions=model.cautions(recipe, who, serving_g=brief.serving_g, already=brief.swallowed),
    )
