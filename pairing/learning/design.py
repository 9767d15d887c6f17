"""What the shelf says of bases and flavourings, what is in recipes, and whose liking or strength is asked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pairing.model.arrays import Floats, Ints
from pairing.model.recipes import Recipes
from pairing.quantities.directions import label_doses
from pairing.quantities.expected import expected_dose_g_per_kg

if TYPE_CHECKING:
    from pairing.model.shelf import Shelf

__all__ = ["Additions", "Traits", "Who", "additions_of", "pairs_of"]


MAX_AVERAGED = 25
"""With more tasters than this, the mean of their own parts is taken as 0, which it is by then."""
BASE_TRAITS = (
    "fat_g_per_100g",
    "protein_g_per_100g",
    "sugars_g_per_100g",
    "sodium_mg_per_100g",
    "ph",
    "viscosity_mpa_s",
)


@dataclass(frozen=True)
class Traits:
    """What the shelf says of bases and flavourings, as arrays.

    Attributes
    ----------
    base_parent, flavouring_parent : int array
        Place of the item that this is a version of, -1 for none.
    family : int array
        Place in ``families``, -1 if unknown.
    base_traits : array, shape (n_bases, n_traits)
        Standardised composition; unknown is 0, the average.
    fat, fat_loving : array
        Standardised fat of each base; fat-loving of each flavouring less ½; unknown is 0.
    log_label : array
        Natural log of the label dose in g/kg, shape (bases, flavourings); NaN if there is none.
    log_expected : array
        Natural log of the dose in g/kg that form and carrier make one expect of each flavouring.
    lot_in_use : int array
        The lot that the next cup takes of each flavouring, as a log numbers them; -1 where none is known.
    """

    n_bases: int
    n_flavourings: int
    base_parent: Ints
    flavouring_parent: Ints
    family: Ints
    families: tuple[str, ...]
    base_traits: Floats
    fat: Floats
    fat_loving: Floats
    log_label: Floats
    log_expected: Floats
    lot_in_use: Ints

    @classmethod
    def of(cls, shelf: Shelf, lots: Sequence[tuple[str, str | None]] = ()) -> Traits:
        """Read the traits of a shelf; ``lots`` are those of the log, and one that it never met has the next numbers."""
        numbers = {lot: number for number, lot in enumerate(lots)}
        in_use = [(f, shelf.lot_in_use[f]) if f in shelf.lot_in_use else None for f in shelf.flavourings]
        bases, flavourings = list(shelf.bases.values()), list(shelf.flavourings.values())
        family, families = _codes([f.family.strip().casefold() if f.family else None for f in flavourings])
        columns = np.column_stack([_standard([getattr(b, name) for b in bases]) for name in BASE_TRAITS])
        labels = [[np.nan if d is None else np.log(d.mid) for d in label_doses(f, bases)] for f in flavourings]
        return cls(
            n_bases=len(bases),
            n_flavourings=len(flavourings),
            base_parent=_parents([b.version_of for b in bases], list(shelf.bases)),
            flavouring_parent=_parents([f.version_of for f in flavourings], list(shelf.flavourings)),
            family=family,
            families=families,
            base_traits=columns[:, np.ptp(columns, axis=0) > 0] if bases else columns,
            fat=_standard([b.fat_g_per_100g for b in bases]),
            fat_loving=np.array([0.0 if f.fat_loving is None else f.fat_loving - 0.5 for f in flavourings]),
            log_label=np.array(labels, dtype=float).reshape(len(flavourings), len(bases)).T,
            log_expected=np.log([expected_dose_g_per_kg(f) for f in flavourings]),
            lot_in_use=np.array(
                [-1 if lot is None else numbers.get(lot, len(lots) + n) for n, lot in enumerate(in_use)], np.int64
            ),
        )


def _standard(values: Iterable[float | None]) -> Floats:
    array = np.array([np.nan if v is None else v for v in values], dtype=float)
    known = array[~np.isnan(array)]
    if len(known) < 2 or known.std() == 0:
        return np.zeros(len(array))
    return np.asarray(np.nan_to_num((array - known.mean()) / known.std()))


def _codes(names: Sequence[str | None]) -> tuple[Ints, tuple[str, ...]]:
    known = sorted({n for n in names if n})
    index = {n: i for i, n in enumerate(known)}
    return np.array([index[n] if n else -1 for n in names], np.int64), tuple(known)


def _parents(version_of: Sequence[str | None], ids: Sequence[str]) -> Ints:
    index = {name: i for i, name in enumerate(ids)}
    parent = np.array([index.get(v, -1) if v else -1 for v in version_of], np.int64)
    for start in range(len(parent)):  # a circle of versions has no first one: cut it
        seen, at = {start}, parent[start]
        while at >= 0:
            if at in seen:
                parent[start] = -1
                break
            seen.add(int(at))
            at = parent[at]
    return parent


@dataclass(frozen=True)
class Additions:
    """One entry per flavouring in a recipe.

    Attributes
    ----------
    row, slot : int array, shape (m,)
        Where it stands in the recipes.
    base, flavouring : int array, shape (m,)
    companions : int array, shape (m,)
        Number of other flavourings in the cup.
    """

    row: Ints
    slot: Ints
    base: Ints
    flavouring: Ints
    companions: Ints

    def __len__(self) -> int:
        return len(self.row)

    def take(self, rows: Any) -> Additions:
        """Return some of them."""
        return Additions(*(a[rows] for a in (self.row, self.slot, self.base, self.flavouring, self.companions)))


def additions_of(recipes: Recipes) -> Additions:
    """List what is in the recipes."""
    row, slot = np.nonzero(recipes.present)
    count = recipes.count
    return Additions(row, slot, recipes.base[row], recipes.flavouring[row, slot], count[row] - 1)


def pairs_of(recipes: Recipes) -> tuple[Ints, Ints, Ints]:
    """Row and the two flavourings of every pair in the recipes."""
    rows, ones, twos = [], [], []
    width = recipes.flavouring.shape[1]
    for i in range(width):
        for j in range(i + 1, width):
            found = np.flatnonzero((recipes.flavouring[:, i] >= 0) & (recipes.flavouring[:, j] >= 0))
            rows.append(found)
            ones.append(recipes.flavouring[found, i])
            twos.append(recipes.flavouring[found, j])
    if not rows:
        empty = np.empty(0, np.int64)
        return empty, empty, empty
    one, two = np.concatenate(ones), np.concatenate(twos)
    return np.concatenate(rows), np.minimum(one, two), np.maximum(one, two)


@dataclass(frozen=True)
class Who:
    """Whose liking or strength is asked, per row.

    Attributes
    ----------
    taster : int array, shape (n,)
        Place of a taster, ``n_tasters`` for one who was never logged (an unseen level), -1 for the mean.
    n_tasters : int
    among : tuple of int or None
        Whose mean; None is all.
    """

    taster: Ints
    n_tasters: int
    among: tuple[int, ...] | None = None

    @classmethod
    def everyone(cls, n: int, n_tasters: int) -> Who:
        """Ask for the mean of all tasters, for n rows."""
        return cls(np.full(n, -1, np.int64), n_tasters)

    @property
    def personal(self) -> bool:
        """Whether a taster's own part can differ from nothing."""
        return self.n_tasters > 1 or bool((self.taster >= self.n_tasters).any())

    def take(self, rows: Any) -> Who:
        """Return it for some rows."""
        return Who(self.taster[rows], self.n_tasters, self.among)

    def shares(self) -> tuple[Ints, Ints, Floats]:
        """Rows, tasters and weights: one taster, or several in equal parts."""
        single = np.flatnonzero(self.taster >= 0)
        mean = np.flatnonzero(self.taster < 0)
        group = np.arange(self.n_tasters) if self.among is None else np.array(self.among, np.int64)
        if not len(mean) or not 0 < len(group) <= MAX_AVERAGED:
            return single, self.taster[single], np.ones(len(single))
        return (
            np.concatenate([single, np.repeat(mean, len(group))]),
            np.concatenate([self.taster[single], np.tile(group, len(mean))]),
            np.concatenate([np.ones(len(single)), np.full(len(mean) * len(group), 1.0 / len(group))]),
        )

    def each(self) -> tuple[Ints, Ints, Floats]:
        """Rows, tasters and weights like `shares`; a mean that is not shared out is there too, as -1."""
        everybody = np.arange(len(self.taster))
        if not self.personal:
            return everybody, self.taster, np.ones(len(everybody))
        row, taster, share = self.shares()
        left = np.setdiff1d(everybody, row)
        rest = np.full(len(left), -1, np.int64), np.ones(len(left))
        return np.append(row, left), np.append(taster, rest[0]), np.append(share, rest[1])
