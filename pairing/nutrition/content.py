"""How much of the substances with intake limits a drink holds, in mg; unknown never zero."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from pairing.model.base import Base
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.composition import compose
from pairing.nutrition.factors import carrier_named
from pairing.nutrition.parts import parts_of
from pairing.nutrition.substances import substances_named

__all__ = ["Content", "content", "polyols_g_per_g", "substances_of", "unmeasured_of"]


_AS_MUCH_AS_PARTS = ("caffeine",)
"""What no statement about the whole makes less than its parts hold: too much of it at once is acute."""


_MOST_MG_PER_G = {"sodium": 393.4}
"""What 1 g of something holds of a substance that is never pure: sodium comes as salt (molar masses, from memory)."""


@dataclass(frozen=True)
class Content:
    """mg of every substance that is named, and who names it without an amount.

    Attributes
    ----------
    mg : mapping of substance to float
        Lower bounds where the substance is also in ``unmeasured``.
    unmeasured : mapping of substance to tuple of str
        Ids of items that contain it in an unknown amount.
    undeclared : tuple of str
        Ids of items whose sweeteners are not stated.
    """

    mg: Mapping[str, float]
    unmeasured: Mapping[str, tuple[str, ...]]
    undeclared: tuple[str, ...]


def content(grams: Mapping[str, float], shelf: Shelf) -> Content:
    """Return what masses of bases and flavourings (g by id) hold.

    Examples
    --------
    >>> leaf = Flavouring(flavouring_id="leaf", name="Leaf", sweeteners="sucralose:20", carrier="propylene glycol:0.5")
    >>> dict(content({"leaf": 2.0}, Shelf.of([], [leaf])).mg)
    {'sucralose': 40.0, 'propylene glycol': 1000.0}
    """
    mg: dict[str, float] = {}
    unmeasured: dict[str, tuple[str, ...]] = {}
    undeclared: list[str] = []
    for item_id, mass in grams.items():
        if mass <= 0:
            continue
        item = compose(shelf.bases[item_id], shelf) if item_id in shelf.bases else shelf.flavouring(item_id)
        for substance, per_g in substances_of(item, shelf).items():
            if per_g is None:
                unmeasured[substance] = (*unmeasured.get(substance, ()), item_id)
            elif per_g > 0:
                mg[substance] = mg.get(substance, 0.0) + per_g * mass
        if item.sweeteners is None:
            undeclared.append(item_id)
    return Content(mg, unmeasured, tuple(undeclared))


def substances_of(item: Base | Flavouring, shelf: Shelf) -> dict[str, float | None]:
    """Return mg per g of each substance that an item's sweeteners, carrier, columns and tags name, or its parts'.

    What the item names itself counts as it states it; what only a part names is added up from the parts.
    """
    return _substances(item, shelf, ())


def _substances(item: Base | Flavouring, shelf: Shelf, within: tuple[str, ...]) -> dict[str, float | None]:
    own = _own_substances(compose(item, shelf) if isinstance(item, Base) else item)
    parts: dict[str, float | None] = {}
    for part, share, name in _parts(item, shelf, within):
        for substance, mg_per_g in _substances(part, shelf, (*within, name)).items():
            _sum(parts, substance, None if mg_per_g is None else share * mg_per_g)
    own |= {s: max(own[s] or 0.0, parts[s] or 0.0) for s in _AS_MUCH_AS_PARTS if s in parts and own.get(s) is not None}
    return parts | own


def unmeasured_of(item: Base | Flavouring, shelf: Shelf) -> dict[str, float]:
    """Return the substances that an item or a part of it names without an amount, and the most that it may hold, mg/g.

    Ethanol is among them. A column that states the amount answers for the item.

    Examples
    --------
    >>> tonic = Flavouring(flavouring_id="tonic", name="Tonic", tags="caffeine", carrier="glycerol")
    >>> sorted(unmeasured_of(tonic, Shelf.of([], [tonic])).items())
    [('caffeine', 1000.0), ('glycerol', 1000.0)]
    """
    return _unmeasured(item, shelf, ())


def _unmeasured(item: Base | Flavouring, shelf: Shelf, within: tuple[str, ...]) -> dict[str, float]:
    out: dict[str, float] = {}
    for part, share, name in _parts(item, shelf, within):
        for substance, most in _unmeasured(part, shelf, (*within, name)).items():
            out[substance] = out.get(substance, 0.0) + share * most
    unit = "_per_100g" if isinstance(item, Base) else "_per_g"
    stated = [n for n in ("caffeine_mg", "sodium_mg", "ethanol_g") if getattr(item, n + unit) is not None]
    answered = {name.partition("_")[0] for name in stated}
    named = {n: g for n, g in _named(item) if g is None} | dict.fromkeys(item.tags or ())
    for name in named:
        carrier = carrier_named(name) if name not in (item.tags or ()) else None
        meant = [*substances_named(name), *(["ethanol"] if carrier is not None and carrier.name == "ethanol" else [])]
        out |= {substance: _MOST_MG_PER_G.get(substance, 1000.0) for substance in meant}
    return {substance: out[substance] for substance in sorted(out) if substance not in answered}


def _named(item: Base | Flavouring) -> list[tuple[str, float | None]]:
    """Return what an item's sweeteners and carriers name, and how much of it where that is said, in any unit."""
    return [*(item.sweeteners or {}).items(), *(getattr(item, "carrier", None) or {}).items()]


