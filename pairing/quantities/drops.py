"""What a drop weighs: a drop is not a unit, it has a mass per bottle."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.quantities.bottle import Bottle

__all__ = [
    "USUAL_DROP_MG",
    "DropMass",
    "carrier_drop",
    "drop_mass",
    "is_known_form",
    "is_liquid",
]

USUAL_DROP_MG = (8.0, 70.0)
"""A drop outside this range of mg is queried: droppers of 1 to 4 mm give 13 to 69 mg of water (Eschbaum 1895)."""

_BY_CARRIER = (
    (("propylene glycol", "propane-1,2-diol", "pg"), 25.0, 15.0, 42.0, "propylene glycol"),
    (("ethanol", "alcohol", "spirit"), 19.0, 12.0, 36.0, "ethanol"),
    (("glycerol", "glycerin", "vegetable glycerin", "vg"), 45.0, 30.0, 70.0, "glycerol"),
    (("oil", "mct", "triglyceride"), 22.0, 15.0, 50.0, "oil"),
    (("triacetin",), 25.0, 15.0, 42.0, "triacetin"),
    (("water", "syrup", "sugar"), 50.0, 38.0, 66.0, "water"),
)
_UNKNOWN_CARRIER = (35.0, 12.0, 66.0)
_SOLID = (
    "powder",
    "paste",
    "granul",
    "crystal",
    "solid",
    "butter",
    "cube",
    "tablet",
    "leaf",
    "zest",
    "ground",
    "flake",
)
_LIQUID = (
    "drop",
    "liquid",
    "extract",
    "syrup",
    "tincture",
    "oil",
    "essence",
    "concentrate",
    "emulsion",
    "juice",
    "water",
    "dilution",
)
_DROPPED = ("drop", "liquid", "extract", "tincture", "oil", "essence", "concentrate", "emulsion", "bitters")


@dataclass(frozen=True)
class DropMass:
    """Mass of one drop of a flavouring from its bottle.

    Attributes
    ----------
    mg, low, high : float
        Mass in mg with its interval; uncalibrated intervals are wide on purpose.
    calibrated : bool
        Weighed, not assumed.
    comes_in_drops : bool
        Whether counting drops is how it is dosed.
    carrier : str or None
        Whose usual drop it is; None where it was weighed, or the carrier is unknown.
    """

    mg: float
    low: float
    high: float
    calibrated: bool
    comes_in_drops: bool
    carrier: str | None = None

    @property
    def source(self) -> str:
        """How it is known, in words."""
        if self.calibrated:
            return "weighed for this bottle"
        return f"uncalibrated, usual for {self.carrier}" if self.carrier else "uncalibrated, carrier unknown"

    @property
    def queried(self) -> bool:
        """Whether the mass is outside what droppers give."""
        return not USUAL_DROP_MG[0] <= self.mg <= USUAL_DROP_MG[1]


def drop_mass(flavouring: Bottle | None = None) -> DropMass:
    """Return what a drop weighs: the bottle's own ``drop_mg``, else a default by carrier marked uncalibrated.

    References
    ----------
    Defaults: drops at a 3 mm tip by Tate's law with the Harkins–Brown correction (Lando & Oakley 1967), widened to
    the drop tables of Gorgas (*Dental Medicine*) and Buchheister (1893); water: USP <1101>.

    Examples
    --------
    >>> drop_mass().calibrated
    False
    """
    if flavouring is None:
        return DropMass(*_UNKNOWN_CARRIER, False, True)
    dropped = _comes_in_drops(flavouring)
    if flavouring.drop_mg is not None:
        mg = flavouring.drop_mg
        return DropMass(mg, mg * 0.93, mg * 1.07, True, dropped)
    found = _carrier_row(flavouring)
    if found is None:
        return DropMass(*_UNKNOWN_CARRIER, False, dropped)
    mg, low, high, name = found
    return DropMass(mg, low, high, False, dropped, name)


def _carrier_row(flavouring: Bottle) -> tuple[float, float, float, str] | None:
    carriers = flavouring.carrier or {}
    names = sorted(carriers, key=lambda name: -(carriers[name] or 0.0))
    return next((row for name in names if (row := carrier_drop(name)) is not None), None)


def carrier_drop(name: str) -> tuple[float, float, float, str] | None:
    """Return what a drop of a carrier usually weighs: mg, low, high and the carrier's usual name; None if unknown.

    Examples
    --------
    >>> carrier_drop("Vegetable glycerin"), carrier_drop("fog")
    ((45.0, 30.0, 70.0, 'glycerol'), None)
    """
    for words, mg, low, high, label in _BY_CARRIER:
        if any(word in name.casefold().split() or (len(word) > 3 and word in name.casefold()) for word in words):
            return mg, low, high, label
    return None


def _comes_in_drops(flavouring: Bottle) -> bool:
    if flavouring.drop_mg is not None or "drop" in (flavouring.label_dose or "").casefold():
        return True
    return any(word in (flavouring.form or "").casefold() for word in _DROPPED)


def is_known_form(form: str) -> bool:
    """Tell whether a form says how it is dosed.

    Examples
    --------
    >>> is_known_form("Nut paste"), is_known_form("sparkle")
    (True, False)
    """
    return any(word in form.casefold() for word in (*_SOLID, *_LIQUID, *_DROPPED))


def is_liquid(flavouring: Bottle | None) -> bool | None:
    """Tell whether a flavouring is poured or dropped; None when its form and carrier do not say.

    Examples
    --------
    >>> is_liquid(None) is None
    True
    """
    if flavouring is None:
        return None
    form = (flavouring.form or "").casefold()
    if any(word in form for word in _SOLID):
        return False
    if any(word in form for word in _LIQUID) or flavouring.drop_mg is not None:
        return True
    return True if _carrier_row(flavouring) is not None else None
