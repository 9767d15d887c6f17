"""Sparse blocks of columns: those that the data used, and those that only a prior speaks of.

A block is a set of effects with one variance, addressed by whole-number keys (a flavouring, a base × flavouring cell, a
pair). The solver sees the keys that occur in the data. A recipe may ask for others, *unseen levels* of the block: these
have their prior alone, and the same key asked twice is the same unknown, so that joint covariances are right.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.block import Block, Entries
from pairing.learning.posterior import Posterior
from pairing.model.arrays import Floats, Ints

__all__ = ["Columns", "Counts", "Encoded", "covariance", "mean", "places", "sample", "thinned", "variance"]


MANY_KEYS = 5000
"""Entries from which on a block counts as large (our choice)."""
TOLD_APART = 3
"""Times that a key of a large, thinly filled block has to occur to have a column (our choice)."""
MOST_CELLS = 200_000
"""Columns of a block of cells at most, those seen most often (our choice)."""
MAX_TABLE = 2_000_000
"""Largest key up to which keys are looked up in a table, which is faster than a search."""


@dataclass(frozen=True)
class Encoded:
    """Rows over the columns in use, and over the unseen levels, of which only the prior speaks."""

    x: sparse.csr_matrix
    unseen: sparse.csr_matrix
    unseen_id: Ints
    unseen_var: Floats
    unseen_mean: Floats

    def __len__(self) -> int:
        return int(self.x.shape[0])

    def take(self, rows: Any) -> Encoded:
        """Return some of the rows."""
        return Encoded(self.x[rows], self.unseen[rows], self.unseen_id, self.unseen_var, self.unseen_mean)

    def combine(self, weights: Any) -> Encoded:
        """Return weighted sums of the rows; ``weights`` has shape (sums, rows)."""
        matrix = sparse.csr_matrix(weights)
        return Encoded(
            (matrix @ self.x).tocsr(), (matrix @ self.unseen).tocsr(), self.unseen_id, self.unseen_var, self.unseen_mean
        )


@dataclass(frozen=True, eq=False)
class Counts:
    """How often each key of a block occurs; those of several logs add up.

    Attributes
    ----------
    key : int array, shape (n,)
        Ascending.
    count : int array, shape (n,)
    scale : array, shape (n,)
        Variance relative to the block's.
    """

    key: Ints
    count: Ints
    scale: Floats

    @classmethod
    def of(cls, found: Entries) -> Counts:
        """Count the entries of one log."""
        if not len(found.key):
            return cls(found.key, found.key, found.scale)
        key, first = _distinct(found.key)
        return cls(key, np.bincount(places(key, found.key), minlength=len(key)), found.scale[first])

    @classmethod
    def plain(cls, key: Ints) -> Counts:
        """Count keys that are all alike."""
        found, count = np.unique(key, return_counts=True)
        return cls(found, count, np.ones(len(found)))

    def at(self, key: Ints) -> Ints:
        """Return how often each of some keys occurs."""
        return np.append(self.count, 0)[places(self.key, key)]  # −1, where a key does not occur, is the last

    def by(self, group: Callable[[Ints], Ints]) -> Counts:
        """Return the counts of groups of keys."""
        key, place = np.unique(group(self.key), return_inverse=True)
        count = np.bincount(place, self.count, minlength=len(key)).astype(np.int64)
        return Counts(key, count, np.ones(len(key)))

    def __add__(self, other: Counts) -> Counts:
        """Return the counts of both."""
        key, first, place = np.unique(np.append(self.key, other.key), return_index=True, return_inverse=True)
        count = np.bincount(place, np.append(self.count, other.count), minlength=len(key)).astype(np.int64)
        return Counts(key, count, np.append(self.scale, other.scale)[first])


def thinned(count: Ints) -> Any:
    """Tell which cells get a column, given how often each was seen."""
    kept = np.ones(len(count), bool)
    if count.sum() > MANY_KEYS and count.sum() < 1.5 * len(count):
        kept = count >= TOLD_APART
    if kept.sum() > MOST_CELLS:
        least = np.sort(count[kept])[-MOST_CELLS]
        tied = np.flatnonzero(kept & (count == least))
        kept &= count > least
        kept[tied[: MOST_CELLS - int(kept.sum())]] = True
    return kept


@dataclass(frozen=True)
class Columns:
    """The columns of a fitted model.

    Attributes
    ----------
    blocks : tuple of Block
    keys : mapping of block name to sorted int array
        Keys that the data used.
    scales : mapping of block name to array
        Their relative variances.
    start : mapping of block name to int
        First column of each block.
    means : mapping of block name to callable
        Prior mean by key, for blocks with a low-rank part.
    """

    blocks: tuple[Block, ...]
    keys: Mapping[str, Ints]
    scales: Mapping[str, Floats]
    start: Mapping[str, int]
    n: int
    means: Mapping[str, Callable[[Ints], Floats]] = field(default_factory=dict)

    @classmethod
    def of(cls, blocks: tuple[Block, ...], entries: Mapping[str, Entries]) -> Columns:
        """Give a column to every key that occurs; see `Columns.counted`."""
        return cls.counted(blocks, {b.name: Counts.of(entries[b.name]) for b in blocks if b.name in entries})

    @classmethod
    def counted(cls, blocks: tuple[Block, ...], counts: Mapping[str, Counts]) -> Columns:
        """Give a column to every key that occurs, of one log or of several in sum.

        In a large block of cells of which nearly every key was seen once, only those that were seen more often
        get one: the others cannot be told from noise. Of very many cells those that were seen most get one.
        """
        keys: dict[str, Ints] = {}
        scales: dict[str, Floats] = {}
        start: dict[str, int] = {}
        n = 0
        for block in blocks:
            found = counts.get(block.name)
            if found is None or not len(found.key) or len(found.key) < block.least:
                continue
            kept = thinned(found.count) if block.cells else np.ones(len(found.key), bool)
            if not kept.any():
                continue
            keys[block.name], scales[block.name] = found.key[kept], found.scale[kept]
            start[block.name] = n
            n += len(keys[block.name])
        return cls(blocks, keys, scales, start, n)

    def only(self, entries: Mapping[str, Entries]) -> dict[str, Entries]:
        """Return the entries of these blocks, in their order; the others are not in use."""
        return {block.name: entries[block.name] for block in self.blocks if block.name in entries}

    def slice(self, name: str) -> slice:
        """Columns of a block."""
        return slice(self.start[name], self.start[name] + len(self.keys[name]))

    def prior(self) -> dict[str, Any]:
        """Prior of every column, as the solver takes it."""
        block, mean, scale = np.full(self.n, -1, np.int64), np.zeros(self.n), np.ones(self.n)
        count, var, number = [], [], 0
        for spec in self.blocks:
            if spec.name not in self.keys:
                continue
            part = self.slice(spec.name)
            mean[part] = self.prior_mean(spec, self.keys[spec.name])
            if np.isinf(spec.var):
                block[part] = -2
            elif spec.fixed:
                scale[part] = self.scales[spec.name] * spec.var
            else:
                scale[part] = self.scales[spec.name]
                block[part] = number
                count.append(spec.count)
                var.append(spec.var)
                number += 1
        return {"blocks": block, "prior_mean": mean, "prior_scale": scale, "pseudo_count": count, "pseudo_var": var}

    def prior_mean(self, block: Block, keys: Ints) -> Floats:
        """Prior mean of keys of a block."""
        low_rank = self.means.get(block.name)
        return np.full(len(keys), block.mean) + (low_rank(keys) if low_rank is not None else 0.0)

    def variances(self, learned: Floats) -> dict[str, float]:
        """Variance of every block, from the solver's array of those that it learned."""
        out, number = {}, 0
        for block in self.blocks:
            if block.fixed or block.name not in self.keys:
                out[block.name] = block.var
            else:
                out[block.name] = float(learned[number])
                number += 1
        return out

    def learned_order(self, variances: Mapping[str, float]) -> Floats:
        """Return variances of the blocks that are learned, in the solver's order; the expected one for a new block."""
        blocks = (b for b in self.blocks if not b.fixed and b.name in self.keys)
        return np.array([variances.get(b.name, b.var) for b in blocks])

    def carried(self, earlier: Any) -> Floats:
        """Return the weights that an earlier fit gave to these columns, else their prior means."""
        out = np.zeros(self.n)
        for block in self.blocks:
            if block.name not in self.keys:
                continue
            part, keys = self.slice(block.name), self.keys[block.name]
            out[part] = self.prior_mean(block, keys)
            known = earlier.columns.keys.get(block.name)
            if known is not None and len(known):
                place = places(known, keys)
                hit = place >= 0
                out[part][hit] = earlier.posterior.mean[place[hit] + earlier.columns.start[block.name]]
        return out

    def encode(
        self, entries: Mapping[str, Entries], n_rows: int, variances: Mapping[str, float] | None = None
    ) -> Encoded:
        """Turn entries into rows; keys without a column are unseen levels.

        Parameters
        ----------
        variances : mapping, optional
            Variance of each block, for the unseen levels. Without it every key has to be in use.
        """
        rows, cols, values = [], [], []
        unseen: list[tuple[Any, ...]] = []
        for number, block in enumerate(self.blocks):
            found = entries.get(block.name)
            if found is None or not len(found.row):
                continue
            known = self.keys.get(block.name, np.empty(0, np.int64))
            place = places(known, found.key)
            hit = place >= 0
            complete = bool(hit.all())
            used: Any = slice(None) if complete else hit
            rows.append(found.row[used].astype(np.int32))
            cols.append((place[used] + self.start.get(block.name, 0)).astype(np.int32))
            values.append(found.value[used])
            if variances is not None and not complete:
                miss = ~hit
                key = found.key[miss]
                var = variances[block.name] * found.scale[miss]
                mean = self.prior_mean(block, key)
                unseen.append((found.row[miss], (np.int64(number) << 52) + key, found.value[miss], var, mean))
        at = _join(rows, np.int32), _join(cols, np.int32)  # what is joined is let go of: of a huge log it is much
        x = sparse.csr_matrix((_join(values, np.float64), at), (n_rows, self.n))
        return Encoded(x, *_unseen(unseen, n_rows))


