"""Energy from composition, carriers and labels: kcal and kJ apart, unknown never zero.

The columns are read as an EU label prints them: carbohydrate without fibre, and with polyols. Where carbohydrate is
smaller than sugars and polyols together it was given without polyols, and they are counted beside it. Where a carrier
or sweetener names more of a substance than its column states, the larger figure counts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pairing.errors import PairingError
from pairing.nutrition.factors import FACTORS, KJ_PER_KCAL, Carrier, Factor, carrier_named, check_jurisdiction
from pairing.quantities.directions import label_dose

if TYPE_CHECKING:
    from pairing.model.base import Base
    from pairing.model.flavouring import Flavouring

__all__ = [
    "Range",
    "base_energy",
    "base_energy_kj",
    "energy_of",
    "energy_per_g",
    "energy_per_g_kj",
    "ethanol_g_per_g",
    "named_ethanol_g_per_g",
]

_MOST = Factor(9.0, 37.0)
_LABEL_SERVING_G, _ROUNDED_AWAY_KCAL = 240.0, 5.0
_COVERED = ("fat", "protein", "carbohydrate")


@dataclass(frozen=True)
class Range:
    """An energy with what it may be at least and at most.

    Attributes
    ----------
    low, high : float
    value : float or None
        Best figure; None is unknown.
    known : bool
    source : str
        Where it comes from and what it leaves open.
    """

    low: float
    value: float | None
    high: float
    known: bool
    source: str


def energy_of(
    grams: Mapping[str, float | None], carriers: Mapping[str, float | None] | None, jurisdiction: str = "EU"
) -> tuple[Range, Range]:
    """Return kcal and kJ of a composition.

    Parameters
    ----------
    grams : mapping of str to float or None
        ``fat, protein, carbohydrate, sugars, polyols, fibre, acids, ethanol`` in g; None is unknown.
    carriers : mapping of name to float or None
        Solvents and sugar replacers in g, in the same quantity; None beside a name: amount unknown.
    jurisdiction : {"EU", "US"}

    Returns
    -------
    kcal, kj : Range
        Known when fat, protein and carbohydrate are, and no carrier with energy lacks its amount.

    References
    ----------
    Regulation (EU) 1169/2011, Annex XIV; 21 CFR 101.9(c)(1).

    Examples
    --------
    >>> kcal, kj = energy_of({"fat": 0, "protein": 0, "carbohydrate": 10}, None)
    >>> kcal.value, kj.value
    (40.0, 170.0)
    """
    factors = FACTORS[check_jurisdiction(jurisdiction)]
    named, unmeasured = _named(carriers)
    amounts = _partition(grams, named)
    notes = [f"without {name} (not stated)" for name in ("fibre", "acids") if grams.get(name) is None]
    kcal = sum(factors[n].kcal * g for n, g in amounts.items())
    kj = sum(factors[n].kj * g for n, g in amounts.items())
    low = high = kcal
    for carrier, g in named:
        factor = carrier.factor.get(jurisdiction)
        if factor is None and carrier.part in ("none", "ethanol", "fat", "carbohydrate"):
            continue
        factor = factor or factors["polyols"]
        if carrier.part == "carbohydrate":
            factor = Factor(factor.kcal - factors["carbohydrate"].kcal, factor.kj - factors["carbohydrate"].kj)
        kcal, kj = kcal + g * factor.kcal, kj + g * factor.kj
        low += g * carrier.low_kcal.get(jurisdiction, factor.kcal)
        high += g * carrier.high_kcal.get(jurisdiction, factor.kcal)
        if carrier.note and g > 0:
            notes.append(carrier.note)
    missing = [n for n in _COVERED if grams.get(n) is None]
    missing += [f"amount of {c.name}" for c in unmeasured if c.part != "none"]
    basis = "Regulation (EU) 1169/2011 Annex XIV" if jurisdiction == "EU" else "21 CFR 101.9(c)(1)"
    source = "; ".join([f"composition by {basis}", *dict.fromkeys(notes)])
    if missing:
        source = f"unknown: {', '.join(missing)}; {source}"
        return Range(low, None, float("inf"), False, source), Range(kj, None, float("inf"), False, source)
    spread = kj / kcal if kcal > 0 else KJ_PER_KCAL
    return Range(low, kcal, high, True, source), Range(low * spread, kj, high * spread, True, source)


def _named(carriers: Mapping[str, float | None] | None) -> tuple[list[tuple[Carrier, float]], list[Carrier]]:
    measured, unmeasured = [], []
    for name, amount in (carriers or {}).items():
        carrier = carrier_named(name)
        if carrier is not None and amount is not None:
            measured.append((carrier, amount))
        elif carrier is not None:
            unmeasured.append(carrier)
    return measured, unmeasured


def _partition(grams: Mapping[str, float | None], named: list[tuple[Carrier, float]]) -> dict[str, float]:
    """Give every gram to one factor: what a carrier names is taken out of the column that contains it."""
    by_part = {p: sum(g for c, g in named if c.part == p) for p in ("polyols", "ethanol", "fat", "carbohydrate")}
    polyols = max(grams.get("polyols") or 0.0, by_part["polyols"])
    carbohydrate = max(grams.get("carbohydrate") or 0.0, by_part["carbohydrate"])
    if carbohydrate >= polyols + (grams.get("sugars") or 0.0) - 1e-9:
        carbohydrate -= min(polyols, carbohydrate)
    return {
        "fat": max(grams.get("fat") or 0.0, by_part["fat"]),
        "protein": grams.get("protein") or 0.0,
        "carbohydrate": carbohydrate,
        "polyols": polyols - by_part["polyols"],
        "fibre": grams.get("fibre") or 0.0,
        "acids": grams.get("acids") or 0.0,
        "ethanol": max(grams.get("ethanol") or 0.0, by_part["ethanol"]),
    }


def energy_per_g(flavouring: Flavouring, jurisdiction: str = "EU") -> Range:
    """Return a flavouring's energy in kcal/g.

    A label's figure comes first. A label's 0 is rounded: it is the range from 0 to what the carriers and the
    composition allow, at most what a label may round away (under 5 kcal in a labelled serving, 21 CFR 101.9(c)(1);
    the serving is the label's dose in 240 g of drink). Without a label's figure it is computed.

    Examples
    --------
    >>> from pairing.model.flavouring import Flavouring
    >>> plum = Flavouring(flavouring_id="plum", name="Plum", energy_kcal_per_g=0, carrier="propylene glycol:0.9")
    >>> energy_per_g(plum, "US").high
    3.6
    """
    return _energies(flavouring, jurisdiction)[0]


def energy_per_g_kj(flavouring: Flavouring, jurisdiction: str = "EU") -> Range:
    """Return a flavouring's energy in kJ/g; by the kJ factors where it is computed, else kcal × 4.184."""
    return _energies(flavouring, jurisdiction)[1]


def _energies(flavouring: Flavouring, jurisdiction: str) -> tuple[Range, Range]:
    grams = {
        n: getattr(flavouring, f"{n}_g_per_g") for n in (*_COVERED, "sugars", "polyols", "fibre", "acids", "ethanol")
    }
    kcal, kj = energy_of(grams, _carriers(flavouring), jurisdiction)
    label = flavouring.energy_kcal_per_g
    if label is None:
        return _within_physics(kcal, _MOST.kcal), _within_physics(kj, _MOST.kj)
    if label > 0:
        converted = label * KJ_PER_KCAL
        kj_value = kj.value * label / kcal.value if kj.value and kcal.value else converted
        return Range(label, label, label, True, "label"), Range(kj_value, kj_value, kj_value, True, "label, in kJ")
    most = min(_content_bound(flavouring, kcal, jurisdiction), _rounding_bound(flavouring))
    value = min(kcal.value, most) if kcal.value is not None else 0.0
    source = "label says 0, which is rounded: 0 to {:.3g} {}/g by carrier and rounding".format
    most_kj = most * KJ_PER_KCAL
    return (
        Range(0.0, value, most, True, source(most, "kcal")),
        Range(0.0, value * KJ_PER_KCAL, most_kj, True, source(most_kj, "kJ")),
    )


def ethanol_g_per_g(flavouring: Flavouring) -> float | None:
    """Return the ethanol of a flavouring in g/g: its column or its carriers, whichever names more; None is unknown.

    A column of 0 beside a carrier of ethanol is a slip, and counting too little would break a limit.

    Examples
    --------
    >>> from pairing.model.flavouring import Flavouring
    >>> ethanol_g_per_g(Flavouring(flavouring_id="sap", name="Sap", carrier="ethanol:0.6", ethanol_g_per_g=0))
    0.6
    """
    named = named_ethanol_g_per_g(flavouring)
    least = math.fsum(g for g in named if g is not None)
    if flavouring.ethanol_g_per_g is not None:
        return max(flavouring.ethanol_g_per_g, least)
    return None if not named or None in named else least


def named_ethanol_g_per_g(flavouring: Flavouring) -> list[float | None]:
    """Return the amounts of the carriers of a flavouring that are ethanol, g/g; None where one lacks its amount."""
    return [
        g for n, g in (flavouring.carrier or {}).items() if (c := carrier_named(n)) is not None and c.name == "ethanol"
    ]


def _carriers(flavouring: Flavouring) -> dict[str, float | None]:
    sweet = {n: None if mg is None else mg / 1000 for n, mg in (flavouring.sweeteners or {}).items()}
    listed = {n: g for n, g in sweet.items() if carrier_named(n) is not None}
    return {**listed, **(flavouring.carrier or {})}


def _within_physics(found: Range, most: float) -> Range:
    if found.known:
        return found
    return Range(min(found.low, most), None, most, False, found.source)


def _content_bound(flavouring: Flavouring, computed: Range, jurisdiction: str) -> float:
    if computed.value is not None:
        return computed.high
    carriers = _carriers(flavouring)
    found = [(carrier_named(n), g) for n, g in carriers.items()]
    if not found or any(c is None for c, _ in found):
        return _MOST.kcal
    return sum(_highest(c, jurisdiction) * (1.0 if g is None else g) for c, g in found if c is not None) or 0.0


def _highest(carrier: Carrier, jurisdiction: str) -> float:
    if jurisdiction in carrier.high_kcal:
        return carrier.high_kcal[jurisdiction]
    if jurisdiction in carrier.factor:
        return carrier.factor[jurisdiction].kcal
    return FACTORS[jurisdiction][carrier.part].kcal if carrier.part in FACTORS[jurisdiction] else 0.0


def _rounding_bound(flavouring: Flavouring) -> float:
    try:
        direction = label_dose(flavouring)
    except PairingError:
        direction = None
    if direction is None:
        return _MOST.kcal
    return min(_MOST.kcal, _ROUNDED_AWAY_KCAL / (direction.mid * _LABEL_SERVING_G / 1000))


def base_energy(base: Base, jurisdiction: str = "EU") -> float | None:
    """Return a base's energy in kcal per 100 g: its own figure, else from its composition; None is unknown.

    A base that is made from parts is composed first, see `pairing.nutrition.composition.compose`.

    Examples
    --------
    >>> from pairing.model.base import Base
    >>> base_energy(Base(base_id="b", name="B", fat_g_per_100g=1, protein_g_per_100g=2, carbohydrate_g_per_100g=5))
    37.0
    """
    if base.energy_kcal_per_100g is not None:
        return base.energy_kcal_per_100g
    return _composed(base, jurisdiction)[0].value


def base_energy_kj(base: Base, jurisdiction: str = "EU") -> float | None:
    """Return a base's energy in kJ per 100 g; by the kJ factors where its composition is known, else kcal × 4.184."""
    kcal, kj = _composed(base, jurisdiction)
    label = base.energy_kcal_per_100g
    if label is None:
        return kj.value
    if kcal.value and kj.value:
        return kj.value * label / kcal.value
    return label * KJ_PER_KCAL


def _composed(base: Base, jurisdiction: str) -> tuple[Range, Range]:
    grams = {n: getattr(base, f"{n}_g_per_100g") for n in (*_COVERED, "sugars", "polyols", "fibre", "acids", "ethanol")}
    sweet = {n: None if mg is None else mg / 1000 for n, mg in (base.sweeteners or {}).items()}
    return energy_of(grams, {n: g for n, g in sweet.items() if carrier_named(n) is not None}, jurisdiction)
