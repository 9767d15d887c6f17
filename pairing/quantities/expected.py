"""What dose to expect of a flavouring whose label says none, from its form and carrier."""

from __future__ import annotations

from pairing.quantities.bottle import Bottle
from pairing.quantities.drops import carrier_drop, is_liquid

__all__ = ["expected_dose_g_per_kg"]

_BY_FORM = (
    (("oil", "concentrate", "essence", "emulsion"), 0.5),
    (("syrup", "juice", "butter", "paste"), 30.0),
    (("powder", "ground", "leaf", "zest", "flake", "granul", "crystal"), 5.0),
    (("drop", "tincture"), 1.0),
    (("extract",), 3.0),
)
"""g/kg of finished drink by what the form says, the first that fits (our choice, no source): the prior around it is
wide, and a few cups outweigh it."""
_STRONG_CARRIERS = ("oil", "propylene glycol", "ethanol", "triacetin", "glycerol")
_STRONG, _LIQUID, _OTHERWISE = 1.0, 5.0, 2.0


def expected_dose_g_per_kg(flavouring: Bottle) -> float:
    """Return the middle of what is expected of a dose, g/kg of finished drink, where no label says it.

    Examples
    --------
    >>> from pairing import Flavouring
    >>> [expected_dose_g_per_kg(Flavouring(flavouring_id="a", name="A", form=form)) for form in ("syrup", "Oil drops")]
    [30.0, 0.5]
    """
    form = (flavouring.form or "").casefold()
    for words, dose in _BY_FORM:
        if any(word in form for word in words):
            return dose
    carrier = flavouring.carrier
    names = [carrier] if isinstance(carrier, str) else list(carrier or ())
    if any((row := carrier_drop(name)) is not None and row[3] in _STRONG_CARRIERS for name in names):
        return _STRONG
    return _LIQUID if is_liquid(flavouring) else _OTHERWISE
