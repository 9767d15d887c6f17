"""A prediction taken apart: points per part, with what is uncertain about each, summing to the prediction."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pairing.learning.columns import Block, Entries
from pairing.model import wording
from pairing.model.reason import Reason

if TYPE_CHECKING:
    from pairing.learning.liking import Liking
    from pairing.model.recipes import Recipes
    from pairing.model.shelf import Shelf

__all__ = ["parts", "parts_table"]

_SEVERAL = ("flavourings", "pairs")
"""Blocks that count what is in the cup."""


class _Keys:
    """Reads the key of a column back into what it is about, as a reason without its points."""

    def __init__(self, shelf: Shelf, liking: Liking, base_id: str) -> None:
        self._flavourings, self._families = list(shelf.flavourings), liking.traits.families
        self._base_id = base_id

    def read(self, block: Block, key: int) -> Reason:
        """Tell what one column is about."""
        one, two = self._of(self._flavourings, key)
        group, other = self._of(self._families, key)
        base_id = self._base_id
        ids: dict[str, dict[str, Any]] = {
            "base": {"base_id": base_id},
            "flavouring": {"flavouring_ids": (two,)},
            "family": {"families": (other,)},
            "affinity": {"base_id": base_id, "flavouring_ids": (two,)},
            "trait*flavouring": {"base_id": base_id, "flavouring_ids": (two,)},
            "base*family": {"base_id": base_id, "families": (other,)},
            "pair": {"flavouring_ids": (one, two)},
            "pair*base": {"flavouring_ids": (one, two)},
            "family*family": {"families": (group, other)},
        }
        if block.kind == "taster":
            return Reason(kind="taster")
        if block.kind == "rule":
            return Reason(kind="rule", rule_id=block.name.removeprefix("rule:"))
        what = "several" if block.name in _SEVERAL else block.name
        return Reason(kind=block.kind, **ids.get(block.name, {"what": what}))

    @staticmethod
    def _of(names: Any, key: int) -> tuple[str, str]:
        n = len(names)
        return (names[key // n % n], names[key % n]) if n else ("", "")


def parts(liking: Liking, shelf: Shelf, recipe: Recipes, who: Any, predicted: float) -> list[Reason]:
    """Take the prediction of one recipe apart; the points sum to what is predicted."""
    entries = liking.entries(recipe, who)
    keys = _Keys(shelf, liking, list(shelf.bases)[int(recipe.base[0])])
    blocks = {b.name: b for b in liking.columns.blocks}
    groups: dict[Reason, int] = {}
    moved: dict[str, Entries] = {}
    for name, found in entries.items():
        rows = [groups.setdefault(keys.read(blocks[name], int(k)), len(groups)) for k in found.key]
        moved[name] = Entries(np.array(rows, np.int64), found.key, found.value, found.scale)
    encoded = liking.columns.encode(moved, len(groups), liking.variances)
    points, sd = liking.mean(encoded), liking.sd(encoded)
    out = [replace(one, points=float(p), sd=float(s)) for one, p, s in zip(groups, points, sd, strict=True)]
    return [*out, Reason(kind="bounds", points=predicted - float(points.sum()), sd=0.0)]


def parts_table(found: Iterable[Reason], shelf: Shelf | None = None) -> pd.DataFrame:
    """Put parts into a table, as of `Learned.explain`; in ids, or in names where a shelf is given."""
    rows = [(wording.part(p, shelf), p.kind, p.points, p.sd, p.base_id or "", p.flavouring_ids) for p in found]
    return pd.DataFrame(rows, columns=["part", "kind", "points", "sd", "base_id", "flavouring_ids"])