def _distinct(key: Ints) -> tuple[Ints, Ints]:
    """Return the keys that occur, ascending, and where each occurs first."""
    if key.max() > MAX_TABLE:
        return np.unique(key, return_index=True)
    first = np.full(key.max() + 1, -1)
    first[key[::-1]] = np.arange(len(key))[::-1]
    found = np.flatnonzero(first >= 0)
    return found, first[found]


def places(known: Ints, key: Ints) -> Ints:
    """Return where each key stands among the known ones, which ascend; −1 where it does not."""
    if not len(known) or not len(key):
        return np.full(len(key), -1)
    if max(known[-1], key.max()) > MAX_TABLE:
        place = np.minimum(np.searchsorted(known, key), len(known) - 1)
        return np.where(known[place] == key, place, -1)
    table = np.full(max(known[-1], key.max()) + 1, -1)
    table[known] = np.arange(len(known))
    return np.asarray(table[key])


def _join(parts: list[Any], kind: Any) -> Any:
    whole = np.concatenate(parts, dtype=kind, casting="same_kind") if parts else np.empty(0, kind)
    parts.clear()
    return whole


def _unseen(parts: list[tuple[Any, ...]], n_rows: int) -> tuple[sparse.csr_matrix, Ints, Floats, Floats]:
    if not parts:
        empty = np.empty(0)
        return sparse.csr_matrix((n_rows, 0)), np.empty(0, np.int64), empty, empty
    row, key, value, var, mean = (np.concatenate(column) for column in zip(*parts, strict=True))
    ids, first, column = np.unique(key, return_index=True, return_inverse=True)
    matrix = sparse.csr_matrix((value, (row, column)), (n_rows, len(ids)))
    return matrix, ids, var[first], mean[first]


