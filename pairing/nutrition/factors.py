"""Energy factors of nutrients and carriers by jurisdiction, each with its source."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from pairing.errors import QuantityError
from pairing.nutrition.word_list import folded

__all__ = [
    "CARRIERS",
    "FACTORS",
    "JURISDICTIONS",
    "KJ_PER_KCAL",
    "Carrier",
    "Factor",
    "carrier_named",
    "check_jurisdiction",
    "label_words",
]

JURISDICTIONS = ("EU", "US")
KJ_PER_KCAL = 4.184
"""Thermochemical calorie, exact. Only for what is known in kcal alone: the EU's kJ factors are not 4.184 × its kcal."""


@dataclass(frozen=True, slots=True)
class Factor:
    """Energy of 1 g, in kcal and in kJ."""

    kcal: float
    kj: float


def _us(kcal: float) -> Factor:
    return Factor(kcal, kcal * KJ_PER_KCAL)


FACTORS: Mapping[str, Mapping[str, Factor]] = MappingProxyType(
    {
        "EU": MappingProxyType(
            {
                "carbohydrate": Factor(4, 17),
                "polyols": Factor(2.4, 10),
                "protein": Factor(4, 17),
                "fat": Factor(9, 37),
                "salatrims": Factor(6, 25),
                "ethanol": Factor(7, 29),
                "acids": Factor(3, 13),
                "fibre": Factor(2, 8),
                "erythritol": Factor(0, 0),
            }
        ),
        "US": MappingProxyType(
            {
                "carbohydrate": _us(4),
                "polyols": _us(2.4),
                "protein": _us(4),
                "fat": _us(9),
                "salatrims": _us(6),
                "ethanol": _us(7),
                "acids": _us(3),
                "fibre": _us(2),
                "erythritol": _us(0),
            }
        ),
    }
)
"""EU: Regulation (EU) 1169/2011, Annex XIV. US: 21 CFR 101.9(c)(1)(i): 4/4/9, soluble non-digestible carbohydrate 2,
erythritol 0; ethanol 7 as in the Atwater factors (from memory); acids and an unnamed sugar alcohol as in the EU (our
choice, no source)."""


@dataclass(frozen=True, slots=True)
class Carrier:
    """A substance that carries flavour or replaces sugar, and what 1 g of it brings.

    Attributes
    ----------
    part : str
        The column that already contains it: ``polyols``, ``ethanol``, ``fat``, ``carbohydrate``, ``none`` (water),
        or empty when no column does.
    factor : mapping of jurisdiction to Factor
        Empty: the factor of its column holds.
    low_kcal, high_kcal : mapping of jurisdiction to float
        Where sources disagree.
    """

    name: str
    words: tuple[str, ...]
    part: str
    factor: Mapping[str, Factor] = field(default_factory=dict)
    low_kcal: Mapping[str, float] = field(default_factory=dict)
    high_kcal: Mapping[str, float] = field(default_factory=dict)
    note: str = ""


def _polyol(name: str, us_kcal: float, *words: str) -> Carrier:
    return Carrier(
        name,
        (name, *words),
        "polyols",
        {"US": _us(us_kcal)},
        note=f"{name} {us_kcal:g} kcal/g in the US (21 CFR 101.9(c)(1)(i)(F)), 2.4 in the EU (Annex XIV, polyols)",
    )


