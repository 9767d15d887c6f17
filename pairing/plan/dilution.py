"""A 1:10 pre-dilution of a flavouring that is too strong to measure out: a flavouring of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.composition import allergens_of, compose
from pairing.nutrition.dilutions import Dilution, dilution_id
from pairing.nutrition.energy import base_energy, energy_per_g, ethanol_g_per_g
from pairing.nutrition.factors import carrier_named
from pairing.nutrition.parts import WATER, carriers_of
from pairing.quantities.constants import MAX_DOSE_G_PER_KG
from pairing.quantities.directions import label_dose

__all__ = ["predilute"]

_COLUMNS = (
    *(f"{part}_g" for part in ("fat", "protein", "carbohydrate", "sugars", "polyols", "fibre", "acids")),
    *("sodium_mg", "caffeine_mg"),
)


def predilute(flavouring: Flavouring, diluent: Base | None, parts: int, shelf: Shelf) -> Flavouring:
    """Derive the flavouring that 1 part of this one in ``parts`` parts of mixture is, by mass.

    Parameters
    ----------
    flavouring : Flavouring
    diluent : Base or None
        What it is stirred into; None is water (not for oils, which do not dissolve in it).
    parts : int
        Parts of the mixture that hold one part of the flavouring.
    shelf : Shelf
        Where the parts of the diluent stand, and whose energy factors count.

    Returns
    -------
    Flavouring
        Id ``…-1in10`` with the diluent's id behind it, ``version_of`` the first; amounts per g are mixed by mass,
        unknown where a part is unknown; doses are ``parts`` times as high; allergens are those of both. Its form is
        ``dilution``: it is weighed until its drops were. The diluent stands among the carriers as water, which is
        what its drops weigh like; what else it holds is in the columns. It keeps no longer than its diluent does.

    Examples
    --------
    >>> clove = Flavouring(flavouring_id="clove", name="Clove", label_dose_g_per_kg=0.2, energy_kcal_per_g=5)
    >>> thin = predilute(clove, None, 10, Shelf.of([], [clove]))
    >>> thin.flavouring_id, thin.label_dose_g_per_kg, thin.energy_kcal_per_g
    ('clove-1in10', 2.0, 0.5)
    """
    share = 1.0 / parts
    rest = WATER if diluent is None else compose(diluent, shelf)

    def mixed(own: float | None, per_100g: float | None) -> float | None:
        return None if own is None or per_100g is None else share * own + (1 - share) * per_100g / 100.0

    facts = {f"{n}_per_g": mixed(getattr(flavouring, f"{n}_per_g"), getattr(rest, f"{n}_per_100g")) for n in _COLUMNS}
    energy = energy_per_g(flavouring, shelf.jurisdiction)
    per_100g = base_energy(rest, shelf.jurisdiction)
    ethanol = mixed(ethanol_g_per_g(flavouring), rest.ethanol_g_per_100g)
    source = f"1 part of {flavouring.flavouring_id} in {parts} parts by mass"
    if energy.known and energy.low < energy.high and per_100g is not None:
        source += f"; energy {mixed(energy.low, per_100g):.3g} to {mixed(energy.high, per_100g):.3g} kcal/g"
    kept: dict[str, Any] = {f.name: getattr(flavouring, f.name) for f in fields(flavouring)}
    kept |= facts | {
        "flavouring_id": dilution_id(
            Dilution(flavouring.flavouring_id, parts, None if diluent is None else diluent.base_id)
        ),
        "name": f"{flavouring.name}, 1 in {parts}" + (f" of {diluent.name}" if diluent else ""),
        "version_of": flavouring.flavouring_id,
        "form": "dilution",
        "label_dose": None,
        "label_dose_g_per_kg": _times(_label_g_per_kg(flavouring), parts, MAX_DOSE_G_PER_KG),
        "max_dose_g_per_kg": _times(flavouring.max_dose_g_per_kg, parts, MAX_DOSE_G_PER_KG),
        "carrier": _carrier(flavouring, share, carriers_of(rest, shelf), ethanol is not None),
        "energy_kcal_per_g": mixed(energy.value, per_100g),
        "ethanol_g_per_g": ethanol,
        "sweeteners": _sweeteners(flavouring, rest, share),
        "allergens": _allergens(flavouring, rest, shelf),
        "cost_per_g": mixed(flavouring.cost_per_g, None if rest.cost_per_kg is None else rest.cost_per_kg / 10.0),
        "density_g_per_ml": None,
        "drop_mg": None,
        "stock_g": None,
        "source": source,
    }
    return Flavouring(**kept)


def _label_g_per_kg(flavouring: Flavouring) -> float | None:
    if flavouring.label_dose_g_per_kg is not None or flavouring.label_dose is None:
        return flavouring.label_dose_g_per_kg
    direction = label_dose(flavouring)
    return None if direction is None else direction.mid


def _times(value: float | None, factor: float, cap: float) -> float | None:
    return None if value is None else min(cap, value * factor)


def _sweeteners(flavouring: Flavouring, rest: Base, share: float) -> Mapping[str, float | None] | None:
    own, theirs = flavouring.sweeteners, rest.sweeteners
    if own is None or theirs is None:
        return None
    mixed: dict[str, float | None] = {n: None if a is None else a * share for n, a in own.items()}
    for name, per_100g in theirs.items():
        before = mixed.get(name, 0.0)
        mixed[name] = None if before is None or per_100g is None else before + (1 - share) * per_100g / 100.0
    return mixed


def _carrier(
    flavouring: Flavouring, share: float, theirs: Mapping[str, float | None], ethanol_known: bool
) -> Mapping[str, float | None] | None:
    """Return the carriers of both at their shares, unknown where the flavouring's is; the rest is watery.

    Where the ethanol of the whole is unknown, that of the carrier says nothing about it: it loses its amount.
    """
    own = flavouring.carrier
    if own is None:
        return None
    mixed = {n: None if g is None else g * share for n, g in own.items()}
    for name, g in theirs.items():
        before = mixed.get(name, 0.0)
        mixed[name] = None if before is None or g is None else before + (1 - share) * g
    for name in mixed:
        if not ethanol_known and (found := carrier_named(name)) is not None and found.name == "ethanol":
            mixed[name] = None
    watery = (1 - share) * max(0.0, 1.0 - sum(g or 0.0 for g in theirs.values()))
    return mixed | {"water": (mixed.get("water") or 0.0) + watery}


def _allergens(flavouring: Flavouring, rest: Base, shelf: Shelf) -> frozenset[str] | None:
    found = [allergens_of(item, shelf) for item in (flavouring, rest)]
    return None if any(unknown for _, unknown in found) else found[0][0] | found[1][0]
