"""Which recipe a kept name means: a name stands wherever a recipe does."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from pairing.errors import UnknownIdError, nearest
from pairing.model.fields import is_missing
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.shelf import Shelf

__all__ = ["name_kept", "recipe_kept", "recipes_meant"]


_ALIKE = 1e-3
"""A dose that is shown or typed in four digits is the kept one."""


def recipe_kept(rows: pd.DataFrame, text: str) -> Recipe | None:
    """Return the recipe that a name, or ``name@version``, means; None when it names none.

    Without a version it is the last one.

    Parameters
    ----------
    rows : DataFrame
        The ``recipes`` table.

    Raises
    ------
    UnknownIdError
        When there is no such version.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = {"recipe_id": ["dusk"] * 2, "version": [1.0, 2.0], "base_id": ["oat"] * 2, "doses": ["plum=1", "plum=2"]}
    >>> dict(recipe_kept(pd.DataFrame(rows), "dusk").doses), dict(recipe_kept(pd.DataFrame(rows), "dusk@1").doses)
    ({'plum': 2.0}, {'plum': 1.0})
    """
    name, at, version = text.strip().partition("@")
    own = rows[rows["recipe_id"] == name].sort_values("version")
    if own.empty:
        return None
    there = [str(int(v)) for v in own["version"]]
    if at and version not in there:
        raise UnknownIdError(
            f"{name} has no version {version!r}", f"it has {', '.join(there)}; {nearest(version, there)}"
        )
    row = own.iloc[there.index(version) if at else -1]
    if is_missing(row["doses"]):
        return Recipe(row["base_id"], {})
    return parse_recipe_text(f"{recipe_text(Recipe(row['base_id'], {}))}{row['doses']}")


def name_kept(rows: pd.DataFrame, recipe: Recipe) -> str:
    """Return the latest ``name@version`` of a recipe, doses alike to a thousandth; empty where it is not kept.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = {"recipe_id": ["dusk"] * 2, "version": [1.0, 2.0], "base_id": ["oat"] * 2, "doses": ["plum=1", "plum=2"]}
    >>> name_kept(pd.DataFrame(rows), Recipe("oat", {"plum": 2.0001})), name_kept(pd.DataFrame(rows), Recipe("oat", {}))
    ('dusk@2', '')
    """
    for name, version in zip(rows["recipe_id"][::-1], rows["version"][::-1], strict=True):
        kept = recipe_kept(rows, called := f"{name}@{version:.0f}")
        if kept is not None and kept.base_id == recipe.base_id and kept.doses.keys() == recipe.doses.keys():
            pairs = ((dose or 0.0, recipe.doses[i] or 0.0) for i, dose in kept.doses.items())
            if all(math.isclose(own, other, rel_tol=_ALIKE) for own, other in pairs):
                return called
    return ""


def recipes_meant(recipes: Iterable[Recipe | str], rows: pd.DataFrame, shelf: Shelf | None = None) -> list[Recipe]:
    """Return recipes where any may be given as text: written out, or by a kept name; with ids, where a shelf is given.

    Raises
    ------
    UnknownIdError
        When a text is neither, or what it names is not on the shelf.
    """
    read = [_meant(one, rows) if isinstance(one, str) else one for one in recipes]
    return read if shelf is None else [shelf.recipe(one) for one in read]


def _meant(text: str, rows: pd.DataFrame) -> Recipe:
    if "|" in text:
        return parse_recipe_text(text)
    if (kept := recipe_kept(rows, text)) is not None:
        return kept
    known = sorted(set(rows["recipe_id"]))
    hint = nearest(text.partition("@")[0], known) if known else "none is kept yet"
    raise UnknownIdError(f"{text!r} is no kept recipe", f"write base|flavouring=dose;…, or a kept name; {hint}")
