"""What stands behind a recipe: the cups that were tasted of it, and the blind checks that it was in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from pairing.blind.judged import cups_of, last_moments, recipe_at
from pairing.blind.result import evidence as checks_of
from pairing.model.constants import IN_RANGE_LOG
from pairing.model.recipe import recipe_text

if TYPE_CHECKING:
    import pandas as pd

    from pairing.blind.check import BlindCheck
    from pairing.learning.log import Log
    from pairing.model.recipe import Recipe
    from pairing.model.shelf import Shelf

__all__ = ["Evidence", "evidence", "how_sure"]


@dataclass(frozen=True)
class Evidence:
    """Cups of one recipe, doses within e^±0.2.

    Attributes
    ----------
    cups, tasters, coded : int
        Cups, tasters, and judgements under a code.
    liking, liking_se : float
        Mean liking and its standard error, points; NaN without cups, or with one.
    judgements : int
    checks : tuple of str
        What blind checks found.
    sentences : tuple of str
        All of it in words.
    """

    cups: int
    tasters: int
    coded: int
    judgements: int
    liking: float
    liking_se: float
    checks: tuple[str, ...]
    sentences: tuple[str, ...]


def evidence(
    recipe: Recipe,
    log: Log,
    shelf: Shelf,
    comparisons: pd.DataFrame | None = None,
    checks: Mapping[str, BlindCheck] = MappingProxyType({}),
) -> Evidence:
    """Gather what the log and the blind checks say of a recipe.

    Parameters
    ----------
    recipe : Recipe
        An open dose takes cups at any dose.
    log : Log
    shelf : Shelf
    comparisons : DataFrame, optional
        The ``comparisons`` table.
    checks : mapping of id to BlindCheck
        How finished checks were planned, as far as that is kept.
    """
    rows = cups_of(log, shelf, recipe)
    liking = log.liking[rows]
    n, coded = len(rows), int(log.coded[rows].sum())
    cups, tasters = len(np.unique(log.cup[rows])), len(np.unique(log.taster[rows]))
    mean = float(liking.mean()) if n else math.nan
    se = float(liking.std(ddof=1) / math.sqrt(n)) if n > 1 else math.nan
    found = () if comparisons is None else checks_of(_with_recipes(comparisons, log, shelf), recipe, checks)
    return Evidence(cups, tasters, coded, n, mean, se, found, (*_words(cups, tasters, coded, n, mean, se), *found))


def _with_recipes(comparisons: pd.DataFrame, log: Log, shelf: Shelf) -> pd.DataFrame:
    """Write the recipe in place of a trial's id."""
    sides = {*comparisons["left"], *comparisons["right"]}
    places = {name: i for i, name in enumerate(log.trials) if name in sides}
    if not places:
        return comparisons
    last = last_moments(log)
    text = {name: recipe_text(recipe_at(log, shelf, last[i])) for name, i in places.items()}
    return comparisons.assign(**{side: comparisons[side].map(lambda s: text.get(s, s)) for side in ("left", "right")})


def how_sure(tasters: int, judgements: int, coded: int, *, short: bool = False) -> str:
    """Label a finding by how it was tasted; ``short`` leaves the doubt to the label.

    Examples
    --------
    >>> how_sure(1, 6, 0)
    'sighted, one taster: as much hoped for as found until a blind check tells'
    """
    if not judgements:
        return "not tasted: expected, not found"
    who = "one taster" if tasters == 1 else f"{tasters} tasters"
    if coded == judgements:
        return f"tasted under codes, {who}"
    if coded:
        return f"{coded} of {judgements} tasted under codes, {who}"
    if short:
        return f"sighted, {who}"
    doubt = ": as much hoped for as found until a blind check tells" if tasters == 1 else ", no blind check yet"
    return f"sighted, {who}{doubt}"


def _words(cups: int, tasters: int, coded: int, n: int, mean: float, se: float) -> tuple[str, ...]:
    if not n:
        return ("no cup at these doses has been tasted: what is said of its liking is expected, not found",)
    spread = f" ± {se:.1f} (standard error)" if math.isfinite(se) else ""
    some = "1 cup" if cups == 1 else f"{cups} cups"
    people = "1 taster" if tasters == 1 else f"{tasters} tasters"
    near = f"doses within {100 * (math.exp(IN_RANGE_LOG) - 1):.0f} % of these"
    return (f"liked {mean:.1f}{spread} over {some} by {people}, {near}", how_sure(tasters, n, coded))
