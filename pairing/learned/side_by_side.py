"""Recipes, and bases, held against each other: which is the better, how sure that is, and what it would take to be."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd
from scipy.special import ndtr

from pairing.discrimination.binomial import servings_needed
from pairing.discrimination.thurstone import percent_correct
from pairing.errors import QuantityError, TableError
from pairing.learned.doses import needed_dose
from pairing.learning import columns as col
from pairing.learning.answers import Answers
from pairing.learning.design import additions_of
from pairing.model.constants import Z80
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text
from pairing.model.recipes import Recipes
from pairing.nutrition.serving import serving

__all__ = ["ALPHA", "POWER", "dose_ratios", "side_by_side"]

DRAWS = 4000
"""Joint draws for the chance of being best: its standard error is then 0.008 at most."""
ALPHA, POWER = 0.05, 0.8
"""Risk of calling a difference that is not there, and chance of finding one as large as expected (our choice)."""


def side_by_side(
    model: Answers, recipes: Iterable[Recipe | str], tasters: str | None = None, serving_g: float | None = None
) -> pd.DataFrame:
    """Compare recipes, each at its own doses (an open dose is the one that is expected to be best).

    Parameters
    ----------
    recipes : iterable of Recipe or text
        Two or more, such as ``oat|quince=1.6``.
    tasters : str, optional
        One taster, ``"new"``, or None for the mean of those logged.
    serving_g : float, optional
        g of base poured for one; default the base's own serving.

    Returns
    -------
    DataFrame
        One row per recipe, in order: ``recipe, base_id, serving_g, added_kcal, total_kcal, added_cost`` per serving
        (NaN unknown), ``liking, liking_low, liking_high`` (80 %), ``p_best``, and beside the best of the others
        ``difference`` (points, this less that), ``p_better`` and ``servings``: of a blind paired preference check that
        finds a difference as large as expected in 80 of 100 such checks (two-sided, 5 %); NaN beyond 2,000.

    Raises
    ------
    TableError
        With fewer than two recipes, or when a text is no recipe.
    """
    asked = [parse_recipe_text(one) if isinstance(one, str) else one for one in recipes]
    if len(asked) < 2:
        raise TableError(
            f"{len(asked)} recipe to compare", "name two or more, such as 'oat|quince=1.6' 'oat|vanilla=2'"
        )
    compared = Recipes.of(model.shelf, asked)
    encoded = model.response.encode_recipes(compared, tasters)
    mean, _ = model.response.predict_encoded(encoded)
    cov = model.response.joint_cov(encoded, encoded)
    best = (
        np.bincount(model.response.samples(encoded, DRAWS, random_state=0).argmax(axis=1), minlength=len(asked)) / DRAWS
    )
    table = pd.DataFrame([_facts(model, one, serving_g) for one in asked])
    table = table.join(model.response.predict(compared, tasters).drop(columns="liking_sd"))
    rivals = [int(np.argmax(np.where(np.arange(len(asked)) == i, -np.inf, mean))) for i in range(len(asked))]
    difference = mean - mean[rivals]
    sd = np.sqrt(np.maximum(np.diag(cov) + np.diag(cov)[rivals] - 2 * cov[np.arange(len(asked)), rivals], 1e-12))
    better = ndtr(difference / sd)
    return table.assign(
        p_best=better if len(asked) == 2 else best,  # of two, one chance: counted draws would say it a little otherwise
        difference=difference,
        p_better=better,
        servings=[_servings(abs(d) / model.response.noise_sd) for d in difference],
    )


def _facts(model: Answers, recipe: Recipe, serving_g: float | None) -> dict[str, object]:
    doses = dict(recipe.doses)
    if open_doses := [name for name, dose in doses.items() if dose is None]:
        others = [name for name in doses if name not in open_doses]
        needed = needed_dose(model, recipe.base_id, open_doses, others or None)
        doses |= dict(zip(needed["flavouring_id"], needed["dose_g_per_kg"].clip(upper=990.0), strict=True))
    found = serving(Recipe(recipe.base_id, doses), model.shelf, serving_g)
    numbers = {name: getattr(found, name) for name in ("added_kcal", "total_kcal", "added_cost")}
    return {
        "recipe": recipe_text(recipe),
        "base_id": recipe.base_id,
        "serving_g": found.base_g,
        **{name: math.nan if value is None else value for name, value in numbers.items()},
    }


def _servings(d_prime: float) -> float:
    """Return the servings of a blind preference check that finds such a difference; NaN where no check would."""
    try:
        return float(servings_needed(0.5, percent_correct(d_prime), ALPHA, POWER, two_sided=True))
    except QuantityError:
        return math.nan


def dose_ratios(model: Answers, base_ids: Sequence[str], flavouring_ids: Sequence[str] | None = None) -> pd.DataFrame:
    """Compare what bases need: dose in each ÷ dose in the first, for each flavouring and for all of them together.

    Returns
    -------
    DataFrame
        ``base_id, than, flavouring_id`` (None: the geometric mean over all asked for), ``ratio, low, high`` (80 %).

    Raises
    ------
    TableError
        With fewer than two bases.
    """
    shelf = model.shelf
    bases = [shelf.base(one).base_id for one in dict.fromkeys(base_ids)]
    if len(bases) < 2:
        raise TableError(f"{len(bases)} base to compare", "name two or more, such as oat pea")
    items = [shelf.flavouring(one).flavouring_id for one in (flavouring_ids or shelf.flavourings)]
    n = len(items)
    recipes = Recipes.from_ids(shelf, [b for b in bases for _ in items], [(f,) for _ in bases for f in items])
    encoded = model.strength.encode(recipes, additions_of(recipes))
    weights = np.vstack([np.eye(n), np.full((1, n), 1.0 / n)])
    out = []
    for place, base_id in enumerate(bases[1:], start=1):
        sides = np.zeros(len(bases))
        sides[place], sides[0] = 1.0, -1.0
        contrast = np.kron(sides, weights)
        rows = encoded.combine(contrast)
        label = model.strength.log_label(recipes.base, recipes.flavouring[:, 0])
        mean = col.mean(model.strength.posterior, rows) + contrast @ label
        sd = np.sqrt(col.variance(model.strength.posterior, rows))
        low, high = np.exp(mean - Z80 * sd), np.exp(mean + Z80 * sd)
        names: list[str | None] = [*items, None]
        out += [
            {"base_id": base_id, "than": bases[0], "flavouring_id": f, "ratio": math.exp(m), "low": a, "high": b}
            for f, m, a, b in zip(names, mean, low, high, strict=True)
        ]
    return pd.DataFrame(out)