CARRIERS = (
    Carrier("water", ("water",), "none"),
    Carrier(
        "ethanol",
        (
            *("ethanol", "alcohol", "spirit", "spirits", "e1510", "alkohol", "ethylalkohol", "weingeist", "spiritus"),
            *("alcool", "alcol", "etanol", "etanolo", "etanoli", "spirytus", "alkoholi"),
        ),
        "ethanol",
    ),
    Carrier(
        "glycerol",
        ("glycerol", "glycerin", "glycerine", "glicerol", "glicerina", "glicerine", "gliceryna", "vg", "e422"),
        "polyols",
        {"US": _us(4.32)},
        {"US": 4.0},
        {"US": 4.40},
        "glycerol 4.32 kcal/g in US practice (other figures 4 and 4.40), a polyol of 2.4 in the EU",
    ),
    Carrier(
        "propylene glycol",
        (
            *("propylene glycol", "propylene-glycol", "propane-1,2-diol", "propan-1,2-diol", "1,2-propanediol"),
            *("propylenglykol", "propylenglycol", "propyleneglycol", "propilenglicol", "glikol propylenowy"),
            *("glicole propilenico", "glicol propilenico", "e1520", "pg", "mpg"),
        ),
        "",
        {"EU": Factor(4.0, 4.0 * KJ_PER_KCAL), "US": _us(4.0)},
        {"EU": 0.0, "US": 4.0},
        {"EU": 4.0, "US": 4.0},
        "propylene glycol 4.0 kcal/g (customary in the US, from memory); the EU has no factor for it: two hydroxyl "
        "groups are no polyol (Regulation 1169/2011 Annex I), so an EU label may leave it out",
    ),
    Carrier(
        "erythritol",
        ("erythritol", "e968"),
        "polyols",
        {"EU": Factor(0, 0), "US": Factor(0, 0)},
        note="erythritol 0 kcal/g (Annex XIV; 21 CFR 101.9)",
    ),
    Carrier(
        "allulose",
        ("allulose", "psicose"),
        "carbohydrate",
        {"US": _us(0.4)},
        note="allulose 0.4 kcal/g in the US (FDA), no factor of its own in the EU",
    ),
    _polyol("sorbitol", 2.6, "e420"),
    _polyol("xylitol", 2.4, "e967"),
    _polyol("maltitol", 2.1, "e965"),
    _polyol("isomalt", 2.0, "e953"),
    _polyol("lactitol", 2.0, "e966"),
    _polyol("mannitol", 1.6, "e421"),
    _polyol("hydrogenated starch hydrolysate", 3.0),
    Carrier("oil", ("oil", "mct", "triglyceride", "triglycerides"), "fat"),
)
"""E numbers by Regulation (EC) 1333/2008, Annex II (from memory)."""


_NO_ETHANOL = re.compile(
    r"\b(?!ethyl\b)\w*yl[\s-]+alcohols?\b|\b(?:sugar|wood)\s+alcohols?\b"
    r"|\balco(?:ol|hol|l)\s+(?!\w*(?:ethyl|etil))\w+(?:ylique|ilico)\b"
)
"""Other alcohols, of which the word says nothing about ethanol: benzyl, isopropyl or cetyl alcohol."""


def label_words(name: str) -> tuple[str, frozenset[str]]:
    """Return a label's word in small letters, and its parts between blanks, hyphens and brackets.

    An E number is one word without its letter, and what something is free of is not in it.

    Examples
    --------
    >>> plain, tokens = label_words("Steviol glycosides (E 960c), caffeine-free")
    >>> sorted(tokens)
    ['e960', 'glycosides', 'steviol']
    """
    plain = re.sub(r"\be[\s-]?(\d{3,4})(?!\d)[a-z]?(?![a-z])", r"e\1", folded(name))
    plain = re.sub(r"[^\s;,()]+(?:-free\b|\s+free\s*(?=$|[;,()]))", " ", plain).strip()
    return plain, frozenset(word for word in re.split(r"[^\w]+", plain) if word)


def carrier_named(name: str) -> Carrier | None:
    """Return the carrier that a label's word means, or None.

    Examples
    --------
    >>> carrier_named("Vegetable glycerin").name, carrier_named("beet dust") is None
    ('glycerol', True)
    >>> carrier_named("ethyl alcohol").name, carrier_named("Benzyl alcohol")
    ('ethanol', None)
    """
    plain = _NO_ETHANOL.sub(" ", label_words(name)[0])
    tokens = plain.replace("(", " ").replace(")", " ").split()
    for carrier in CARRIERS:
        if any(word in tokens or (" " in word and word in plain) for word in carrier.words):
            return carrier
    return None


def check_jurisdiction(jurisdiction: str) -> str:
    """Return it when known, or refuse it."""
    if jurisdiction not in JURISDICTIONS:
        raise QuantityError(f"jurisdiction {jurisdiction!r} is not known", f"use one of: {', '.join(JURISDICTIONS)}")
    return jurisdiction
