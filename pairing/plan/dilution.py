"""A 1:10 pre-dilution of a flavouring that is too strong to measure out: a flavouring of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring

__all__ = ["predilute"]

_SHARED = ("fat", "protein", "carbohydrate", "sugars", "polyols", "fibre", "acids", "ethanol")


def predilute(flavouring: Flavouring, diluent: Base | None = None, parts: int = 10) -> Flavouring:
    """Derive the flavouring that 1 part of this one in ``parts`` parts of mixture is, by mass.

    Parameters
    ----------
    flavouring : Flavouring
    diluent : Base or None
        What it is stirred into; None is water (not for oils, which do not dissolve in it).
    parts : int
        Parts of the mixture that hold one part of the flavouring.

    Returns
    -------
    Flavouring
        Id ``…-1in10`` with the diluent's id behind it, ``version_of`` the first; amounts per g are mixed by mass,
        unknown where a part is unknown; doses are ``parts`` times as high; allergens are those of both. It keeps no
        longer than its diluent does.

    Examples
    --------
    >>> thin = predilute(Flavouring(flavouring_id="clove", name="Clove", label_dose_g_per_kg=0.2, energy_kcal_per_g=5))
    >>> thin.flavouring_id, thin.label_dose_g_per_kg, thin.energy_kcal_per_g
    ('clove-1in10', 2.0, 0.5)
    """
    share = 1.0 / parts
    facts: dict[str, Any] = {f"{part}_g_per_g": _mixed(flavouring, diluent, f"{part}_g", share) for part in _SHARED}
    facts["energy_kcal_per_g"] = _mixed(flavouring, diluent, "energy_kcal", share)
    facts["sodium_mg_per_g"] = _mixed(flavouring, diluent, "sodium_mg", share)
    facts["caffeine_mg_per_g"] = _mixed(flavouring, diluent, "caffeine_mg", share)
    kept = {f.name: getattr(flavouring, f.name) for f in fields(flavouring)}
    kept |= facts | {
        "flavouring_id": f"{flavouring.flavouring_id}-1in{parts}" + (f"-{diluent.base_id}" if diluent else ""),
        "name": f"{flavouring.name}, 1 in {parts}" + (f" of {diluent.name}" if diluent else ""),
        "version_of": flavouring.flavouring_id,
        "label_dose": None,
        "label_dose_g_per_kg": _times(_label_g_per_kg(flavouring), parts, 999.0),
        "max_dose_g_per_kg": _times(flavouring.max_dose_g_per_kg, parts, 999.0),
        "carrier": _carrier(flavouring, share),
        "sweeteners": _sweeteners(flavouring, diluent, share),
        "allergens": _joined(flavouring, diluent),
        "cost_per_g": _cost(flavouring, diluent, share),
        "density_g_per_ml": None,
        "drop_mg": None,
        "stock_g": None,
        "source": f"1 part of {flavouring.flavouring_id} in {parts} parts by mass",
    }
    return Flavouring(**kept)


def _mixed(flavouring: Flavouring, diluent: Base | None, name: str, share: float) -> float | None:
    own = getattr(flavouring, f"{name}_per_g")
    rest = 0.0 if diluent is None else getattr(diluent, f"{name}_per_100g")
    return None if own is None or rest is None else share * own + (1 - share) * rest / 100.0


def _label_g_per_kg(flavouring: Flavouring) -> float | None:
    if flavouring.label_dose_g_per_kg is not None or flavouring.label_dose is None:
        return flavouring.label_dose_g_per_kg
    from pairing.units import label_dose

    direction = label_dose(flavouring)
    return None if direction is None else direction.mid


def _times(value: float | None, factor: float, cap: float) -> float | None:
    return None if value is None else min(cap, value * factor)


def _sweeteners(flavouring: Flavouring, diluent: Base | None, share: float) -> Mapping[str, float | None] | None:
    own = flavouring.sweeteners
    theirs: Any = {} if diluent is None else diluent.sweeteners
    if not isinstance(own, Mapping) or not isinstance(theirs, Mapping):
        return None
    mixed: dict[str, float | None] = {n: None if a is None else a * share for n, a in own.items()}
    for name, per_100g in theirs.items():
        before = mixed.get(name, 0.0)
        mixed[name] = None if before is None or per_100g is None else before + (1 - share) * per_100g / 100.0
    return mixed


def _carrier(flavouring: Flavouring, share: float) -> Mapping[str, float | None] | str | None:
    """Return the carrier at its share: what it is matters in small amounts too."""
    own = flavouring.carrier
    return {n: None if a is None else a * share for n, a in own.items()} if isinstance(own, Mapping) else own


def _joined(flavouring: Flavouring, diluent: Base | None) -> frozenset[str] | None:
    own, theirs = flavouring.allergens, frozenset() if diluent is None else diluent.allergens
    return own | theirs if isinstance(own, frozenset) and isinstance(theirs, frozenset) else None


def _cost(flavouring: Flavouring, diluent: Base | None, share: float) -> float | None:
    rest = 0.0 if diluent is None else diluent.cost_per_kg
    if flavouring.cost_per_g is None or rest is None:
        return None
    return share * flavouring.cost_per_g + (1 - share) * rest / 1000.0
