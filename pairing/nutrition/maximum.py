"""The supplier's maximum dose of a flavouring, shared by its versions and its pre-dilutions in one cup."""

from __future__ import annotations

import math
from collections.abc import Mapping

from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf, lineage
from pairing.nutrition.dilutions import dilution_of
from pairing.quantities.constants import MAX_DOSE_G_PER_KG

__all__ = ["first_version", "maximum_of", "others_shares"]


def maximum_of(flavouring: Flavouring, shelf: Shelf) -> float | None:
    """Return the maximum dose, g/kg: its own, or for a pre-dilution what its flavouring's comes to; None unknown.

    Examples
    --------
    >>> clove = Flavouring(flavouring_id="clove", name="Clove", max_dose_g_per_kg=1)
    >>> thin = Flavouring(flavouring_id="clove-1in10", name="Thin clove", version_of="clove")
    >>> maximum_of(thin, Shelf.of([], [clove, thin]))
    10.0
    """
    own, thin = flavouring.max_dose_g_per_kg, dilution_of(flavouring)
    parent = None if thin is None else shelf.flavourings.get(thin.flavouring_id)
    most = None if parent is None else maximum_of(parent, shelf)
    if thin is None or most is None:
        return own
    derived = thin.parts * most
    return derived if own is None or own >= min(MAX_DOSE_G_PER_KG, derived) else own


def first_version(flavouring_id: str, shelf: Shelf) -> str:
    """Return the id of the flavouring that one is a version or a pre-dilution of, in the end, on the shelf or not."""
    last = lineage(flavouring_id, shelf.flavourings)[-1]
    return shelf.flavourings[last].version_of or last


def others_shares(flavouring_id: str, doses: Mapping[str, float], shelf: Shelf) -> dict[str, float]:
    """Return which share of its maximum dose every other version and pre-dilution of a flavouring takes up in a cup.

    Parameters
    ----------
    flavouring_id : str
    doses : mapping of flavouring_id to float
        g/kg.
    shelf : Shelf

    Examples
    --------
    >>> clove = Flavouring(flavouring_id="clove", name="Clove", max_dose_g_per_kg=1)
    >>> thin = Flavouring(flavouring_id="clove-1in10", name="Thin clove", version_of="clove")
    >>> others_shares("clove", {"clove": 0.5, "clove-1in10": 4.0}, Shelf.of([], [clove, thin]))
    {'clove-1in10': 0.4}
    """
    first, found = first_version(flavouring_id, shelf), {}
    for other, dose in doses.items():
        if other == flavouring_id or dose <= 0 or other not in shelf.flavourings:
            continue
        most = maximum_of(shelf.flavourings[other], shelf)
        if most is not None and first_version(other, shelf) == first:
            found[other] = dose / most if most > 0 else math.inf
    return found
