"""What could matter in a cup, before anything is learned: from a scene to the entries of one block each."""

from __future__ import annotations

import numpy as np

from pairing.learning.block import Entries
from pairing.learning.scene import Scene
from pairing.model.arrays import Floats, Ints

CHILD_SCALE = 0.3
"""Variance of a new version's own part relative to a first version's (our choice): it starts from its parent, wider."""
LAST_POSITION = 12
"""Places in an evening from which on they count as one (our choice)."""

# --- what is in the cup -----------------------------------------------------------------------------------------------


def everywhere(scene: Scene) -> Entries:
    """Give every row the same effect."""
    return Entries.of(np.arange(len(scene)), 0)


def plain(scene: Scene) -> Entries:
    """Give cups to which nothing was added one."""
    return Entries.of(np.flatnonzero(scene.recipes.count == 0), 0)


def further_flavourings(scene: Scene) -> Entries:
    """Count flavourings after the first."""
    count = scene.recipes.count
    return Entries.of(np.flatnonzero(count > 1), 0, (count - 1.0)[count > 1])


def further_pairs(scene: Scene) -> Entries:
    """Count pairs after the first."""
    count = scene.recipes.count
    return Entries.of(np.flatnonzero(count > 2), 0, ((count - 1) * (count - 2) / 2.0)[count > 2])


def base(scene: Scene) -> Entries:
    """Give every base one, and what it is a version of."""
    row, item, scale = _lineage(np.arange(len(scene)), scene.base, scene.traits.base_parent)
    return Entries.of(row, item, 1.0, scale)


def flavouring(scene: Scene) -> Entries:
    """Give every flavouring one, and what it is a version of."""
    row, item, scale = _lineage(scene.row, scene.item, scene.traits.flavouring_parent)
    return Entries.of(row, item, 1.0, scale)


def unlabelled(scene: Scene) -> Entries:
    """Give every flavouring without a label direction one: what form and carrier make one expect may be far off."""
    at = np.flatnonzero(np.isnan(scene.traits.log_label[scene.base[scene.row], scene.item]))
    return Entries.of(scene.row[at], scene.item[at])


def family(scene: Scene) -> Entries:
    """Give every family one."""
    family = scene.traits.family[scene.item]
    return Entries.of(scene.row[family >= 0], family[family >= 0])


def affinity(scene: Scene) -> Entries:
    """Give every flavouring one in each base."""
    traits = scene.traits
    return _cross(scene.row, scene.base[scene.row], traits.base_parent, scene.item, traits.flavouring_parent)


def base_family(scene: Scene) -> Entries:
    """Give every family one in each base."""
    family = scene.traits.family[scene.item]
    has = family >= 0
    row = scene.row[has]
    return Entries.of(row, scene.base[row] * max(len(scene.traits.families), 1) + family[has])


def trait_flavouring(scene: Scene) -> Entries:
    """Multiply traits of the base and flavourings: one may suit fat, or sugar, or acid."""
    traits = scene.traits
    values = traits.base_traits[scene.base[scene.row]] / np.sqrt(max(traits.base_traits.shape[1], 1))
    at, trait = np.nonzero(values)
    return Entries.of(scene.row[at], trait * traits.n_flavourings + scene.item[at], values[at, trait])


def pair(scene: Scene) -> Entries:
    """Give every pair of flavourings one."""
    row, one, two = scene.pairs
    parent = scene.traits.flavouring_parent
    return _cross(row, one, parent, two, parent, ordered=False)


def pair_base(scene: Scene) -> Entries:
    """Give every pair of flavourings one in each base."""
    row, one, two = scene.pairs
    n = scene.traits.n_flavourings
    return Entries.of(row, (scene.base[row] * n + one) * n + two)


def family_family(scene: Scene) -> Entries:
    """Give every pair of families one."""
    row, *pair = scene.pairs
    one, two = (scene.traits.family[item] for item in pair)
    known = (one >= 0) & (two >= 0)
    key = np.minimum(one, two) * max(len(scene.traits.families), 1) + np.maximum(one, two)
    return Entries.of(row[known], key[known])


def fat_loving(scene: Scene) -> Entries:
    """Multiply the fat of the base and how much of a flavouring it holds back."""
    fat = scene.traits.fat[scene.base[scene.row]] * scene.traits.fat_loving[scene.item]
    return Entries.of(scene.row[fat != 0], 0, fat[fat != 0])


def companions(scene: Scene) -> Entries:
    """Count what else stands beside a flavouring."""
    crowd = scene.adds.companions > 0
    return Entries.of(scene.row[crowd], 0, scene.adds.companions[crowd])


def masking(scene: Scene) -> Entries:
    """Give every companion its own push on what stands beside it."""
    beside = scene.recipes.flavouring[scene.adds.row]
    other = beside >= 0
    other[np.arange(len(beside)), scene.adds.slot] = False
    row, slot = np.nonzero(other)
    return Entries.of(row, beside[row, slot])


# --- who judged it ----------------------------------------------------------------------------------------------------