def mean(posterior: Posterior, rows: Encoded) -> Floats:
    """Posterior mean of rows."""
    return np.asarray(rows.x @ posterior.mean[: rows.x.shape[1]] + rows.unseen @ rows.unseen_mean).ravel()


def variance(posterior: Posterior, rows: Encoded, *, rough: bool = False) -> Floats:
    """Posterior variance of rows; ``rough`` is right on average only, and cheaper in a large log."""
    known = posterior.rough_variance(rows.x) if rough else posterior.variance(rows.x)
    return np.asarray(known + np.asarray(rows.unseen.power(2) @ rows.unseen_var).ravel())


def covariance(posterior: Posterior, rows: Encoded, other: Encoded) -> Floats:
    """Posterior covariance of rows with other rows."""
    out = posterior.covariance(rows.x, other.x)
    shared, a, b = np.intersect1d(rows.unseen_id, other.unseen_id, return_indices=True)
    if len(shared):
        part = rows.unseen[:, a].multiply(rows.unseen_var[a]).tocsr()
        out = out + (part @ other.unseen[:, b].T).toarray()
    return out


def sample(posterior: Posterior, rows: Encoded, n: int, rng: np.random.Generator) -> Floats:
    """Joint draws of rows, shape (n, rows)."""
    known = posterior.sample(rows.x, n, rng)
    noise = rng.standard_normal((len(rows.unseen_id), n)) * np.sqrt(rows.unseen_var)[:, None]
    return np.asarray(known + np.asarray(rows.unseen @ (noise + rows.unseen_mean[:, None])).T)
