"""Whether the stated composition of a base can be: the parts within the whole, the energy what the parts give."""

from __future__ import annotations

from dataclasses import replace

from pairing.errors import TableError
from pairing.model.base import Base
from pairing.nutrition.energy import base_energy

__all__ = ["check_possible"]

NEAR_KCAL, NEAR = 3.0, 0.12
"""By how much a stated energy may differ from that of the parts, in kcal/100 g and as a share: labels round (our
choice)."""
_PARTS = ("fat", "protein", "carbohydrate", "fibre", "ethanol")


def check_possible(base: Base) -> None:
    """Refuse a base whose composition contradicts itself; what is unknown contradicts nothing.

    Raises
    ------
    TableError
        Naming the figures.
    """
    stated = {name: getattr(base, f"{name}_g_per_100g") or 0.0 for name in _PARTS}
    if (whole := sum(stated.values())) > 100:
        raise TableError(f"its parts add up to {whole:g} g in 100 g, at most 100 g fit", "check the label")
    sugars, carbohydrate = base.sugars_g_per_100g, base.carbohydrate_g_per_100g
    if sugars is not None and carbohydrate is not None and sugars > carbohydrate + 1e-9:
        told = f"sugars_g_per_100g is {sugars:g}, more than the {carbohydrate:g} of carbohydrate_g_per_100g"
        raise TableError(told, "check the label: sugars are part of the carbohydrate")
    energy, from_parts = base.energy_kcal_per_100g, base_energy(replace(base, energy_kcal_per_100g=None))
    if energy is not None and from_parts is not None and abs(from_parts - energy) > max(NEAR_KCAL, NEAR * from_parts):
        told = f"energy_kcal_per_100g is {energy:g}, its parts give {from_parts:.3g}"
        raise TableError(told, "check the label, or leave the energy out: it is worked out")
