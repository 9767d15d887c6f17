"""What the readings of some kitchens say: effects that all kitchens share, and effects of their own.

What is a taster's, a session's, a cup's, a lot's or a kitchen's own is eliminated where the readings are
(`pairing.learning.local`); only what all share travels.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from pairing.learning.block import Block, Entries, entries_of, in_use
from pairing.learning.columns import TOLD_APART, Columns, places
from pairing.learning.design import Additions, Traits, Who
from pairing.learning.exact import Prior
from pairing.learning.liking import BLOCKS as LIKING
from pairing.learning.local import elimination_order
from pairing.learning.numbered import mixed
from pairing.learning.rules import NO_RULES, RuleColumns
from pairing.learning.scene import Occasion, Scene, Typical
from pairing.learning.strength import BLOCKS as STRENGTH
from pairing.learning.strength import log_label
from pairing.model.arrays import Floats, Ints
from pairing.model.recipes import Recipes
from pairing.pooling.compared import Asked
from pairing.pooling.folder import LogPart

__all__ = ["Made", "Own", "Plan", "dose_blocks", "judged_entries", "liking_blocks", "scored_entries"]

OF_KITCHENS = {"kitchen": None, "kitchen*base": "base", "kitchen*flavouring": "flavouring"}
"""Blocks of a kitchen with several tasters; of one with a single taster they are that taster's own."""
CELLS_OF_KITCHENS = {"kitchen*affinity": "affinity", "kitchen*pair": "pair"}
SMALL_KITCHEN = 2000
"""Rows up to which a kitchen's own cells are told apart from those that all share (our choice): by how much kitchens
differ is learned from those, and eliminating thousands of cells of each large one would take most of the time."""
MOST_OWN = 60, 300
"""Cells of one block that a kitchen, or a taster, has columns for at most, those tried most (our choice): of a taster
with very many readings more, one for so many as ``FOR_ONE_MORE``. Eliminating them takes time with the third power of
their number, and leaving them out lets their readings count for what all share as if they were many tasters'."""
FOR_ONE_MORE = 40


def _with_kitchens(blocks: tuple[Block, ...], traits: Traits) -> tuple[Block, ...]:
    """Add what kitchens have of their own: a like block, with half its expected variance."""
    by_name = {block.name: block for block in blocks}
    own = [Block("kitchen", "taster", by_name["taster"].var, 5.0)]
    for name, like in (OF_KITCHENS | CELLS_OF_KITCHENS).items():
        if like in by_name:
            block = by_name[like]
            own.append(Block(name, "taster", 0.5 * block.var, block.count, between_bases=block.between_bases))
    own = [replace(block, local=True, common=False, cells=block.name in CELLS_OF_KITCHENS) for block in own]
    return in_use((*blocks, *own), traits.n_bases)


def liking_blocks(traits: Traits, rules: RuleColumns = NO_RULES) -> tuple[Block, ...]:
    """Return the blocks of liking in a pool."""
    return _with_kitchens(rules.liking_blocks(LIKING), traits)


def dose_blocks(traits: Traits, rules: RuleColumns = NO_RULES) -> tuple[Block, ...]:
    """Return the blocks of the needed dose in a pool."""
    return _with_kitchens(rules.dose_blocks(STRENGTH), traits)


@dataclass(frozen=True, eq=False)
class Made:
    """Entries of some rows.

    Attributes
    ----------
    shared, own : mapping of block name to Entries
        What all kitchens share; what is a taster's, an occasion's or a kitchen's, with keys of this part.
    kitchen : int array, shape (n,)
        Of each row.
    """

    shared: dict[str, Entries]
    own: dict[str, Entries]
    kitchen: Ints


def scored_entries(
    part: LogPart, asked: Asked, blocks: tuple[Block, ...], rules: RuleColumns, traits: Traits, typical: Typical
) -> Made:
    """Make the entries of scores and of compared cups, but for the penalty."""
    log, rows = part.log, asked.reading
    who, occasion = Who(log.taster[rows], len(log.tasters)), Occasion.of(log, rows, typical)
    made = entries_of(blocks, Scene.of_recipes(asked.recipes, traits, who, occasion))
    made |= rules.liking_entries(asked.recipes, lambda recipes: _as_on_labels(traits, recipes))
    return _apart(made, blocks, part, asked.kitchen, traits)


