"""Many recipes as arrays over a shelf: what learning, planning and the rules of plugins pass to one another."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from pairing.errors import TableError
from pairing.model.arrays import Bools, Floats, Ints
from pairing.model.recipe import Recipe
from pairing.model.served import Served
from pairing.model.shelf import Shelf

__all__ = ["Recipes"]


@dataclass(frozen=True, eq=False)
class Recipes:
    """Recipes as arrays over a shelf, which they do not hold.

    Attributes
    ----------
    base : int array, shape (n,)
        Place of the base on the shelf.
    flavouring : int array, shape (n, k)
        Places of the flavourings, -1 for an empty slot.
    dose_g_per_kg : array, shape (n, k)
        NaN where the dose is open or the slot empty.
    served : Served or None
        How they are served, where anything is known of it.
    lot : int array, shape (n, k), or None
        Which lot of its flavouring was poured, as a log numbers them, -1 where that is not known; None: those in use.

    Examples
    --------
    >>> from pairing.model.base import Base
    >>> from pairing.model.flavouring import Flavouring
    >>> plum, clove = (Flavouring(flavouring_id=name, name=name) for name in ("plum", "clove"))
    >>> shelf = Shelf.of([Base(base_id="oat", name="Oat drink")], [plum, clove])
    >>> some = Recipes.of(shelf, [Recipe("oat", {"plum": 1.2}), Recipe("oat", {"clove": 0.1, "plum": None})])
    >>> some.flavouring.tolist(), some.dose_g_per_kg.tolist()
    ([[0, -1], [1, 0]], [[1.2, nan], [0.1, nan]])
    """

    base: Ints
    flavouring: Ints
    dose_g_per_kg: Floats
    served: Served | None = None
    lot: Ints | None = None

    def __post_init__(self) -> None:
        if self.flavouring.ndim != 2 or self.base.shape != self.flavouring.shape[:1]:
            raise TableError(
                f"bases have shape {self.base.shape}, flavourings {self.flavouring.shape}", "give (n,) and (n, k)"
            )
        if self.dose_g_per_kg.shape != self.flavouring.shape:
            raise TableError(
                f"doses have shape {self.dose_g_per_kg.shape}, flavourings {self.flavouring.shape}",
                "give one dose per slot",
            )

    @classmethod
    def at(cls, base: Any, flavouring: Any, dose_g_per_kg: Any = None) -> Recipes:
        """Make recipes from places on a shelf; without doses all are open.

        Raises
        ------
        TableError
            When the shapes disagree.
        """
        slots = np.asarray(flavouring, np.int64)
        dose = np.full(slots.shape, np.nan) if dose_g_per_kg is None else np.asarray(dose_g_per_kg, np.float64)
        return cls(np.asarray(base, np.int64), slots, dose)

    @classmethod
    def from_ids(
        cls,
        shelf: Shelf,
        base_ids: Sequence[str],
        flavouring_ids: Sequence[Sequence[str]],
        doses: Sequence[Sequence[float | None] | None] | None = None,
    ) -> Recipes:
        """Make recipes from ids; doses are in g/kg in the order of the ids, None or NaN leaves one open.

        Raises
        ------
        UnknownIdError
            When the shelf lacks a base or flavouring.
        TableError
            When there is not one list of flavourings per base and one dose per flavouring, or a dose is not above 0.
        """
        if len(base_ids) != len(flavouring_ids):
            raise TableError(
                f"{len(base_ids)} base ids and {len(flavouring_ids)} lists of flavourings", "give one list per base id"
            )
        base, flat = _places(shelf, base_ids, flavouring_ids)
        counts = np.fromiter(map(len, flavouring_ids), np.int64, len(flavouring_ids))
        filled = np.arange(counts.max(initial=0)) < counts[:, None]
        slots, dose = np.full(filled.shape, -1, np.int64), np.full(filled.shape, np.nan)
        slots[filled] = flat
        if doses is not None:
            dose[filled] = list(_doses(doses, counts.tolist()))
            if (dose <= 0).any():
                raise TableError("a dose is not above 0 g/kg", "leave the flavouring out, or its dose open")
        return cls(base, slots, dose)

    @classmethod
    def of(cls, shelf: Shelf, recipes: Iterable[Recipe] | Recipe) -> Recipes:
        """Turn recipes, or one, into arrays; a flavouring at 0 g/kg is not in it.

        Raises
        ------
        TableError
            When one is no recipe.
        UnknownIdError
            When the shelf lacks a base or flavouring.
        """
        several = [recipes] if isinstance(recipes, Recipe) or not isinstance(recipes, Iterable) else list(recipes)
        if odd := [r for r in several if not isinstance(r, Recipe)]:
            hint = "give a list of Recipe(base_id, {flavouring_id: g/kg or None})"
            raise TableError(f"{odd[0]!r} is no recipe", hint)
        inside = [{name: dose for name, dose in r.doses.items() if dose is None or dose > 0} for r in several]
        bases, doses = [r.base_id for r in several], [tuple(one.values()) for one in inside]
        return cls.from_ids(shelf, bases, [tuple(one) for one in inside], doses)

    @classmethod
    def stack(cls, parts: Sequence[Recipes]) -> Recipes:
        """Put recipes below one another, padding to the widest."""
        width = max((p.flavouring.shape[1] for p in parts), default=0)

        def pad(array: Any, fill: float) -> Any:
            return np.pad(array, ((0, 0), (0, width - array.shape[1])), constant_values=fill)

        return cls(
            np.concatenate([p.base for p in parts]),
            np.concatenate([pad(p.flavouring, -1) for p in parts]),
            np.concatenate([pad(p.dose_g_per_kg, np.nan) for p in parts]),
            Served.stack([(len(p), p.served) for p in parts]),
            None if all(p.lot is None for p in parts) else np.concatenate([pad(p.told_lot, -1) for p in parts]),
        )

    def __len__(self) -> int:
        return len(self.base)

    def take(self, rows: Any) -> Recipes:
        """Return some of the recipes."""
        served = None if self.served is None else self.served.take(rows)
        lot = None if self.lot is None else self.lot[rows]
        return Recipes(self.base[rows], self.flavouring[rows], self.dose_g_per_kg[rows], served, lot)

    @property
    def told_lot(self) -> Ints:
        """The lots, shape (n, k), -1 where none is told."""
        return np.full(self.flavouring.shape, -1, np.int64) if self.lot is None else self.lot

    def at_doses(self, dose_g_per_kg: Floats) -> Recipes:
        """Return the same recipes at other doses."""
        return replace(self, dose_g_per_kg=dose_g_per_kg)

    def at_temperature(self, temperature_c: float | None) -> Recipes:
        """Return the same recipes served at a temperature; None: nothing is known of it."""
        served = None if temperature_c is None else Served.known(len(self), temperature_c=temperature_c)
        return replace(self, served=served)

    def open(self) -> Recipes:
        """Return the same recipes with every dose left to the model."""
        return self.at_doses(np.full(self.flavouring.shape, np.nan))

    @cached_property
    def log_dose(self) -> Floats:
        """Natural log of g/kg, shape (n, k); NaN where the dose is open or the slot empty."""
        return np.asarray(np.log(self.dose_g_per_kg))

    @property
    def present(self) -> Bools:
        """Which slots hold a flavouring, shape (n, k)."""
        return self.flavouring >= 0

    @property
    def count(self) -> Ints:
        """Number of flavourings, shape (n,)."""
        return np.asarray(self.present.sum(axis=1), dtype=np.int64)


def _places(shelf: Shelf, base_ids: Sequence[str], flavouring_ids: Sequence[Sequence[str]]) -> tuple[Ints, list[int]]:
    try:
        base = [shelf.base_places[base_id] for base_id in base_ids]
        flat = [shelf.flavouring_places[name] for row in flavouring_ids for name in row]
    except KeyError:
        base = [shelf.base_places[shelf.base(base_id).base_id] for base_id in base_ids]
        flat = [shelf.flavouring_places[shelf.flavouring(name).flavouring_id] for row in flavouring_ids for name in row]
    return np.array(base, np.int64), flat


def _doses(doses: Sequence[Sequence[float | None] | None], counts: list[int]) -> Iterator[float]:
    """Give the doses one after the other, NaN where one is open."""
    if len(doses) != len(counts):
        raise TableError(f"{len(doses)} lists of doses for {len(counts)} recipes", "give one list per recipe, or None")
    for row, n in zip(doses, counts, strict=True):
        if row is not None and len(row) != n:
            raise TableError("doses and flavouring ids differ in number", "give one dose, or None, per flavouring")
        yield from [np.nan] * n if row is None else (np.nan if dose is None else float(dose) for dose in row)
