"""Published intake limits: sweeteners, propylene glycol, caffeine, sodium and others, for a stated body mass."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pairing.errors import QuantityError
from pairing.nutrition.factors import check_jurisdiction, label_words

__all__ = ["LIMITS", "Limit", "daily_limit_mg", "limit_for", "steviol_share", "substance_named", "substances_named"]

CUSTOMARY_BODY_MASS_KG = 70.0
"""Adult body mass assumed where none is stated (EFSA's default for adults; from memory)."""
STEVIOL_G_PER_MOL = 318.45


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit of one substance.

    Attributes
    ----------
    mg_per_kg : float or None
        mg per kg of body mass and day.
    mg_per_day : float or None
        mg per day, whatever the body mass.
    mg_per_serving : float or None
    permitted : bool
        False where the substance may not be added at all.
    source, note : str
    """

    substance: str
    jurisdiction: str
    mg_per_kg: float | None = None
    mg_per_day: float | None = None
    mg_per_serving: float | None = None
    permitted: bool = True
    source: str = ""
    note: str = ""


def _both(substance: str, source: str, **limit: float) -> tuple[Limit, Limit]:
    note = str(limit.pop("note", ""))
    eu, us = (Limit(substance, j, source=source, note=note, **limit) for j in ("EU", "US"))  # type: ignore[arg-type]
    return eu, us


LIMITS: tuple[Limit, ...] = (
    Limit("sucralose", "EU", 15, source="EFSA 2026 re-evaluation, ADI"),
    Limit("sucralose", "US", 5, source="FDA, ADI"),
    Limit("aspartame", "EU", 40, source="EFSA and JECFA, ADI"),
    Limit("aspartame", "US", 50, source="FDA, ADI"),
    Limit("acesulfame k", "EU", 15, source="EFSA Journal 2025;23(4):e9317, ADI"),
    Limit("acesulfame k", "US", 15, source="FDA, ADI"),
    Limit("saccharin", "EU", 9, source="EFSA, 15 November 2024, ADI"),
    Limit("saccharin", "US", 15, source="FDA, ADI"),
    Limit("cyclamate", "EU", 7, source="SCF and EFSA, ADI"),
    Limit("cyclamate", "US", permitted=False, source="FDA: not permitted in food"),
    Limit("steviol glycosides", "EU", 4, source="EFSA 2010, ADI in steviol equivalents"),
    Limit("steviol glycosides", "US", 4, source="JECFA, ADI in steviol equivalents"),
    Limit("neotame", "EU", 2, source="EFSA, ADI"),
    Limit("neotame", "US", 0.3, source="FDA, ADI"),
    Limit("advantame", "EU", 5, source="EFSA, ADI"),
    Limit("advantame", "US", 32.8, source="FDA, ADI"),
    *_both("propylene glycol", "EFSA Journal 2018;16(4):5235 (E 1520), ADI", mg_per_kg=25),
    Limit("caffeine", "EU", None, 400, 200, source="EFSA Journal 2015;13(5):4102", note="200 mg a day in pregnancy"),
    Limit(
        "caffeine", "US", None, 400, 200, source="FDA, 400 mg a day; a single 200 mg by EFSA Journal 2015;13(5):4102"
    ),
    Limit("sodium", "EU", None, 2000, source="WHO guideline on sodium intake, 2012"),
    Limit("sodium", "US", None, 2300, source="Dietary Guidelines for Americans 2020"),
    *_both("coumarin", "EFSA Journal 2008;793, TDI", mg_per_kg=0.1),
    *_both("glycyrrhizin", "SCF, 10 April 2003; JECFA 2005 (no ADI)", mg_per_day=100),
    *_both("menthol", "JECFA 1998, ADI 0–4 (from memory)", mg_per_kg=4),
)
"""Current values. A limit is for a lifetime's daily intake of an adult, from all food together."""

_NAMES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "sucralose": ("sucralose", "e955"),
        "aspartame": ("aspartame", "e951", "e962"),
        "acesulfame k": ("acesulfame", "ace-k", "ace k", "acek", "e950", "e962"),
        "saccharin": ("saccharin", "saccharine", "saccharins", "e954"),
        "cyclamate": ("cyclamate", "cyclamates", "cyclamic", "e952"),
        "steviol glycosides": (
            *("steviol", "stevia", "stevioside", "steviosides", "rebaudioside", "rebaudiosides", "reb", "rebiana"),
            *("reba", "rebb", "rebc", "rebd", "rebe", "rebm", "dulcoside", "e960"),
        ),
        "neotame": ("neotame", "e961"),
        "advantame": ("advantame", "e969"),
        "propylene glycol": (
            *("propylene", "propane-1,2-diol", "propan-1,2-diol", "1,2-propanediol", "propanediol-1,2"),
            *("e1520", "pg", "mpg"),
        ),
        "caffeine": ("caffeine",),
        "coumarin": ("coumarin", "tonka", "cassia"),
        "glycyrrhizin": ("glycyrrhizin", "glycyrrhizic", "glycyrrhizinic", "liquorice", "licorice"),
        "menthol": ("menthol",),
        "quinine": ("quinine",),
        "sodium": ("sodium",),
    }
)
"""Words of labels, E numbers by Regulation (EC) 1333/2008, Annex II (from memory). Sodium comes last: in sodium
saccharin it is the smaller part, and its own column counts it."""
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


