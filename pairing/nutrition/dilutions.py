"""Which flavouring is a pre-dilution of which, and in what: its id says so, also once it is kept."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf

__all__ = ["Dilution", "dilution_id", "dilution_of", "held_by"]


class Dilution(NamedTuple):
    """One part of a flavouring in so many parts of mixture, by mass; without a diluent it is water."""

    flavouring_id: str
    parts: int
    diluent_id: str | None

    @property
    def share(self) -> float:
        """Mass of the flavouring in 1 g of the mixture, g."""
        return 1.0 / self.parts


def dilution_id(of: Dilution) -> str:
    """Return the id of a pre-dilution.

    Examples
    --------
    >>> dilution_id(Dilution("clove", 10, "oat")), dilution_id(Dilution("clove", 10, None))
    ('clove-1in10-oat', 'clove-1in10')
    """
    return f"{of.flavouring_id}-1in{of.parts}" + (f"-{of.diluent_id}" if of.diluent_id else "")


def dilution_of(flavouring: Flavouring) -> Dilution | None:
    """Return what a flavouring is a pre-dilution of, by its ``version_of`` and its id; None when it is none.

    Examples
    --------
    >>> dilution_of(Flavouring(flavouring_id="clove-1in10-oat", name="Thin clove", version_of="clove"))
    Dilution(flavouring_id='clove', parts=10, diluent_id='oat')
    >>> dilution_of(Flavouring(flavouring_id="clove-2", name="New clove", version_of="clove")) is None
    True
    """
    parent, own = flavouring.version_of, flavouring.flavouring_id
    if not parent or not own.startswith(f"{parent}-1in"):
        return None
    found = re.fullmatch(r"([1-9]\d*)(?:-(.+))?", own.removeprefix(f"{parent}-1in"))
    return None if found is None else Dilution(parent, int(found[1]), found[2])


def held_by(ids: Iterable[str], flavouring_id: str, shelf: Shelf) -> dict[str, float]:
    """Return g of a flavouring that 1 g of each stands for: itself, its pre-dilutions, and what it is thinned from.

    What has nothing to do with it is left out. 1 g of the neat flavouring stands for 10 g of its 1:10 pre-dilution.

    Examples
    --------
    >>> clove, mint = (Flavouring(flavouring_id=n, name=n) for n in ("clove", "mint"))
    >>> thin = Flavouring(flavouring_id="clove-1in10", name="Thin clove", version_of="clove")
    >>> shelf = Shelf.of([], [clove, thin, mint])
    >>> held_by(["clove", "clove-1in10", "mint"], "clove", shelf), held_by(["clove"], "clove-1in10", shelf)
    ({'clove': 1.0, 'clove-1in10': 0.1}, {'clove': 10.0})
    """
    neat, own = _neat(flavouring_id, shelf)
    found = {name: _neat(name, shelf) for name in ids}
    return {name: held / own for name, (of, held) in found.items() if of == neat}


def _neat(flavouring_id: str, shelf: Shelf) -> tuple[str, float]:
    """Return what a flavouring is thinned from in the end, and g of that in 1 g."""
    held, seen = 1.0, {flavouring_id}
    while (item := shelf.flavourings.get(flavouring_id)) and (thin := dilution_of(item)):
        flavouring_id, held = thin.flavouring_id, held / thin.parts
        if flavouring_id in seen:
            break
        seen.add(flavouring_id)
    return flavouring_id, held
