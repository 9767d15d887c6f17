"""A prediction in parts, as people read it: the large ones by name, the small ones together, with their sum."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pairing.learning.explain import parts_table
from pairing.model.recipes import Recipes

if TYPE_CHECKING:
    import pandas as pd

    from pairing.learned import Learned
    from pairing.model.brief import Brief
    from pairing.model.recipe import Recipe

__all__ = ["SMALL", "UNSURE", "large_parts", "scores", "taken_apart"]

SMALL = 0.05
"""Points below which a part is shown together with the other small ones; one decimal is shown (our choice)."""
UNSURE = 0.5
"""sd in points from which a part is shown whatever its points: nobody knows it yet (our choice)."""


def taken_apart(model: Learned, brief: Brief, recipe: Recipe) -> tuple[str, pd.DataFrame, pd.DataFrame | None]:
    """Take what a brief wants of a recipe apart, liking or likeness; for several tasters that of the average one.

    Returns
    -------
    whose : str
        Whose points they are, in words.
    parts : DataFrame
        As of `Learned.explain`, by names instead of ids.
    leans : DataFrame or None
        As of `Learned.leans_on`; None for likeness, whose scores are others.
    """
    asked = Recipes.of(model.shelf, [recipe])
    taster = brief.tasters[0] if brief.tasters and len(brief.tasters) == 1 else None
    whose = f"to {taster or 'the average taster'}"
    if brief.goal == "liking" or brief.target_id is None:
        parts = model.response.parts(asked, taster)
        return whose, parts_table(parts, model.shelf), model.leans_on(recipe, taster)
    parts = model.likeness_to(brief.target_id).parts(asked, taster)
    return f"of likeness {whose}", parts_table(parts, model.shelf), None


def large_parts(explained: pd.DataFrame, total: str = "expected liking") -> list[tuple[str, float, float | None]]:
    """Return part, points and sd: the average first, then the largest first, the small ones in one, the sum last.

    Parameters
    ----------
    explained : DataFrame
        Of `Learned.explain`. The small ones and the sum have no sd: parts are not independent.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = [("lime", "flavouring", -0.5, 0.2), ("average", "average", 5.0, 0.1), ("oat", "base", 0.01, 0.3)]
    >>> large_parts(pd.DataFrame(rows, columns=["part", "kind", "points", "sd"]))
    [('average', 5.0, 0.1), ('lime', -0.5, 0.2), ('1 small part', 0.01, None), ('expected liking', 4.51, None)]
    """
    average = explained["kind"] == "average"
    large = explained[average | (explained["points"].abs() >= SMALL) | (explained["sd"] >= UNSURE)]
    order = (large["points"].abs() + 100.0 * (large["kind"] == "average")).sort_values(ascending=False, kind="stable")
    shown: list[tuple[str, float, float | None]] = [
        (str(row["part"]), float(row["points"]), float(row["sd"])) for row in large.loc[order.index].to_dict("records")
    ]
    if small := len(explained) - len(large):
        rest = float(explained["points"].sum() - large["points"].sum())
        shown.append((f"{small} small part{'s' if small > 1 else ''}", round(rest, 9), None))
    return [*shown, (total, float(explained["points"].sum()), None)]


def scores(leans: pd.DataFrame) -> list[str]:
    """Say which scores a prediction leans on, from `Learned.leans_on`.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"taster": "ana", "base_id": "oat", "flavourings": "lime", "liking": 7.0, "weight": 0.123}
    >>> scores(pd.DataFrame([row]))
    ['7 for lime in oat (ana): a point more there is 0.12 more here']
    """
    return [
        f"{row['liking']:g} for {row['flavourings'] or 'nothing added'} in {row['base_id']} ({row['taster']}): "
        f"a point more there is {abs(row['weight']):.2f} {'more' if row['weight'] >= 0 else 'less'} here"
        for row in leans.to_dict("records")
    ]