def substances_named(name: str) -> dict[str, float]:
    """Return the substances with a limit that a label's word means, and g of each in 1 g of what is named.

    A name of two substances counts in full as each, to be on the safe side, but for the salt of aspartame-acesulfame,
    whose parts are known. Steviol glycosides are counted as steviol equivalents, see `steviol_share`.

    Examples
    --------
    >>> {name: round(share, 2) for name, share in substances_named("E 962").items()}
    {'aspartame': 0.64, 'acesulfame k': 0.44}
    >>> substances_named("caffeine-free"), substances_named("sodium saccharin")
    ({}, {'saccharin': 1.0})
    """
    plain, tokens = label_words(name)
    padded = f" {plain} "
    found = {s: 1.0 for s, words in _NAMES.items() if any(w in tokens or _phrase(w, padded) for w in words)}
    if len(found) > 1:
        found.pop("sodium", None)
    if "e962" in tokens or ("salt" in tokens and set(found) == set(_SALT_G_PER_G)):
        return {s: _SALT_G_PER_G.get(s, share) for s, share in found.items()}
    return {s: steviol_share(name) if s == "steviol glycosides" else share for s, share in found.items()}


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


def limit_for(substance: str, jurisdiction: str = "EU") -> Limit | None:
    """Return a substance's limit in a jurisdiction, or None when there is none."""
    check_jurisdiction(jurisdiction)
    return next((x for x in LIMITS if x.substance == substance and x.jurisdiction == jurisdiction), None)


def daily_limit_mg(substance: str, body_mass_kg: float, jurisdiction: str = "EU") -> float | None:
    """Return mg per day for a body mass; None where no limit is known, 0 where it is not permitted.

    Raises
    ------
    QuantityError
        When the body mass is not between 2 and 400 kg.

    Examples
    --------
    >>> daily_limit_mg("sucralose", 70), daily_limit_mg("sucralose", 70, "US")
    (1050.0, 350.0)
    """
    if not (math.isfinite(body_mass_kg) and 2 <= body_mass_kg <= 400):
        raise QuantityError(f"body_mass_kg is {body_mass_kg:g}, allowed is 2 to 400 kg", "state the body mass in kg")
    limit = limit_for(substance, jurisdiction)
    if limit is None:
        return None
    if not limit.permitted:
        return 0.0
    found = [limit.mg_per_day, None if limit.mg_per_kg is None else limit.mg_per_kg * body_mass_kg]
    return min((float(x) for x in found if x is not None), default=None)
