"""The hidden truth of the demo's kitchen: needed doses, likings and mishaps. It never ships with the package.

``demo_data/make.py`` lets the season's tasters drink from it; the tests ask whether the package found out. All of it is
invented. Doses are in g of flavouring per kg of finished drink, logarithms natural, liking on the 9-point scale.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterable, Mapping
from typing import NamedTuple

BASES = ("oat", "pea", "milk", "barley")
TASTERS = ("ana", "mikko", "tova")
FADING_NIGHT_MIN = 720.0
COLD_C = 10
CUTS = (-1.5, -0.75, -0.22, 0.22, 0.7)
"""Log distance from the needed dose at which the strength word changes: 0|1, 1|2, 2|3, 3|4, 4|5."""

LABEL_G_PER_KG = {
    "sour-plum": 1.14, "sea-buckthorn": 37.0, "bitter-orange": 0.99, "lime-leaf": 0.52, "quince": 1.5,
    "green-pear": 0.99, "cucumber": 2.83, "violet": 0.6, "elderflower": 48.0, "cardamom": 4.36, "fennel": 0.57,
    "ginger": 25.0, "mint": 0.386, "vanilla": 6.96, "biscuit": 1.8, "black-sesame": 57.0, "date": 63.0,
    "cocoa": 14.6, "smoked-tea": 2.9, "salt": 1.49, "sweet-leaf": 1.65,
}  # fmt: skip
"""What each label direction comes to in a drink of 1.03 g/ml, worked out by hand."""

_FAT_LOVING = {"bitter-orange": 0.85, "lime-leaf": 0.95, "mint": 0.9, "cardamom": 0.7, "vanilla": 0.5, "fennel": 0.6}
_BASE_DOSE = {"oat": 0.08, "pea": 0.68, "milk": 0.12, "barley": -0.22}
_BASE_FAT = {"oat": 1.0, "pea": 0.3, "milk": -0.5, "barley": -0.8}
_BASE_LIKING = {"oat": 0.5, "pea": -0.7, "milk": 0.4, "barley": 0.0}
_OWN_DOSE = {("pea", "violet"): 3.0, ("barley", "salt"): -0.3, ("milk", "cocoa"): 0.3, ("oat", "vanilla"): -0.35}
_FLAVOURING_LIKING = {
    "sour-plum": 0.2, "sea-buckthorn": 0.0, "bitter-orange": 0.5, "lime-leaf": 0.1, "quince": 0.4, "green-pear": -0.9,
    "cucumber": -0.2, "violet": -0.5, "elderflower": 0.6, "cardamom": 0.4, "fennel": -0.6, "ginger": 0.5, "mint": 0.0,
    "vanilla": 0.8, "biscuit": 0.6, "black-sesame": 0.3, "date": 0.6, "cocoa": 0.9, "smoked-tea": 0.1, "salt": -0.7,
    "sweet-leaf": 0.1,
}  # fmt: skip
_AFFINITY = {
    ("oat", "date"): 0.7, ("oat", "cardamom"): 0.6, ("oat", "biscuit"): 0.5, ("oat", "cucumber"): -0.9,
    ("pea", "cocoa"): 0.8, ("pea", "smoked-tea"): 0.4, ("pea", "elderflower"): -1.0, ("pea", "quince"): -0.6,
    ("milk", "vanilla"): 0.6, ("milk", "elderflower"): 0.4, ("milk", "smoked-tea"): -0.6, ("milk", "salt"): -0.2,
    ("barley", "cucumber"): 1.0, ("barley", "lime-leaf"): 0.9, ("barley", "black-sesame"): -1.3,
    ("barley", "cocoa"): -0.9, ("barley", "elderflower"): 0.6, ("barley", "sour-plum"): 0.7,
}  # fmt: skip
_NEW_TOGETHER = {
    ("cardamom", "quince"): (1.9, "poached quince on the clubhouse stove"),
    ("bitter-orange", "smoked-tea"): (2.0, "marmalade by a camp fire"),
    ("cucumber", "lime-leaf"): (1.7, "the towpath after rain"),
    ("cocoa", "ginger"): (1.5, "gingerbread"),
}
_FLATTERED_BY_SALT = {"date": 1.6, "cocoa": 1.3, "biscuit": 1.2, "black-sesame": 1.4, "vanilla": 0.5}
_SPOILT_BY_SALT = {"violet": -1.3, "elderflower": -1.4, "quince": -1.1, "cucumber": -0.5, "mint": -1.0}
_FLATTERED_BY_SWEET = {"sour-plum": 1.2, "ginger": 0.8, "cocoa": 0.9, "bitter-orange": 0.7, "lime-leaf": 0.6}
_SPOILT_BY_SWEET = {"date": -1.3, "black-sesame": -0.6, "elderflower": -1.2, "cucumber": -0.9, "sea-buckthorn": 0.3}
_TASTER_LIKING = {
    ("ana", "mint"): 1.3, ("mikko", "mint"): -1.5, ("ana", "smoked-tea"): -1.2, ("tova", "smoked-tea"): 1.4,
    ("mikko", "fennel"): 0.9, ("tova", "fennel"): -0.9, ("tova", "cocoa"): 0.4, ("ana", "salt"): -0.4,
}  # fmt: skip
_TASTER_OFFSET = {"ana": 0.3, "mikko": -0.4, "tova": 0.1}
_TASTER_SLOPE = {"ana": 1.1, "mikko": 0.85, "tova": 1.05}
_TASTER_DOSE = {"ana": -0.08, "mikko": 0.15, "tova": -0.07}
_ACID = {"sea-buckthorn": 1.0, "sour-plum": 0.85}
_SWEET = ("sea-buckthorn", "elderflower", "ginger", "date", "sweet-leaf")
AVERAGE, CROWD, UNDER, OVER = 5.3, 0.35, 1.6, 2.4
STEPPED, STEPPED_NOISE, COLD, FULL_GLASS = -0.4, 1.4, 0.1, -0.16
"""A stepped cup: points beside a fresh one, and how much more its scores scatter. Log of the needed dose: how much more
of what is sweet a cold cup needs, and how much less a full glass needs than a sip."""

_NOTES = {
    ("pea", "beany"): (0.75, 2), ("pea", "chalky"): (0.45, 1), ("milk", "cooked"): (0.25, 1),
    ("oat", "papery"): (0.12, 1),
}  # fmt: skip
"""Chance that a plain base has an off-note, and how strong it is."""
_COVERED = {
    "beany": {"cocoa": 0.25, "black-sesame": 0.3, "biscuit": 0.4, "smoked-tea": 0.35, "date": 0.7, "violet": 1.2},
    "chalky": {"black-sesame": 0.5, "date": 0.8}, "cooked": {"vanilla": 0.3, "biscuit": 0.4, "cocoa": 0.3},
}  # fmt: skip
_LINGERS = {
    "sweet-leaf": ("sweet", 0.85), "date": ("sweet", 0.3), "elderflower": ("sweet", 0.25), "cocoa": ("drying", 0.5),
    "smoked-tea": ("drying", 0.6), "mint": ("flavour", 0.7), "cardamom": ("flavour", 0.5), "fennel": ("flavour", 0.4),
}  # fmt: skip
"""What is still there a minute after swallowing, and how often."""


class How(NamedTuple):
    """How a cup was drunk: minutes after it was mixed, after steps or fresh, how cold, and a sip or a full glass."""

    minutes: float = 0.0
    stepped: bool = False
    temperature_c: float = 20.0
    full: bool = False


SIP = How()


def needed_log_dose(base_id: str, flavouring_id: str, companions: Iterable[str] = (), how: How = SIP) -> float:
    """Log of the dose that reads 'just right' for the average taster."""
    others = [c for c in companions if c != flavouring_id]
    fat = 0.22 * _BASE_FAT[base_id] * (_FAT_LOVING.get(flavouring_id, 0.2) - 0.4)
    own = _OWN_DOSE.get((base_id, flavouring_id), _noise("dose", base_id, flavouring_id, sd=0.15))
    fading = 0.8 if flavouring_id == "cucumber" and how.minutes >= FADING_NIGHT_MIN else 0.0
    cold = COLD if how.temperature_c <= COLD_C and flavouring_id in _SWEET else 0.0
    off_label = 0.1 + _noise("label", flavouring_id, sd=0.25)
    return (
        math.log(LABEL_G_PER_KG[flavouring_id])
        + off_label
        + _BASE_DOSE[base_id]
        + fat
        + own
        + fading
        + cold
        + (FULL_GLASS if how.full else 0.0)
        + 0.06 * len(others)
    )


def liking(base_id: str, doses: Mapping[str, float | None], taster: str, how: How = SIP) -> float:
    """True liking of one taster; a dose of None is the needed dose."""
    points = AVERAGE + _BASE_LIKING[base_id] - CROWD * max(0, len(doses) - 1)
    points += sum(_FLAVOURING_LIKING[f] + _affinity(base_id, f) for f in doses)
    points += sum(synergy(a, b) for a, b in itertools.combinations(sorted(doses), 2))
    points = AVERAGE + _TASTER_OFFSET[taster] + _TASTER_SLOPE[taster] * (points - AVERAGE)
    points += sum(_TASTER_LIKING.get((taster, f), _noise(taster, f, sd=0.2)) for f in doses)
    for flavouring_id, dose in doses.items():
        if dose is not None:
            z = _off(base_id, flavouring_id, dose, doses, how) - _TASTER_DOSE[taster]
            points -= (OVER if z > 0 else UNDER) * min(z * z, 4.0)
    points -= 3.0 if curdles(base_id, doses) else 0.0
    return min(9.0, max(1.0, points))


def synergy(flavouring_a: str, flavouring_b: str) -> float:
    """Points that a pair adds beyond its flavourings; most pairs take some away."""
    a, b = sorted((flavouring_a, flavouring_b))
    if (a, b) in _NEW_TOGETHER:
        return _NEW_TOGETHER[a, b][0]
    for helper, table in (
        ("salt", _FLATTERED_BY_SALT | _SPOILT_BY_SALT),
        ("sweet-leaf", _FLATTERED_BY_SWEET | _SPOILT_BY_SWEET),
    ):
        if helper in (a, b):
            other = b if helper == a else a
            return table.get(other, _noise("pair", a, b, sd=0.3))
    return -0.6 + _noise("pair", a, b, sd=0.45)


def reminds_of(doses: Iterable[str]) -> str:
    """What a pair that becomes something new reminds people of, else nothing."""
    return next((_NEW_TOGETHER[p][1] for p in itertools.combinations(sorted(doses), 2) if p in _NEW_TOGETHER), "")


def curdles(base_id: str, doses: Mapping[str, float | None]) -> bool:
    """Whether an acid flavouring at its dose curdles the milk protein."""
    if base_id != "milk":
        return False
    return any(d is None or d > _ACID[f] * 0.8 * LABEL_G_PER_KG[f] for f, d in doses.items() if f in _ACID)


def off_notes(base_id: str, doses: Mapping[str, float], rng: random.Random, *, afterwards: bool = False) -> str:
    """Off-notes of a sip: of the base as far as nothing covers them, curds, the bitter carrier of the pear drops.

    ``afterwards`` also tells what is still there a minute after swallowing, or that nothing is.
    """
    notes = ["curdled:3"] if curdles(base_id, doses) else []
    for (base, note), (chance, level) in _NOTES.items():
        left = math.prod(_COVERED.get(note, {}).get(f, 1.0) for f in doses)
        if base == base_id and rng.random() < chance * left:
            notes.append(f"{note}:{level}")
    after = {}
    if "green-pear" in doses and rng.random() < 0.75:
        after["bitter"] = 1 + min(2, int(doses["green-pear"] / LABEL_G_PER_KG["green-pear"]))
    if afterwards:
        after |= {_LINGERS[f][0]: 1 for f in doses if f in _LINGERS and rng.random() < _LINGERS[f][1]}
        notes += [] if after else ["none@aftertaste"]
    return ";".join(notes + [f"{word}:{level}@aftertaste" for word, level in after.items()])


def strength(
    base_id: str, doses: Mapping[str, float], taster: str, rng: random.Random, *, cup: float = 0.0, how: How = SIP
) -> dict[str, int]:
    """Strength word (0–5) of every flavouring in one sip."""
    words = {}
    for flavouring_id, dose in doses.items():
        z = _off(base_id, flavouring_id, dose, doses, how) - _TASTER_DOSE[taster] + cup + rng.gauss(0.0, 0.2)
        words[flavouring_id] = sum(z > cut for cut in CUTS)
    return words


def score(
    base_id: str,
    doses: Mapping[str, float],
    taster: str,
    rng: random.Random,
    *,
    session: float = 0.0,
    how: How = SIP,
) -> int:
    """Liking as a taster writes it down: a whole number with that sip's noise."""
    noise = rng.gauss(0.0, 0.8 * (STEPPED_NOISE if how.stepped else 1.0))
    points = liking(base_id, doses, taster, how) + session + (STEPPED if how.stepped else 0.0)
    return min(9, max(1, round(points + noise)))


def likeness_to_cake(doses: Mapping[str, float]) -> float:
    """Likeness (0–10) to the clubhouse's cardamom cake."""
    weights = {"cardamom": 3.5, "biscuit": 3.0, "vanilla": 1.5, "date": 1.0}
    return max(0.0, sum(weights.get(f, -1.0) for f in doses) + 0.5)


def _off(base_id: str, flavouring_id: str, dose: float, doses: Iterable[str], how: How) -> float:
    return math.log(max(dose, 1e-9)) - needed_log_dose(base_id, flavouring_id, doses, how)


def _affinity(base_id: str, flavouring_id: str) -> float:
    return _AFFINITY.get((base_id, flavouring_id), _noise("affinity", base_id, flavouring_id, sd=0.3))


def _noise(*what: str, sd: float) -> float:
    """Return a number of its own for each name, the same in every run."""
    return random.Random("/".join(("heron-lane", *what))).gauss(0.0, sd)
