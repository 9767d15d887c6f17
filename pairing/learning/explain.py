"""A prediction taken apart: points per part, with what is uncertain about each, summing to the prediction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.learning.columns import Entries

if TYPE_CHECKING:
    import pandas as pd

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
        n_f, n_fam = max(len(self.flavourings), 1), max(len(self.families), 1)
        match block:
            case "base":
                return self.base
            case "flavouring":
                return self.flavourings[key]
            case "family":
                return f"{self.families[key]} family"
            case "affinity" | "trait*flavouring":
                return f"{self.flavourings[key % n_f]} in {self.base}"
            case "base*family":
                return f"{self.families[key % n_fam]} family in {self.base}"
            case "pair":
                return f"{self.flavourings[key // n_f]} + {self.flavourings[key % n_f]}"
            case "pair*base":
                pair = key % (n_f * n_f)
                return f"{self.flavourings[pair // n_f]} + {self.flavourings[pair % n_f]}"
            case "family*family":
                return f"{self.families[key // n_fam]} + {self.families[key % n_fam]} families"
            case "flavourings" | "pairs":
                return "several flavourings"
            case "plain":
                return "nothing added"
            case "taster" | "taste" | "taster*base":
                return "tasters"
            case "too weak" | "too strong":
                return f"dose {block}, or may be"
            case _:
                return block.removeprefix("rule:")


def explain(liking: Liking, shelf: Shelf, recipe: Recipes, who: Any, predicted: float) -> pd.DataFrame:
    """Take one prediction apart; see `Learned.explain`."""
    import pandas as pd

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
    rows = [(part, kind, float(p), float(s)) for (part, kind), p, s in zip(groups, points, sd, strict=True)]
    rows.append(("ends of the scale", "bounds", predicted - float(points.sum()), 0.0))
    return pd.DataFrame(rows, columns=["part", "kind", "points", "sd"])
