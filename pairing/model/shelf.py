"""The shelf: every base, flavouring and taster that is known, by id."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pairing.errors import TableError
from pairing.model.base import Base
from pairing.model.called import meant
from pairing.model.columns import BASES, FLAVOURINGS, TASTERS, TableSchema
from pairing.model.fields import amounts, is_missing
from pairing.model.flavouring import Flavouring
from pairing.model.measures import USUAL, Measures
from pairing.model.recipe import Recipe
from pairing.model.taster import Taster

if TYPE_CHECKING:
    import pandas as pd

    from pairing.model.portions import Portion

    Table = Mapping[str, Any] | pd.DataFrame

__all__ = ["Shelf", "lineage"]


@dataclass(frozen=True)
class Shelf:
    """Bases, flavourings and tasters by id, in the order in which they were given; and whose food law counts.

    ``held_g`` is what is left of the items that have lots, g; None where that is unknown. ``measures`` is how this
    bench likes its amounts. ``past`` tells of items whose lot in use is past its day which (``use_by``,
    ``best_before``, or ``made_at`` where no other is stated) and when; ``lot_in_use`` which lot the next cup takes
    of; by item and lot, ``opened`` tells when a lot was opened, and ``lot_drop_mg`` what a drop from it weighs where
    it was weighed.
    """

    bases: Mapping[str, Base]
    flavourings: Mapping[str, Flavouring]
    tasters: Mapping[str, Taster] = field(default_factory=lambda: MappingProxyType({}))
    jurisdiction: str = "EU"
    held_g: Mapping[str, float | None] = field(default_factory=lambda: MappingProxyType({}))
    measures: Measures = USUAL
    past: Mapping[str, tuple[str, str]] = field(default_factory=lambda: MappingProxyType({}))
    lot_in_use: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    opened: Mapping[tuple[str, str], str] = field(default_factory=lambda: MappingProxyType({}))
    lot_drop_mg: Mapping[tuple[str, str], float] = field(default_factory=lambda: MappingProxyType({}))

    @classmethod
    def of(
        cls,
        bases: Iterable[Base],
        flavourings: Iterable[Flavouring],
        tasters: Iterable[Taster] = (),
        jurisdiction: str = "EU",
        held_g: Mapping[str, float | None] | None = None,
        measures: Measures = USUAL,
        past: Mapping[str, tuple[str, str]] | None = None,
        lot_in_use: Mapping[str, str] | None = None,
        opened: Mapping[tuple[str, str], str] | None = None,
        lot_drop_mg: Mapping[tuple[str, str], float] | None = None,
    ) -> Shelf:
        """Make a shelf from objects."""
        return cls(
            MappingProxyType({b.base_id: b for b in bases}),
            MappingProxyType({f.flavouring_id: f for f in flavourings}),
            MappingProxyType({t.taster: t for t in tasters}),
            jurisdiction,
            MappingProxyType(dict(held_g or {})),
            measures,
            MappingProxyType(dict(past or {})),
            MappingProxyType(dict(lot_in_use or {})),
            MappingProxyType(dict(opened or {})),
            MappingProxyType(dict(lot_drop_mg or {})),
        )

    def __reduce__(self) -> tuple[Any, ...]:
        groups = (self.bases, self.flavourings, self.tasters)
        return Shelf.of, (
            *(tuple(group.values()) for group in groups),
            self.jurisdiction,
            dict(self.held_g),
            self.measures,
            dict(self.past),
            dict(self.lot_in_use),
            dict(self.opened),
            dict(self.lot_drop_mg),
        )

    @classmethod
    def from_tables(cls, bases: Table, flavourings: Table, tasters: Table | None = None) -> Shelf:
        """Make a shelf from tables, or arrays by column, as they are kept; columns of no table are left aside."""
        return cls.of(
            _objects(bases, Base, BASES),
            _objects(flavourings, Flavouring, FLAVOURINGS),
            () if tasters is None else _objects(tasters, Taster, TASTERS),
        )

    @cached_property
    def base_places(self) -> Mapping[str, int]:
        """Place of every base on the shelf, by id."""
        return {name: place for place, name in enumerate(self.bases)}

    @cached_property
    def flavouring_places(self) -> Mapping[str, int]:
        """Place of every flavouring on the shelf, by id."""
        return {name: place for place, name in enumerate(self.flavourings)}

    @cached_property
    def names(self) -> Mapping[str, str]:
        """What bases and flavourings are called, by id."""
        return {name: item.name for items in (self.flavourings, self.bases) for name, item in items.items()}

    def base(self, base_id: str) -> Base:
        """Return one base, also by its name or in other capitals; or raise with the choices, or the nearest ids."""
        return self.bases[base_id if base_id in self.bases else _meant(base_id, self.bases, "base")]

    def flavouring(self, flavouring_id: str, lot: str | None = None) -> Flavouring:
        """Return one flavouring, as it drops from one of its lots, also by its name; or raise as `base` does."""
        known = self.flavourings
        found = known[flavouring_id if flavouring_id in known else _meant(flavouring_id, known, "flavouring")]
        own = None if lot is None else self.lot_drop_mg.get((found.flavouring_id, lot))
        return found if own is None or own == found.drop_mg else replace(found, drop_mg=own)

    def portion(self, flavouring_id: str, wanted_g: float, scale_g: float) -> Portion:
        """Return so many g of a flavouring as a hand measures them out on a scale of ``scale_g``."""
        from pairing.model.portions import Portions

        return Portions.of(self.flavouring(flavouring_id), scale_g, measures=self.measures).nearest(wanted_g)

    def item_id(self, text: str) -> str:
        """Return the id of the base or flavouring that is meant; a base goes first where both have the id."""
        return text if text in self.names else meant(text, self.names, "base or flavouring")

    def recipe(self, recipe: Recipe) -> Recipe:
        """Return a recipe with ids where it has names.

        Raises
        ------
        UnknownIdError
            When it names what is not here, or may be several.
        TableError
            When it names one flavouring twice.
        """
        doses = {self.flavouring(name).flavouring_id: dose for name, dose in recipe.doses.items()}
        if len(doses) < len(recipe.doses):
            raise TableError(f"{', '.join(recipe.doses)} name one flavouring twice", "give it one dose")
        return Recipe(self.base(recipe.base_id).base_id, doses)


def _meant(text: str, items: Mapping[str, Base] | Mapping[str, Flavouring], what: str) -> str:
    return meant(text, {item_id: item.name for item_id, item in items.items()}, what)


def lineage(item_id: str, items: Mapping[str, Base] | Mapping[str, Flavouring]) -> tuple[str, ...]:
    """Return an id and those of which it is a version or a dilution, as far as they are on the shelf.

    Examples
    --------
    >>> drops = [Flavouring(flavouring_id="lime", name="Lime")]
    >>> drops.append(Flavouring(flavouring_id="lime-1in10", name="Lime 1 in 10", version_of="lime"))
    >>> lineage("lime-1in10", Shelf.of([], drops).flavourings)
    ('lime-1in10', 'lime')
    """
    found = [item_id]
    while (parent := items[found[-1]].version_of) in items and parent is not None and parent not in found:
        found.append(parent)
    return tuple(found)


def _objects(table: Table, kind: type[Any], spec: TableSchema) -> list[Any]:
    """Make objects of rows that are kept: what is refused in new amounts only is no reason to stop at kept ones."""
    cells = {f.name: table[f.name].tolist() for f in fields(kind) if f.name in table}
    given = {name: column for name, column in cells.items() if not all(map(is_missing, column))}
    for name in given.keys() & {c.name for c in spec.columns if c.kind == "amounts"}:
        given[name] = [amounts(cell, name, kept=True) for cell in given[name]]
    return [kind(**dict(zip(given, row, strict=True))) for row in zip(*given.values(), strict=True)]