def _as_on_labels(traits: Traits, recipes: Recipes) -> tuple[Floats, Floats]:
    """Needed doses of compared recipes whose doses are open: a rule is asked before any are learned."""
    found = log_label(traits, recipes.base[:, None], recipes.flavouring)
    return np.where(recipes.present, found, np.nan), np.zeros(found.shape)


def judged_entries(
    part: LogPart, asked: Asked, adds: Additions, keep: Ints | None, blocks: tuple[Block, ...], rules: RuleColumns,
    traits: Traits, typical: Typical | None,
) -> Made:  # fmt: skip
    """Make the entries of some additions; without ``typical`` those of any cup, whatever the occasion.

    ``keep`` are their places among all additions to the cups; None: they are all.
    """
    log = part.log
    reading = asked.reading[adds.row[adds.row < len(asked.reading)]]
    who = Who(log.taster[reading], len(log.tasters))
    occasion = None if typical is None else Occasion.of(log, reading, typical)
    recipes = asked.recipes if occasion is not None else replace(asked.recipes, lot=None)
    made = entries_of(blocks, Scene.of_additions(adds, recipes, traits, who, occasion))
    made |= rules.dose_entries(recipes, keep)
    return _apart(made, blocks, part, asked.kitchen[adds.row], traits)


def _apart(made: dict[str, Entries], blocks: tuple[Block, ...], part: LogPart, kitchen: Ints, traits: Traits) -> Made:
    """Tell what is shared from what is a kitchen's own."""
    local = {block.name for block in blocks if block.local}
    several = np.bincount(_kitchen_of_tasters(part), minlength=len(part.kitchens)) > 1
    own = {name: made.pop(name) for name in list(made) if name in local}
    names = {block.name for block in blocks}
    every = Entries.of(np.arange(len(kitchen)), 0)
    for name, like in OF_KITCHENS.items():
        found = every if like is None else made.get(like)
        if name in names and found is not None:
            own[name] = _of_kitchens(
                _some(found, several[kitchen[found.row]]), kitchen, 1 if like is None else _width(traits)
            )
    small = np.bincount(kitchen, minlength=len(part.kitchens)) <= SMALL_KITCHEN
    for name, like in CELLS_OF_KITCHENS.items():
        if name in names and like in made:
            found = made[like]
            own[name] = _of_kitchens(_some(found, small[kitchen[found.row]]), kitchen, _width(traits))
    return Made(made, {name: found for name, found in own.items() if len(found.row)}, kitchen)


def _width(traits: Traits) -> int:
    """More than any key of a kitchen's own cells."""
    return max(traits.n_bases, traits.n_flavourings) * traits.n_flavourings + 1


def _of_kitchens(found: Entries, kitchen: Ints, width: int) -> Entries:
    return replace(found, key=kitchen[found.row] * width + found.key)


def _some(found: Entries, kept: Any) -> Entries:
    return Entries(found.row[kept], found.key[kept], found.value[kept], found.scale[kept])


def _kitchen_of_tasters(part: LogPart) -> Ints:
    """Return the kitchen of every taster of a part."""
    out = np.zeros(len(part.log.tasters), np.int64)
    out[part.log.taster] = part.kitchen
    return out


@dataclass(frozen=True)
class Plan:
    """Which columns there are.

    Attributes
    ----------
    blocks : tuple of Block
    columns : Columns
        Of what is shared; blocks of a kitchen's own are there without a key, so that they are numbered.
    prior : Prior
        Of the shared columns.
    thin : frozenset of str
        Own cells so thinly filled that only those seen several times get a column.
    of_tasters : mapping of block name to int
        Cells of tasters: how many there could be of each.
    rules : RuleColumns
    """

    blocks: tuple[Block, ...]
    columns: Columns
    prior: Prior
    thin: frozenset[str]
    of_tasters: Mapping[str, int]
    rules: RuleColumns

    @property
    def numbers(self) -> dict[str, int]:
        """Number of every block whose variance is learned."""
        learned = (b.name for b in self.columns.blocks if not b.fixed and b.name in self.columns.keys)
        return {name: i for i, name in enumerate(learned)}


