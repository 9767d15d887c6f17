"""Who drinks: body mass and age as far as they are stated, and what is assumed where they are not."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from pairing.errors import QuantityError
from pairing.model.shelf import Shelf
from pairing.model.taster import Taster

__all__ = [
    "ADULT_KG",
    "CUPS_OF_A_CHILD",
    "REMEDY",
    "Person",
    "impossible",
    "people_of",
    "person_of",
    "tastes_as_child",
]

ADULT_KG = 70.0
"""Body mass of an adult where none is stated (EFSA Journal 2012;10(3):2579)."""
_BY_AGE = ((1.0, 5.0), (3.0, 12.0), (10.0, 23.0), (14.0, 43.0), (18.0, 61.0))
"""Age below which, and body mass in kg where none is stated: EFSA Journal 2012;10(3):2579 (from memory)."""
_POSSIBLE_KG = (
    *((1.0, 2.0, 18.0), (2.0, 4.0, 30.0), (5.0, 6.0, 50.0), (10.0, 9.0, 100.0), (14.0, 13.0, 180.0)),
    *((18.0, 18.0, 300.0), (math.inf, 20.0, 400.0)),
)
"""Age below which, and the least and most that anybody weighs: wide around the WHO's growth standards (our choice)."""
_MAY_BE_A_CHILD_KG = 40.0
"""Below this an adult is rare, so that limits for children hold where no age is stated (our choice)."""
REMEDY = "correct the body mass (kg) or the age (years), or leave one of them empty"
INFANT_YEARS, MINOR_YEARS = 1.0, 18.0
CHILD_YEARS = 12.0
"""Below this no cup of a taster has alcohol, caffeine or intense sweeteners, and there are few of them (our choice)."""
CUPS_OF_A_CHILD = 4
"""Flavoured cups that a child tastes in one evening at most (common practice, no source)."""


@dataclass(frozen=True)
class Person:
    """One drinker.

    Attributes
    ----------
    name : str
        Empty when nobody is named.
    body_mass_kg : float
    age_years : float or None
    stated : bool
        Whether the body mass is that person's own.
    taster : Taster or None
        None: nothing is known but the name.
    """

    name: str
    body_mass_kg: float
    age_years: float | None
    stated: bool
    taster: Taster | None

    @property
    def child(self) -> bool:
        """Whether limits for children hold: by age, or by body mass where no age is stated."""
        if self.age_years is None:
            return self.stated and self.body_mass_kg < _MAY_BE_A_CHILD_KG
        return self.age_years < MINOR_YEARS

    @property
    def infant(self) -> bool:
        """Whether this may be a child of less than a year."""
        if self.age_years is None:
            return self.stated and self.body_mass_kg < _BY_AGE[1][1]
        return self.age_years < INFANT_YEARS

    @property
    def asks_professional(self) -> bool:
        """Whether somebody else says what this person may drink: pregnancy, medical diet, medicines."""
        return getattr(self.taster, "asks_professional", None) == "yes"

    def is_one_of(self, who: str) -> bool:
        """Tell whether a limit holds for this person: for ``all``, ``adult``, ``child`` (or ``under 18``), ``infant``.

        ``asking`` is who asks a professional, and may be pregnant or take medicines.
        """
        if who in ("infant", "asking"):
            return self.infant if who == "infant" else self.asks_professional
        return who == "all" or (self.child if who in ("child", "under 18") else not self.child)

    def __str__(self) -> str:
        assumed = "" if self.stated else " assumed"
        mass = f"{self.body_mass_kg:g} kg{assumed}"
        return f"{self.name} ({mass})" if self.name else f"{mass}"


def tastes_as_child(taster: Taster) -> bool:
    """Whether somebody tastes as a child: few cups, and nothing in them that is not for children.

    Examples
    --------
    >>> tastes_as_child(Taster(taster="bo", age_years=8)), tastes_as_child(Taster(taster="ana"))
    (True, False)
    """
    return taster.age_years is not None and taster.age_years < CHILD_YEARS


def people_of(tasters: Iterable[Taster | str], shelf: Shelf) -> tuple[Person, ...]:
    """Return who drinks; nobody named is one adult of whom nothing is known.

    Examples
    --------
    >>> [str(p) for p in people_of((), Shelf.of([], []))]
    ['70 kg assumed']
    >>> str(people_of([Taster(taster="bo", body_mass_kg=22)], Shelf.of([], []))[0])
    'bo (22 kg)'
    """
    found = [t if isinstance(t, Taster) else shelf.tasters.get(t, t) for t in tasters]
    return tuple(map(person_of, found)) or (Person("", ADULT_KG, None, False, None),)


def impossible(taster: Taster) -> str | None:
    """Say what nobody can be: so light or so heavy at that age; None where it can be, or is not known.

    Examples
    --------
    >>> impossible(Taster(taster="bo", age_years=0, body_mass_kg=20))
    'body_mass_kg is 20 at an age of 0, allowed is 2 to 18 kg'
    """
    age, mass = taster.age_years, taster.body_mass_kg
    if age is None or mass is None:
        return None
    least, most = next((low, high) for below, low, high in _POSSIBLE_KG if age < below)
    if least <= mass <= most:
        return None
    return f"body_mass_kg is {mass:g} at an age of {age:g}, allowed is {least:g} to {most:g} kg"


def person_of(taster: Taster | str) -> Person:
    """Return a taster as a drinker; a name alone is one of whom nothing is known."""
    if isinstance(taster, str):
        return Person(taster, ADULT_KG, None, False, None)
    if wrong := impossible(taster):
        raise QuantityError(f"{taster.taster}: {wrong}", REMEDY)
    age = taster.age_years
    if taster.body_mass_kg is not None:
        return Person(taster.taster, float(taster.body_mass_kg), age, True, taster)
    by_age = next((kg for below, kg in _BY_AGE if age is not None and age < below), ADULT_KG)
    return Person(taster.taster, by_age, age, False, taster)
