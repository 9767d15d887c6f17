"""Substances that somebody set a limit for, by the words of labels: sweeteners, carriers, caffeine and others."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache, lru_cache
from types import MappingProxyType

from pairing.nutrition.factors import CARRIERS, carrier_named, label_words
from pairing.nutrition.word_list import folded, slip_of

__all__ = [
    "INTENSE_SWEETENERS",
    "SUBSTANCES",
    "is_understood",
    "misspelt_substance",
    "steviol_share",
    "substance_named",
    "substances_named",
]

STEVIOL_G_PER_MOL = 318.45


_NAMES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "sucralose": ("sucralose", "sucralosa", "sucralosio", "sukraloza", "sukralos", "sukralose", "e955"),
        "aspartame": ("aspartame", "aspartam", "aspartamo", "aspartaami", "phenylalanine", "e951", "e962"),
        "acesulfame k": (
            "acesulfame",
            "acesulfam",
            "acesulfamo",
            "acesulfaam",
            "ace-k",
            "ace k",
            "acek",
            "e950",
            "e962",
        ),
        "saccharin": (
            *("saccharin", "saccharine", "saccharins", "saccarina", "sacarina", "sacharyna", "sacharin", "sackarin"),
            *("sakkarin", "e954"),
        ),
        "cyclamate": (
            "cyclamate",
            "cyclamates",
            "cyclamat",
            "cyclamic",
            "ciclamato",
            "cyklaminian",
            "cyklamat",
            "e952",
        ),
        "steviol glycosides": (
            *(
                "steviol",
                "stevia",
                "stewia",
                "estevia",
                "stevioside",
                "steviosides",
                "rebaudioside",
                "rebaudiosides",
                "reb",
                "rebiana",
            ),
            *("reba", "rebb", "rebc", "rebd", "rebe", "rebm", "dulcoside", "e960"),
        ),
        "neotame": ("neotame", "neotam", "neotamo", "e961"),
        "advantame": ("advantame", "advantam", "e969"),
        "propylene glycol": (
            *("propylene", "propylenglykol", "propylenglycol", "propyleneglycol", "propilenglicol", "propylenowy"),
            *("propilenico", "propane-1,2-diol", "propan-1,2-diol", "1,2-propanediol", "propanediol-1,2"),
            *("e1520", "pg", "mpg"),
        ),
        "benzyl alcohol": ("benzyl alcohol", "benzylalkohol", "alcool benzylique", "alcol benzilico", "e1519"),
        "caffeine": ("caffeine", "coffein", "koffein", "cafeina", "caffeina", "kofeina", "theine", "guaranine"),
        "coumarin": ("coumarin", "tonka", "cassia"),
        "glycyrrhizin": ("glycyrrhizin", "glycyrrhizic", "glycyrrhizinic", "liquorice", "licorice"),
        "menthol": ("menthol", "levomenthol"),
        "quinine": ("quinine",),
        "nicotine": ("nicotine", "nicotin", "nikotin", "nicotina", "nikotyna"),
        "glycerol": (
            "glycerol",
            "glycerin",
            "glycerine",
            "glicerol",
            "glicerina",
            "glicerine",
            "gliceryna",
            "vg",
            "e422",
        ),
        "erythritol": ("erythritol", "e968"),
        "sorbitol": ("sorbitol", "e420"),
        "mannitol": ("mannitol", "e421"),
        "methanol": ("methanol", "methylalkohol", "methyl alcohol", "wood alcohol"),
        "diethylene glycol": ("diethylene", "diethylenglykol", "diethylenglycol"),
        "ethylene glycol": ("ethylene", "ethylenglykol", "ethylenglycol", "ethane-1,2-diol", "1,2-ethanediol"),
        "agaric acid": ("agaric",),
        "aloin": ("aloin",),
        "asarone": ("asarone", "asaron", "calamus"),
        "capsaicin": ("capsaicin",),
        "estragole": ("estragole", "methylchavicol"),
        "hydrocyanic acid": ("hydrocyanic", "prussic", "cyanide"),
        "hypericin": ("hypericin", "hypericine"),
        "menthofuran": ("menthofuran",),
        "methyleugenol": ("methyleugenol", "methyl eugenol"),
        "pulegone": ("pulegone",),
        "quassin": ("quassin",),
        "safrole": ("safrole", "safrol"),
        "teucrin a": ("teucrin",),
        "thujone": ("thujone", "thujon"),
        "glutamate": (
            *("glutamate", "glutamates", "glutamat", "glutammato", "glutamato", "glutaminian", "glutamic", "msg"),
            *("mononatriumglutamat", "e620", "e621", "e622", "e623", "e624", "e625"),
        ),
        "sodium": ("sodium", "natrium", "sodio"),
    }
)
"""Words of labels, E numbers by Regulation (EC) 1333/2008, Annex II (from memory). Sodium comes last: in sodium
saccharin it is the smaller part, and its own column counts it."""
SUBSTANCES = tuple(_NAMES)
_GLYCOSIDES_G_PER_MOL: Mapping[str, float] = MappingProxyType(
    {
        "stevioside": 804.87,
        "rebaudioside a": 967.01,
        "rebaudioside c": 951.01,
        "rebaudioside d": 1129.15,
        "rebaudioside m": 1291.30,
        "dulcoside a": 788.87,
    }
)
_SALT_G_PER_G: Mapping[str, float] = MappingProxyType({"aspartame": 294.3 / 457.5, "acesulfame k": 201.2 / 457.5})
"""What 1 g of the salt of aspartame-acesulfame (E 962) counts as, by molar mass (from memory): one molecule of each,
acesulfame as its potassium salt, for which the ADI is given."""


_PLAIN = frozenset(
    {
        *("sugar", "sugars", "sucrose", "saccharose", "zucker", "sucre", "azucar", "zucchero", "cukier", "suiker"),
        *("glucose", "dextrose", "fructose", "lactose", "maltose", "trehalose", "isomaltulose", "invert", "honey"),
        *("glukose", "traubenzucker", "fruktose", "honig", "miel", "miele", "agave", "maple", "syrup", "sirup"),
        *("molasses", "melasse", "date", "dates", "malt", "malz", "thaumatin", "monk", "luohan", "mogroside"),
        *("mogrosides", "maltodextrin", "inulin", "oligofructose", "polydextrose", "coconut", "panela", "jaggery"),
    }
)
"""Sweeteners that no intake limit is held for here."""

INTENSE_SWEETENERS = (
    *("sucralose", "aspartame", "acesulfame k", "saccharin", "cyclamate", "steviol glycosides", "neotame", "advantame"),
)
"""Those of them that are many times as sweet as sugar."""


@lru_cache(maxsize=4096)
def substances_named(name: str) -> Mapping[str, float]:
    """Return the substances with a limit that a label's word means, and g of each in 1 g of what is named.

    A name of two substances counts in full as each, to be on the safe side, but for the salt of aspartame-acesulfame,
    whose parts are known. Steviol glycosides are counted as steviol equivalents, see `steviol_share`.

    Examples
    --------
    >>> {name: round(share, 2) for name, share in substances_named("E 962").items()}
    {'aspartame': 0.64, 'acesulfame k': 0.44}
    >>> dict(substances_named("caffeine-free")), dict(substances_named("sodium saccharin"))
    ({}, {'saccharin': 1.0})
    """
    return dict(_named(name))


@lru_cache(maxsize=10_000)
def _named(name: str) -> Mapping[str, float]:
    plain, tokens = label_words(name)
    padded = f" {plain} "
    found = {s: 1.0 for s, words in _NAMES.items() if any(w in tokens or _phrase(w, padded) for w in words)}
    if len(found) > 1:
        found.pop("sodium", None)
    if "e962" in tokens or ("salt" in tokens and set(found) == set(_SALT_G_PER_G)):
        return MappingProxyType({s: _SALT_G_PER_G.get(s, share) for s, share in found.items()})
    return MappingProxyType({s: steviol_share(name) if s == "steviol glycosides" else 1.0 for s in found})


def _phrase(word: str, padded: str) -> bool:
    return ("-" in word or " " in word) and re.search(rf"[^a-z0-9]{re.escape(word)}[^a-z0-9]", padded) is not None


def substance_named(name: str) -> str | None:
    """Return the (first) substance with a limit that a label's word means, or None.

    Examples
    --------
    >>> substance_named("Reb A"), substance_named("acesulfame potassium"), substance_named("sugar")
    ('steviol glycosides', 'acesulfame k', None)
    """
    return next(iter(substances_named(name)), None)


def is_understood(name: str) -> bool:
    """Tell whether a sweetener or carrier is known here: one with a limit, one with an energy, or a plain sugar.

    Examples
    --------
    >>> [is_understood(name) for name in ("aspartame", "glycerin", "date sugar", "aspertame", "xyz")]
    [True, True, True, False, False]
    """
    return bool(_named(name)) or carrier_named(name) is not None or not label_words(name)[1].isdisjoint(_PLAIN)


@cache
def _words() -> frozenset[str]:
    found = {word for words in _NAMES.values() for word in words}
    return frozenset(found | {word for carrier in CARRIERS for word in carrier.words} | _PLAIN)


def misspelt_substance(name: str) -> str | None:
    """Return the sweetener or carrier that a name is but for a slip, if there is one.

    Examples
    --------
    >>> misspelt_substance("aspertame"), misspelt_substance("glycrol"), misspelt_substance("triacetin")
    ('aspartame', 'glycerol', None)
    """
    if is_understood(name):
        return None
    tokens = re.findall(r"[^\W\d_]+", folded(name))
    return next((meant for token in tokens if (meant := slip_of(token, _words()))), None)


def steviol_share(name: str) -> float:
    """Return g of steviol equivalents in 1 g of a steviol glycoside: 318.45 ÷ its molar mass.

    A name that tells no glycoside apart (``stevia``) is counted as the richest, dulcoside A, to be on the safe side;
    ``steviol`` alone or ``steviol equivalents`` counts in full.

    Examples
    --------
    >>> [round(steviol_share(name), 3) for name in ("rebaudioside A", "Reb A", "RebA", "Rebaudioside-A")]
    [0.329, 0.329, 0.329, 0.329]
    """
    plain = " ".join(name.casefold().replace("rebiana", "reb a").split())
    plain = re.sub(r"\breb(?:audiosides?)?[ -]?([a-z])(?![a-z])", r"rebaudioside \1", plain)
    for glycoside, mass in _GLYCOSIDES_G_PER_MOL.items():
        if re.search(rf"\b{glycoside}s?(?![a-z])", plain):
            return STEVIOL_G_PER_MOL / mass
    if "equivalent" in plain or plain == "steviol":
        return 1.0
    return STEVIOL_G_PER_MOL / min(_GLYCOSIDES_G_PER_MOL.values())
