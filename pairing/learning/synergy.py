"""What pairs, single flavourings and flavourings in bases are worth, for the pairing graph."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy import sparse
from scipy.special import ndtr

from pairing.learning.block import Entries, entries_of
from pairing.learning.columns import Encoded, places
from pairing.learning.scene import Scene
from pairing.learning.tally import Tally
from pairing.model.recipes import Recipes

if TYPE_CHECKING:
    from pairing.learning.liking import Liking
    from pairing.model.shelf import Shelf

__all__ = ["Worths"]

PAIR_PARTS = ("flavourings", "pair", "pair*base", "family*family")
SINGLE_PARTS = ("flavouring", "family")
MOST_IN_FULL = 1000
"""With more flavourings than this on the shelf, pairs are asked of those that were logged most, and of tried ones."""
AFFINITY_PARTS = ("affinity", "base*family", "trait*flavouring")


@dataclass(frozen=True)
class Worths:
    """Answers about parts of the learned liking."""

    shelf: Shelf
    liking: Liking
    tally: Tally

    def pairs(self, base_id: str | None = None, beside: str | None = None) -> pd.DataFrame:
        """Liking of every pair beyond its flavourings and the base, in one base or in the mean of all.

        With ``beside``, another base, it is the synergy in the one minus that in the other: what holds in both cancels.
        On a very large shelf pairs of flavourings that were hardly ever logged are left out: see ``MOST_IN_FULL``.
        """
        one, two = self._asked()
        slots = np.column_stack([one, two]).astype(np.int64)
        names = np.array(list(self.shelf.flavourings), object)
        if base_id is None or beside is None:
            encoded = self._parts(slots, base_id, PAIR_PARTS)
        else:
            encoded = self._apart(slots, base_id, beside)
        mean, sd = self.liking.mean(encoded), self.liking.sd(encoded)
        trials, liked, bases = self._tried(one, two, base_id)
        return pd.DataFrame(
            {
                "flavouring_a": names[one],
                "flavouring_b": names[two],
                "synergy": mean,
                "sd": sd,
                "p_positive": ndtr(mean / np.maximum(sd, 1e-9)),
                "trials": trials,
                "liked": liked,
                "tested": trials > 0,
                "bases": bases,
            }
        )

    def singles(self, base_id: str | None = None) -> pd.DataFrame:
        """Liking of every flavouring beyond the base, by itself; ``liked`` counts the trials with a liking."""
        n_f = len(self.shelf.flavourings)
        encoded = self._parts(np.arange(n_f, dtype=np.int64)[:, None], base_id, SINGLE_PARTS + AFFINITY_PARTS)
        trials, liked = (
            found.by(lambda key: key % n_f).at(np.arange(n_f))
            if base_id is None
            else found.at(self._base(base_id) * n_f + np.arange(n_f))
            for found in (self.tally.cups, self.tally.liked)
        )
        return pd.DataFrame(
            {
                "flavouring_id": list(self.shelf.flavourings),
                "points": self.liking.mean(encoded),
                "sd": self.liking.sd(encoded),
                "trials": trials,
                "liked": liked,
            }
        )

    def affinity(self) -> pd.DataFrame:
        """Liking of every flavouring in every base beyond the two by themselves."""
        n_b, n_f = len(self.shelf.bases), len(self.shelf.flavourings)
        base = np.repeat(np.arange(n_b), n_f).astype(np.int64)
        item = np.tile(np.arange(n_f), n_b).astype(np.int64)
        entries = self._entries(item[:, None], base, AFFINITY_PARTS)
        encoded = self.liking.columns.encode(entries, len(base), self.liking.variances)
        mean, sd = self.liking.mean(encoded), self.liking.sd(encoded)
        return pd.DataFrame(
            {
                "base_id": np.array(list(self.shelf.bases), object)[base],
                "flavouring_id": np.array(list(self.shelf.flavourings), object)[item],
                "affinity": mean,
                "sd": sd,
                "p_positive": ndtr(mean / np.maximum(sd, 1e-9)),
                "trials": self.tally.cups.at(np.arange(n_b * n_f)),
            }
        )

    def _asked(self) -> tuple[Any, Any]:
        """Pairs to tell of, by place on the shelf: all of them, as far as that is not millions."""
        n_f = len(self.shelf.flavourings)
        if n_f <= MOST_IN_FULL:
            return np.triu_indices(n_f, 1)
        used = self.tally.cups.by(lambda key: key % n_f).at(np.arange(n_f))
        most = np.sort(np.argsort(-used, kind="stable")[:MOST_IN_FULL])
        one, two = (most[i] for i in np.triu_indices(len(most), 1))
        pair = np.unique(np.concatenate([one * n_f + two, self.tally.pairs.key % n_f**2]))
        return pair // n_f, pair % n_f

    def _base(self, base_id: str) -> int:
        return self.shelf.base_places[self.shelf.base(base_id).base_id]

    def _parts(self, slots: Any, base_id: str | None, parts: tuple[str, ...]) -> Encoded:
        """Rows for some blocks, in one base or in the mean of the bases."""
        if base_id is not None:
            entries = self._entries(slots, self._base(base_id), parts)
        else:
            shared = tuple(p for p in parts if p not in AFFINITY_PARTS and p != "pair*base")
            entries = self._entries(slots, 0, shared)
            entries |= self._mean_over_bases(slots, tuple(p for p in parts if p not in shared))
        return self.liking.columns.encode(entries, len(slots), self.liking.variances)

    def _entries(self, slots: Any, base: Any, parts: tuple[str, ...]) -> dict[str, Entries]:
        """Entries of some blocks for flavourings in a base, by place on the shelf, or each in its own."""
        recipes = Recipes.at(np.broadcast_to(base, len(slots)), slots)
        blocks = (block for block in self.liking.columns.blocks if block.name in parts)
        made = entries_of(blocks, Scene.of_recipes(recipes, self.liking.traits))
        return made | self.liking.pool.entries(made)

    def _apart(self, slots: Any, base_id: str, beside: str) -> Encoded:
        """Rows for pairs in one base minus the same in another."""
        n = len(slots)
        base = np.repeat([self._base(base_id), self._base(beside)], n).astype(np.int64)
        entries = self._entries(np.vstack([slots, slots]), base, PAIR_PARTS)
        encoded = self.liking.columns.encode(entries, 2 * n, self.liking.variances)
        return encoded.combine(sparse.hstack([sparse.identity(n), -sparse.identity(n)]))

    def _mean_over_bases(self, slots: Any, parts: tuple[str, ...]) -> dict[str, Entries]:
        """Entries of blocks that differ by base, each base with its share; keys that no cup used are left out."""
        n_b = max(len(self.shelf.bases), 1)
        kept: dict[str, list[Entries]] = {}
        for base in range(n_b):
            for part, e in self._entries(slots, base, parts).items():
                hit = places(self.liking.columns.keys.get(part, np.empty(0, np.int64)), e.key) >= 0
                own = Entries(e.row[hit], e.key[hit], e.value[hit] / n_b, e.scale[hit])
                kept.setdefault(part, []).append(own)
        return {
            part: Entries(*(np.concatenate([getattr(e, f) for e in some]) for f in ("row", "key", "value", "scale")))
            for part, some in kept.items()
        }

    def _tried(self, one: Any, two: Any, base_id: str | None) -> tuple[Any, Any, list[tuple[str, ...]]]:
        """Count the trials of every pair, and those with a liking; list the bases in which it was tried."""
        n_f, names = len(self.shelf.flavourings), list(self.shelf.bases)
        asked = one * n_f + two
        cells = self.tally.pairs.key
        if base_id is not None:
            place = self._base(base_id)
            cells = cells[cells // n_f**2 == place]
            trials, liked = (f.at(place * n_f**2 + asked) for f in (self.tally.pairs, self.tally.liked_pairs))
        else:
            trials, liked = (
                f.by(lambda key: key % n_f**2).at(asked) for f in (self.tally.pairs, self.tally.liked_pairs)
            )
        where: dict[int, tuple[str, ...]] = {}
        for key in cells:
            base, pair = divmod(int(key), n_f**2)
            where[pair] = (*where.get(pair, ()), names[base])
        bases: list[tuple[str, ...]] = [()] * len(one)
        for i in np.flatnonzero(trials):
            bases[i] = where.get(int(asked[i]), ())
        return trials, liked, bases
