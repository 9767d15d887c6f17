"""What the labels of flavourings come to in each base, and how their words were understood."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from pairing.model.shelf import Shelf
from pairing.quantities.directions import Direction, label_doses

__all__ = ["Label", "labels"]


@dataclass(frozen=True)
class Label:
    """One flavouring's label direction, and the bases in which it comes to the same dose."""

    flavouring_id: str
    base_ids: tuple[str, ...]
    direction: Direction


def labels(shelf: Shelf, base_ids: Iterable[str], flavouring_ids: Iterable[str]) -> Iterator[Label]:
    """Yield the labels of some flavourings in some bases, each dose once; those without a label are left out.

    Examples
    --------
    >>> from pairing.model.base import Base
    >>> from pairing.model.flavouring import Flavouring
    >>> shelf = Shelf.of(
    ...     [Base(base_id="oat", name="Oat", density_g_per_ml=1.05), Base(base_id="tea", name="Tea")],
    ...     [Flavouring(flavouring_id="plum", name="Plum", label_dose="150 g/kg")],
    ... )
    >>> for one in labels(shelf, shelf.bases, ["plum"]):
    ...     print(one.base_ids, one.direction)
    ('oat', 'tea') 150 g per kg of base = 130.43 g/kg finished
    """
    bases = {name: shelf.base(name) for name in base_ids}
    for flavouring_id in flavouring_ids:
        found: dict[Direction, list[str]] = {}
        for base_id, one in zip(bases, label_doses(shelf.flavouring(flavouring_id), bases.values()), strict=True):
            if one is not None:
                found.setdefault(one, []).append(base_id)
        yield from (Label(flavouring_id, tuple(where), one) for one, where in found.items())