def taster(scene: Scene) -> Entries:
    """Give every taster one."""
    row, who, share = scene.shares
    return Entries.of(row, who, share)


def taster_flavouring(scene: Scene) -> Entries:
    """Give every taster one for each flavouring."""
    row, who, share = scene.shares
    length = np.bincount(scene.row, minlength=len(scene))
    start = np.r_[0, np.cumsum(length)[:-1]]
    count = length[row]
    again = np.repeat(np.arange(len(row)), count)
    offset = np.arange(len(again)) - np.repeat(np.cumsum(count) - count, count)
    item = scene.item[start[row[again]] + offset]
    return Entries.of(row[again], who[again] * scene.traits.n_flavourings + item, share[again])


def taster_base(scene: Scene) -> Entries:
    """Give every taster one for each base."""
    row, who, share = scene.shares
    return Entries.of(row, who * scene.traits.n_bases + scene.base[row], share)


# --- on what occasion -------------------------------------------------------------------------------------------------


def cup(scene: Scene) -> Entries:
    """Give every cup one that was judged more than once: else it cannot be told from noise."""
    cup = scene.occasion.cup
    _, place, count = np.unique(cup, return_inverse=True, return_counts=True)
    at = np.flatnonzero(count[place] > 1)
    return Entries.of(at, cup[at])


def session(scene: Scene) -> Entries:
    """Give every session one."""
    return _known(scene.occasion.session)


def stepped(scene: Scene) -> Entries:
    """Give cups one that had been tasted with less in them."""
    return Entries.of(np.flatnonzero(scene.occasion.stepped), 0)


def lot(scene: Scene) -> Entries:
    """Give every bottle or bag of a flavouring one."""
    if scene.recipes.lot is None:
        return Entries.of([], 0)
    lot = scene.recipes.lot[scene.adds.row, scene.adds.slot]
    at = np.flatnonzero(lot >= 0)
    return Entries.of(scene.row[at], lot[at])


def position(scene: Scene) -> Entries:
    """Give every place in the serving order of an evening one."""
    return _known(np.minimum(scene.occasion.position, LAST_POSITION))


def minutes(scene: Scene) -> Entries:
    """Measure the time since the last addition, natural log."""
    return _measured(scene.occasion.log_minutes)


def fading(scene: Scene) -> Entries:
    """Measure the days since the last addition, for each flavouring: what fades needs more with every day."""
    days = scene.occasion.days
    at = np.flatnonzero(days > 0)
    return Entries.of(at, scene.item[at], days[at])


def thickening(scene: Scene) -> Entries:
    """Measure the time since the last addition, natural log, for each base: what thickens holds more back."""
    later = scene.occasion.log_minutes
    at = np.flatnonzero(~np.isnan(later) & (later != 0))
    return Entries.of(at, scene.base[at], later[at])


def temperature(scene: Scene) -> Entries:
    """Measure the temperature, 10 °C."""
    return _measured(scene.occasion.temperature_c / 10.0)


def full_glass(scene: Scene) -> Entries:
    """Give cups one of which a full glass was drunk, not a sip."""
    return Entries.of(np.flatnonzero(scene.occasion.full_glass), 0)


def _known(key: Ints) -> Entries:
    at = np.flatnonzero(key >= 0)
    return Entries.of(at, key[at])


def _measured(value: Floats) -> Entries:
    at = np.flatnonzero(~np.isnan(value) & (value != 0))
    return Entries.of(at, 0, value[at])


# --- versions ---------------------------------------------------------------------------------------------------------


def _lineage(row: Ints, item: Ints, parent: Ints) -> tuple[Ints, Ints, Floats]:
    """Rows, items and variance scales of items and all that they are versions of."""
    if (parent < 0).all():
        return row, item, np.broadcast_to(1.0, item.shape)
    rows, items, scales = [], [], []
    while len(item):
        up = parent[item]
        rows.append(row)
        items.append(item)
        scales.append(np.where(up >= 0, CHILD_SCALE, 1.0))
        row, item = row[up >= 0], up[up >= 0]
    if not rows:
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0)
    return np.concatenate(rows), np.concatenate(items), np.concatenate(scales)


def _cross(row: Ints, one: Ints, one_parent: Ints, two: Ints, two_parent: Ints, ordered: bool = True) -> Entries:
    """Cells of two kinds of items, with the cells of what either is a version of."""
    if (one_parent < 0).all() and (two_parent < 0).all():
        if not ordered:
            one, two = np.minimum(one, two), np.maximum(one, two)
        return Entries.of(row, one * len(two_parent) + two)
    at, ones, one_scale = _lineage(np.arange(len(row)), one, one_parent)
    again, twos, two_scale = _lineage(np.arange(len(at)), two[at], two_parent)
    at, ones, scale = at[again], ones[again], one_scale[again] * two_scale
    if not ordered:
        ones, twos = np.minimum(ones, twos), np.maximum(ones, twos)
    return Entries.of(row[at], ones * len(two_parent) + twos, 1.0, scale)