@dataclass(frozen=True, eq=False)
class Own:
    """Columns of what is a kitchen's own, of the rows of one part.

    Attributes
    ----------
    z : sparse matrix, shape (n, q)
    prior : Prior
    number : int array, shape (q,)
        See `pairing.learning.local.Local`.
    keys : mapping of block name to (first column, int array)
        Keys of this part, ascending.
    order : int array, shape (q,), or None
        See `pairing.learning.local.elimination_order`.
    """

    z: Any
    prior: Prior
    number: Ints
    keys: dict[str, tuple[int, Ints]]
    order: Ints | None

    @classmethod
    def of(cls, made: Made, part: LogPart, plan: Plan) -> Own:
        """Give a column to every key, but for cells that are seen too rarely, or too many."""
        numbers = plan.numbers
        prior = plan.prior
        rows, cols, values, block, scale, number, keys = [], [], [], [], [], [], {}
        n = 0
        for name, found in made.own.items():
            if name not in numbers:
                continue
            key, first, place, count = np.unique(found.key, return_index=True, return_inverse=True, return_counts=True)
            kept = count >= TOLD_APART if name in plan.thin else np.ones(len(key), bool)
            kitchen = made.kitchen[found.row[first]]
            if name in CELLS_OF_KITCHENS:
                kept &= _rank_within(kitchen, count) < MOST_OWN[0]
            elif name in plan.of_tasters:
                taster = key // plan.of_tasters[name]
                most = np.clip(np.bincount(taster, count) // FOR_ONE_MORE, *MOST_OWN)
                kept &= _rank_within(taster, count) < most[taster]
            at = np.where(kept, np.cumsum(kept) - 1 + n, -1)[place]
            used = at >= 0
            rows.append(found.row[used])
            cols.append(at[used])
            values.append(found.value[used])
            block.append(np.full(kept.sum(), numbers[name]))
            scale.append(found.scale[first][kept])
            number.append(own_numbers(part, kitchen[kept], key[kept], numbers[name]))
            keys[name] = n, key[kept]
            n += int(kept.sum())
        z = sparse.csr_matrix((_join(values, float), (_join(rows, int), _join(cols, int))), (len(made.kitchen), n))
        own = _join(block, np.int64), np.zeros(n), _join(scale, float)
        wanted = Prior(*own, prior.n_blocks, prior.pseudo_count, prior.pseudo_var)
        return cls(z, wanted, _join(number, np.int64), keys, elimination_order((z.T @ z).tocsc()))

    def look_up(
        self, entries: Mapping[str, Entries], n: int, effects: Floats, variance: Floats, level: Mapping[str, float]
    ) -> tuple[Floats, Floats]:
        """Sum the effects of some entries, and their variances: of a key without a column the block's."""
        mean, spread = np.zeros(n), np.zeros(n)
        for name, found in entries.items():
            start, keys = self.keys.get(name, (0, np.empty(0, np.int64)))
            at = places(keys, found.key)
            hit = at >= 0
            mean += np.bincount(found.row[hit], found.value[hit] * effects[start + at[hit]], minlength=n)
            each = np.full(len(at), level.get(name, 0.0)) * found.scale
            each[hit] = variance[start + at[hit]]
            spread += np.bincount(found.row, found.value**2 * each, minlength=n)
        return mean, spread


def own_numbers(part: LogPart, kitchen: Ints, key: Ints, what: int) -> Ints:
    """Give things of kitchens numbers by kitchen and order among its own: alike in whichever part it stands."""
    names = [int.from_bytes(hashlib.sha256(name.encode()).digest()[:7], "big") for name in part.kitchens]
    order = np.lexsort((key, kitchen))
    start = np.r_[0, np.cumsum(np.bincount(kitchen, minlength=len(names)))[:-1]]
    rank = np.empty(len(key), np.int64)
    rank[order] = np.arange(len(key)) - start[kitchen[order]]
    return mixed(np.array(names, np.int64)[kitchen] + 1_000_003 * what, rank)


def _rank_within(kitchen: Ints, count: Ints) -> Ints:
    """Rank cells of each kitchen by how often they were seen."""
    order = np.lexsort((np.arange(len(count)), -count, kitchen))
    start = np.r_[0, np.cumsum(np.bincount(kitchen))[:-1]]
    rank = np.empty(len(count), np.int64)
    rank[order] = np.arange(len(count)) - start[kitchen[order]]
    return rank


def _join(parts: list[Any], kind: Any) -> Any:
    return np.concatenate(parts).astype(kind) if parts else np.empty(0, kind)
