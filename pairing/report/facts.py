"""Nutrition of a recipe as table rows: exact figures beside those that a label would print."""

from __future__ import annotations

from dataclasses import dataclass

from pairing.nutrition.labels import round_label, salt_g
from pairing.nutrition.serving import Serving, per_100g

__all__ = ["Fact", "facts"]


@dataclass(frozen=True)
class Fact:
    """One line of nutrition.

    Attributes
    ----------
    name, unit : str
    serving, per_100g : float or None
        Exact, per serving and per 100 g of finished drink; None is unknown.
    at_least : float or None
        What is known of the serving's figure where it is unknown.
    label : str or None
        As a label rounds it: per 100 g in the EU, per serving in the US; None where no rule applies or it is unknown.
    """

    name: str
    unit: str
    serving: float | None
    per_100g: float | None
    at_least: float | None
    label: str | None


_ROWS = (
    ("energy", "kcal", "total_kcal", "kcal"),
    ("energy", "kJ", "total_kj", "kj"),
    ("added by the flavourings", "kcal", "added_kcal", None),
    ("sugars", "g", "total_sugars_g", "sugars"),
    ("sodium", "mg", "sodium_mg", "sodium"),
    ("ethanol", "g", "ethanol_g", None),
    ("caffeine", "mg", "caffeine_mg", None),
)


def facts(found: Serving) -> tuple[Fact, ...]:
    """Return the lines of one serving.

    Parameters
    ----------
    found : Serving
        Its jurisdiction decides the rounding.
    """
    out = []
    for name, unit, field, nutrient in _ROWS:
        value = getattr(found, field)
        hundred = per_100g(value, found)
        least = found.at_least.get(field) if value is None else None
        rounded = _rounded(nutrient, value, hundred, found.jurisdiction)
        out.append(Fact(name, unit, value, hundred, least, rounded))
    salt = None if found.sodium_mg is None else salt_g(found.sodium_mg)
    if found.jurisdiction == "EU":
        hundred = per_100g(salt, found)
        out.insert(5, Fact("salt", "g", salt, hundred, None, None if hundred is None else round_label("salt", hundred)))
    share = found.ethanol_pct_vv
    out.append(Fact("alcohol", "% vol", share, None, found.at_least.get("ethanol_pct_vv"), None))
    return tuple(out)


def _rounded(nutrient: str | None, serving: float | None, hundred: float | None, jurisdiction: str) -> str | None:
    amount = hundred if jurisdiction == "EU" else serving
    if nutrient is None or amount is None or (nutrient == "sodium" and jurisdiction == "EU"):
        return None  # an EU label states salt
    return round_label(nutrient, amount, jurisdiction)
