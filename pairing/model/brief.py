"""A brief: what is wanted now."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from pairing.errors import BriefError
from pairing.model.constants import MAX_SERVING_G
from pairing.model.fields import is_missing, listed, words
from pairing.model.given import Given, Ids
from pairing.quantities.rates import number_of

__all__ = ["Brief"]

Swallowed = tuple[tuple[str, tuple[tuple[str, float], ...]], ...]

_LIMITS = ("max_added_kcal", "max_total_kcal", "max_added_cost", "max_ethanol_pct_vv")
COLDEST_C, HOTTEST_C = -10.0, 100.0
"""What is drunk lies between (our choice)."""
_LISTS = ("bases", "tasters", "must_have", "never", "on_hand")


@dataclass(frozen=True, kw_only=True)
class Brief:
    """Goal, people, limits and preferences for the next cups. All optional; limits are per serving and hard.

    Attributes
    ----------
    goal : {"liking", "likeness"}
    target_id : str or None
        Needed for ``goal="likeness"``.
    bases, tasters, must_have, never, on_hand : tuple of str or None
        Ids; ``on_hand`` restricts to what is in reach, ``must_have`` is in every suggestion, ``never`` in none, nor
        any version or dilution of it.
    max_flavourings : int
        1 to 6.
    max_added_kcal, max_total_kcal : float or None
        kcal per serving.
    max_added_cost : float or None
        Bench currency per serving.
    avoid_allergens : frozenset of str
    max_ethanol_pct_vv : float or None
        % by volume of the finished drink.
    serving_g : float or None
        g of base poured; None: the base's serving, else 250 g.
    temperature_c : float or None
        °C at which it is going to be drunk, for rules that ask; None: not known.
    mask : str or None
        An off-note to bring down: suggestions are for that.
    already : mapping of taster to mg by substance
        What the tasters swallowed today, ``{"ana": {"caffeine": 120}}``: it counts towards the day's limits.

    Raises
    ------
    BriefError
        When a field is out of range or two contradict each other.
    """

    goal: str = "liking"
    target_id: str | None = None
    bases: Ids = Ids()
    tasters: Ids = Ids()
    must_have: Ids = Ids()
    never: Ids = Ids()
    on_hand: Ids = Ids()
    max_flavourings: int = 2
    max_added_kcal: float | None = None
    max_total_kcal: float | None = None
    max_added_cost: float | None = None
    avoid_allergens: Given[frozenset[str], Iterable[str] | str | None] = Given()
    max_ethanol_pct_vv: float | None = None
    serving_g: float | None = None
    temperature_c: float | None = None
    mask: str | None = None
    already: Given[Swallowed, Mapping[str, Any]] = Given(())

    def __post_init__(self) -> None:
        if self.goal not in ("liking", "likeness"):
            raise BriefError(f"goal {self.goal!r} is not known", "use liking or likeness")
        if self.goal == "likeness" and self.target_id is None:
            raise BriefError("goal likeness has no target_id", "name the target that the cup should resemble")
        for name in _LISTS:
            object.__setattr__(self, name, _ids(getattr(self, name), name))
        avoided = words(self.avoid_allergens)
        if avoided is None and not is_missing(self.avoid_allergens):
            raise BriefError(f"avoid_allergens is {self.avoid_allergens!r}, no allergen", "name it, such as milk")
        object.__setattr__(self, "avoid_allergens", avoided or frozenset())
        object.__setattr__(self, "already", _swallowed(self.already))
        if isinstance(self.max_flavourings, bool) or self.max_flavourings not in range(1, 7):
            raise BriefError(
                f"max_flavourings is {self.max_flavourings!r}, allowed is 1 to 6", "most cups need one or two"
            )
        object.__setattr__(self, "max_flavourings", int(self.max_flavourings))
        for name in (*_LIMITS, "serving_g"):
            object.__setattr__(self, name, _limit(name, getattr(self, name)))
        if self.serving_g is not None and not 1 <= self.serving_g <= MAX_SERVING_G:
            raise BriefError(
                f"serving_g is {self.serving_g:g}, allowed is 1 to {MAX_SERVING_G:g} g", "give the base in one serving"
            )
        if self.temperature_c is not None:
            degrees = number_of(self.temperature_c, "temperature_c", BriefError)
            if not COLDEST_C <= degrees <= HOTTEST_C:
                told = f"temperature_c is {degrees:g}, allowed is {COLDEST_C:g} to {HOTTEST_C:g} °C"
                raise BriefError(told, "give the temperature of the cup as it is drunk")
            object.__setattr__(self, "temperature_c", degrees)
        self._check_contradictions()

    def _check_contradictions(self) -> None:
        must, never = set(self.must_have or ()), set(self.never or ())
        if both := sorted(must & never):
            raise BriefError(f"{', '.join(both)} is in must_have and in never", "drop it from one of the two")
        if len(must) > self.max_flavourings:
            raise BriefError(
                f"must_have names {len(must)} flavourings, max_flavourings is {self.max_flavourings}",
                "raise max_flavourings",
            )
        if self.on_hand is not None and (missing := sorted(must - set(self.on_hand))):
            raise BriefError(f"{', '.join(missing)} is in must_have but not on_hand", "add it to on_hand")

    @property
    def swallowed(self) -> dict[str, dict[str, float]]:
        """What each taster swallowed today, mg by substance."""
        return {name: dict(amounts) for name, amounts in self.already}

    @property
    def limits(self) -> dict[str, float]:
        """Hard numeric limits that are set, by name."""
        return {name: value for name in _LIMITS if (value := getattr(self, name)) is not None}


def _swallowed(value: Any) -> Swallowed:
    """Return what was swallowed as tuples, so that a brief can be compared, hashed and written."""
    try:
        given: dict[Any, Any] = dict(value or ())
        each = {str(name): dict(getattr(amounts, "mg", amounts)) for name, amounts in given.items()}
        found = {n: tuple(sorted((str(s), float(mg)) for s, mg in amounts.items())) for n, amounts in each.items()}
    except (TypeError, ValueError):
        raise BriefError(f"already is {value!r}", 'write {"ana": {"caffeine": 120}}, in mg') from None
    return tuple(sorted(found.items()))


def _ids(value: Iterable[str] | str | None, name: str) -> tuple[str, ...] | None:
    if value is None:
        return None
    found = tuple(dict.fromkeys(listed(value, name)))
    if not found and name in ("bases", "on_hand"):
        raise BriefError(f"{name} is an empty list: nothing can be suggested", "leave it out to allow all")
    return found or None


def _limit(name: str, value: object) -> float | None:
    number = None if value is None else number_of(value, name, BriefError)
    if number is not None and not 0 <= number < math.inf:
        raise BriefError(f"{name} is {number:g}, it must be 0 or more", "correct it or leave it out")
    return number