def _parts(
    item: Base | Flavouring, shelf: Shelf, within: tuple[str, ...]
) -> list[tuple[Base | Flavouring, float, str]]:
    """Return the parts of an item with their shares and ids, those that it is within left out."""
    named = [
        (part, share, part.base_id if isinstance(part, Base) else part.flavouring_id)
        for part, share in parts_of(item, shelf)
    ]
    return [(part, share, name) for part, share, name in named if name not in within]


def polyols_g_per_g(item: Base | Flavouring, shelf: Shelf) -> float:
    """Return the polyols in 1 g of an item that its column or its carriers and sweeteners name, whichever is more.

    Where a base states none, those of its parts are added up. A lower bound: what nobody states is left out.

    Examples
    --------
    >>> polyols_g_per_g(Flavouring(flavouring_id="x", name="X", carrier="glycerol:0.9"), Shelf.of([], []))
    0.9
    """
    return _polyols(item, shelf, ())


def _polyols(item: Base | Flavouring, shelf: Shelf, within: tuple[str, ...]) -> float:
    name, per = (item.base_id, 0.01) if isinstance(item, Base) else (item.flavouring_id, 1.0)
    column = item.polyols_g_per_100g if isinstance(item, Base) else item.polyols_g_per_g
    held = [(n, None if mg is None else mg / 1000) for n, mg in (item.sweeteners or {}).items()]
    if isinstance(item, Flavouring):
        held += (item.carrier or {}).items()
    named = math.fsum(g for n, g in held if g and (c := carrier_named(n)) is not None and c.part == "polyols")
    own = per * max(column or 0.0, named)
    if column is not None or isinstance(item, Flavouring) or name in within:
        return own
    return max(own, math.fsum(s * _polyols(part, shelf, (*within, name)) for part, s in parts_of(item, shelf)))


def _own_substances(item: Base | Flavouring) -> dict[str, float | None]:
    per = 0.01 if isinstance(item, Base) else 1.0
    unit = "mg_per_100g" if isinstance(item, Base) else "mg_per_g"
    out: dict[str, float | None] = {}
    for name, amount in (item.sweeteners or {}).items():
        _add(out, name, None if amount is None else amount * per)
    if isinstance(item, Flavouring):
        for name, g in (item.carrier or {}).items():
            _add(out, name, None if g is None else 1000 * g)
    for substance in ("caffeine", "sodium"):
        amount = getattr(item, f"{substance}_{unit}")
        if amount is not None:
            out[substance] = max(amount * per, out.get(substance) or 0.0)  # a column below what is named is a slip
        else:
            out.setdefault(substance, None)
    for tag in item.tags or ():
        for substance in substances_named(tag):
            out.setdefault(substance, None)
    return out


def _add(out: dict[str, float | None], name: str, mg_per_g: float | None) -> None:
    for substance, share in substances_named(name).items():
        _sum(out, substance, None if mg_per_g is None else share * mg_per_g)


def _sum(out: dict[str, float | None], substance: str, mg_per_g: float | None) -> None:
    before = out.get(substance, 0.0)
    out[substance] = None if mg_per_g is None or before is None else math.fsum((before, mg_per_g))
