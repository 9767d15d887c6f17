"""A prediction taken apart: points per part, with what is uncertain about each, summing to the prediction."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pairing.learning.adopted import POOL
from pairing.learning.block import Block, Entries
from pairing.model import wording
from pairing.model.reason import Reason

if TYPE_CHECKING:
    from pairing.learning.columns import Encoded
    from pairing.learning.liking import Liking
    from pairing.model.arrays import Floats
    from pairing.model.recipes import Recipes
    from pairing.model.shelf import Shelf

__all__ = ["parts", "parts_table"]


def _about(block: Block, key: int, shelf: Shelf, liking: Liking, base_id: str) -> Reason:
    """Read the key of a column back into what it is about, as a reason without its points."""
    if block.kind == "rule":
        return Reason(kind="rule", rule_id=block.name.removeprefix("rule:"))
    about = block.about
    return Reason(
        kind=block.kind,
        base_id=base_id if about.base else None,
        flavouring_ids=_last(tuple(shelf.flavourings), key, about.flavourings),
        families=_last(liking.traits.families, key, about.families),
        what=about.what,
    )


def _last(names: tuple[str, ...], key: int, n: int) -> tuple[str, ...]:
    """Return the last names in a key, which counts in as many as there are names."""
    return tuple(names[key // len(names) ** place % len(names)] for place in reversed(range(n)))


def parts(
    liking: Liking, shelf: Shelf, recipe: Recipes, who: Any, on_scale: Callable[[Encoded], tuple[Floats, ...]]
) -> list[Reason]:
    """Take the prediction of one recipe apart; the points sum to what is predicted ``on_scale``."""
    entries = liking.entries(recipe, who)  # asks all rules: once for the whole and for its parts
    predicted = float(on_scale(liking.columns.encode(entries, 1, liking.variances))[0][0])
    pooled = liking.pool.parts({k: e for k, e in entries.items() if k != POOL})
    base_id = list(shelf.bases)[int(recipe.base[0])]
    blocks = {b.name: b for b in liking.columns.blocks}
    groups: dict[Reason, int] = {}
    moved: dict[str, Entries] = {}
    for name, found in entries.items():
        about = [_about(blocks[name], int(k), shelf, liking, base_id) for k in found.key]
        rows = [groups.setdefault(one, len(groups)) for one in about]
        moved[name] = Entries(np.array(rows, np.int64), found.key, found.value, found.scale)
    if pooled:
        one = [
            (replace(_about(blocks[n], int(k), shelf, liking, base_id), kind=POOL), v)
            for n, e in pooled.items()
            for k, v in zip(e.key, e.value, strict=True)
        ]
        rows = [groups.setdefault(about, len(groups)) for about, _ in one]
        moved[POOL] = Entries.of(rows, 0, np.array([value for _, value in one]))
    encoded = liking.columns.encode(moved, len(groups), liking.variances)
    points, sd = liking.mean(encoded), liking.sd(encoded)
    out = [replace(one, points=float(p), sd=float(s)) for one, p, s in zip(groups, points, sd, strict=True)]
    return [*out, Reason(kind="bounds", points=predicted - float(points.sum()), sd=0.0)]


def parts_table(found: Iterable[Reason], shelf: Shelf | None = None) -> pd.DataFrame:
    """Put parts into a table, as of `Learned.explain`; in ids, or in names where a shelf is given."""
    rows = [(wording.part(p, shelf), p.kind, p.points, p.sd, p.base_id or "", p.flavouring_ids) for p in found]
    return pd.DataFrame(rows, columns=["part", "kind", "points", "sd", "base_id", "flavouring_ids"])
