"""Trying out rules over recipes of a shelf: what they take, and what is wrong with them, before anybody asks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pairing.host.fault import Fault
from pairing.host.tables import addition_table_of, recipe_table_of
from pairing.model.recipes import Recipes

if TYPE_CHECKING:
    from pairing.host.host import Host
    from pairing.model.shelf import Shelf

__all__ = ["try_out"]

SLOTS = 3
DOSE_G_PER_KG = 2.0


def try_out(host: Host, shelf: Shelf, n: int = 2000) -> tuple[Fault, ...]:
    """Ask every rule about n recipes drawn from a shelf; the rules' clocks count it.

    Parameters
    ----------
    host : Host
    shelf : Shelf
        With at least one base and one flavouring, or nothing is asked.
    n : int
        Recipes of one to three flavourings at 2 g/kg, always the same ones.

    Returns
    -------
    tuple of Fault
    """
    if not shelf.bases or not shelf.flavourings:
        return ()
    rng = np.random.default_rng(0)
    base = rng.integers(0, len(shelf.bases), n)
    size = min(SLOTS, len(shelf.flavourings))
    slots = rng.permuted(np.tile(np.arange(len(shelf.flavourings)), (n, 1)), axis=1)[:, :size]
    slots[np.arange(size) > rng.integers(0, size, n)[:, None]] = -1
    recipes = Recipes.at(base, slots, np.where(slots >= 0, DOSE_G_PER_KG, np.nan))
    on_dose = [rule for rule in host.asked if rule.acts_on == "dose"]
    others = [rule for rule in host.asked if rule.acts_on != "dose"]
    faults = host.features(on_dose, addition_table_of(shelf, recipes))[1]
    return faults + host.features(others, recipe_table_of(shelf, recipes))[1]
