"""Blind comparisons of a kitchen: as they leave for a pool, are read beside its readings, and asked of with them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pairing.errors import PairingError
from pairing.learning.log import Log
from pairing.learning.paired import SHARE, Paired, read_comparisons
from pairing.model.arrays import Floats, Ints
from pairing.model.recipe import Recipe, recipe_text
from pairing.model.recipes import Recipes
from pairing.model.shelf import Shelf

if TYPE_CHECKING:
    from pairing.pooling.folder import LogPart

__all__ = ["COLUMNS", "FILE", "Asked", "Compared", "public_comparisons", "read_compared"]

FILE = "comparisons.parquet"
"""A kitchen's file of blind comparisons; all its other files hold readings."""
COLUMNS = ("question", "left", "right", "answer")
QUESTIONS = ("stronger", "prefer")
"""What is learned from; which cup was closer to a target is a kitchen's own."""
_ANSWERS = {share: answer for answer, share in SHARE.items()}


@dataclass(frozen=True, eq=False)
class Compared:
    """Comparisons of one question.

    Attributes
    ----------
    paired : Paired
    kitchen : int array, shape (m,)
    """

    paired: Paired
    kitchen: Ints


def read_compared(
    shelf: Shelf, log: Log, table: pd.DataFrame, kitchens: Any
) -> tuple[dict[str, Compared], dict[int, str]]:
    """Read comparisons of some kitchens by question; say of which kitchens one cannot be understood, and why."""
    if not len(table):
        return {}, {}
    place = {str(name): number for number, name in enumerate(kitchens)}
    table = table.assign(place=table["kitchen"].map(place), **{side: _sides(table, side) for side in ("left", "right")})
    try:
        return _by_question(shelf, log, table), {}
    except PairingError:
        bad = {}
    for number, own in table.groupby("place"):
        try:
            _by_question(shelf, log, own)
        except PairingError as error:
            bad[int(str(number))] = str(error)
    return _by_question(shelf, log, table[~table["place"].isin(bad)]), bad


def _sides(table: pd.DataFrame, side: str) -> pd.Series:
    """Name trials as they are named in a part; recipes stay."""
    name = table[side].astype(str)
    return name.where(name.str.contains("|", regex=False), table["kitchen"] + "/" + name)


def _by_question(shelf: Shelf, log: Log, table: pd.DataFrame) -> dict[str, Compared]:
    out = {}
    for question in QUESTIONS:
        paired = read_comparisons(shelf, log, table, question)
        if paired is not None:
            of = table["place"].to_numpy(dtype=np.int64)[(table["question"] == question).to_numpy()]
            out[question] = Compared(paired, of)
    return out


def public_comparisons(
    shelf: Shelf, log: Log, table: pd.DataFrame, public: Mapping[str, list[str]], ratio: Floats
) -> pd.DataFrame:
    """Write what can be learned from comparisons as recipes of public ids; what has a side without one stays at home.

    Parameters
    ----------
    table : DataFrame
        The bench's comparisons.
    public : mapping of "bases" and "flavourings" to list of str
        Public id of each on the shelf; empty: none.
    ratio : array, shape (n_bases, n_flavourings)
        Natural log of what doses are multiplied by.

    Returns
    -------
    DataFrame
        ``question, left, right, answer``; doses to five digits.
    """
    rows = []
    for question in QUESTIONS:
        if (found := read_comparisons(shelf, log, table, question)) is None:
            continue
        sides = (_public_recipes(side, public, ratio) for side in (found.left, found.right))
        rows += [
            (question, left, right, _ANSWERS[share])
            for left, right, share in zip(*sides, found.share, strict=True)
            if left and right
        ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _public_recipes(recipes: Recipes, public: Mapping[str, list[str]], ratio: Floats) -> list[str]:
    """Write recipes as text; empty where something has no public id."""
    doses = recipes.dose_g_per_kg * np.exp(ratio[recipes.base[:, None], recipes.flavouring])
    out = []
    for row, base in enumerate(recipes.base):
        slots = np.flatnonzero(recipes.present[row])
        ids = [public["bases"][base], *(public["flavourings"][i] for i in recipes.flavouring[row, slots])]
        given = [None if np.isnan(d) else float(f"{d:.5g}") for d in doses[row, slots]]
        out.append(recipe_text(Recipe(ids[0], dict(zip(ids[1:], given, strict=True)))) if all(ids) else "")
    return out


@dataclass(frozen=True, eq=False)
class Asked:
    """Cups of some readings of a part, then the left and then the right ones of its comparisons.

    Attributes
    ----------
    recipes : Recipes, n + 2 m
    kitchen : int array, shape (n + 2 m,)
    reading : int array, shape (n,)
    share : array, shape (m,)
        See `Paired`.
    """

    recipes: Recipes
    kitchen: Ints
    reading: Ints
    share: Any

    @classmethod
    def of(cls, part: LogPart, reading: Ints, question: str) -> Asked:
        """Put them together."""
        recipes, kitchen = part.log.recipes.take(reading), part.kitchen[reading]
        found = part.compared.get(question)
        if found is None:
            return cls(recipes, kitchen, reading, np.empty(0))
        paired = found.paired
        both = Recipes.stack([recipes, paired.left, paired.right])
        return cls(both, np.concatenate([kitchen, found.kitchen, found.kitchen]), reading, paired.share)

    @property
    def compared(self) -> Ints:
        """Kitchen of every comparison."""
        n = len(self.reading)
        return self.kitchen[n : n + len(self.share)]

    def gaps(self, x: Any) -> Any:
        """Left less right, of rows over all cups."""
        n, m = len(self.reading), len(self.share)
        return x[n : n + m] - x[n + m :]


def files_of(paths: tuple[str, ...], *, compared: bool) -> list[str]:
    """Return the files of comparisons, or those of readings."""
    return [path for path in paths if (Path(path).name == FILE) == compared]


def without(compared: Mapping[str, Compared], left_out: Any) -> dict[str, Compared]:
    """Leave out comparisons of some kitchens."""
    out = {}
    for question, found in compared.items():
        kept = np.flatnonzero(~np.isin(found.kitchen, left_out))
        if len(kept):
            paired = found.paired
            some = Paired(paired.left.take(kept), paired.right.take(kept), paired.share[kept])
            out[question] = Compared(some, found.kitchen[kept])
    return out
