"""A prediction taken apart: points per part, with what is uncertain about each, summing to the prediction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pairing.learning.columns import Entries

if TYPE_CHECKING:
    from pairing.learning.liking import Liking
    from pairing.learning.log import Recipes
    from pairing.model.shelf import Shelf

__all__ = ["explain"]


class _Names:
    """Reads keys back into words."""

    def __init__(self, shelf: Shelf, liking: Liking, base: str) -> None:
        self.flavourings = list(shelf.flavourings)
        self.families = liking.traits.families
        self.base = base

    def of(self, block: str, key: int) -> str:
        """Name of a column."""
        n_f, n_fam = max(len(self.flavourings), 1), max(len(self.families), 1)
        item, family = self._item, self._family
        names = {
            "base": lambda: self.base,
            "flavouring": lambda: item(key),
            "family": lambda: family(key),
            "affinity": lambda: f"{item(key)} in {self.base}",
            "trait*flavouring": lambda: f"{item(key)} in {self.base}",
            "base*family": lambda: f"{family(key)} in {self.base}",
            "pair": lambda: f"{item(key // n_f)} + {item(key)}",
            "pair*base": lambda: f"{item(key // n_f)} + {item(key)}",
            "family*family": lambda: f"{family(key // n_fam)} + {family(key)}",
            "flavourings": lambda: "several flavourings",
            "pairs": lambda: "several flavourings",
            "plain": lambda: "nothing added",
            "too weak": lambda: "dose too weak, or may be",
            "too strong": lambda: "dose too strong, or may be",
        }
        if block.startswith("tast"):
            return "tasters"
        return names[block]() if block in names else block.removeprefix("rule:")

    def _item(self, key: int) -> str:
        return self.flavourings[key % max(len(self.flavourings), 1)]

    def _family(self, key: int) -> str:
        return f"{self.families[key % max(len(self.families), 1)]} family"


def explain(liking: Liking, shelf: Shelf, recipe: Recipes, who: Any, predicted: float) -> pd.DataFrame:
    """Take one prediction apart; see `Learned.explain`."""
    entries = liking.entries(recipe, who)
    names = _Names(shelf, liking, list(shelf.bases)[int(recipe.base[0])])
    kinds = {b.name: b.kind for b in liking.columns.blocks}
    groups: dict[tuple[str, str], int] = {}
    moved: dict[str, Entries] = {}
    for block, found in entries.items():
        rows = [groups.setdefault((names.of(block, int(k)), kinds[block]), len(groups)) for k in found.key]
        moved[block] = Entries(np.array(rows, np.int64), found.key, found.value, found.scale)
    encoded = liking.columns.encode(moved, len(groups), liking.variances)
    points, sd = liking.mean(encoded), liking.sd(encoded)
    table = [(part, kind, float(p), float(s)) for (part, kind), p, s in zip(groups, points, sd, strict=True)]
    table.append(("ends of the scale", "bounds", predicted - float(points.sum()), 0.0))
    return pd.DataFrame(table, columns=["part", "kind", "points", "sd"])
