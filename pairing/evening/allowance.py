"""What each taster may still take tonight: sips, energy, and mg of what is counted."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pairing.errors import BriefError, nearest
from pairing.nutrition.content import content
from pairing.nutrition.facts import facts_of, sum_up
from pairing.nutrition.substances import INTENSE_SWEETENERS, SUBSTANCES

if TYPE_CHECKING:
    from pairing.model.shelf import Shelf
    from pairing.safety.swallowed import Tally

__all__ = ["SWEETENERS", "Taken", "allowances"]

SWEETENERS = "sweeteners"
"""All intense sweeteners together, mg."""
_COUNTED = ("sips", "kcal", SWEETENERS, "ethanol", *SUBSTANCES)
_HOW = 'write {"kcal": 150, "caffeine": 80}, in mg, for everybody, or {"ana": {"kcal": 150}}'


def allowances(most: Mapping[str, Any] | None, tasters: Iterable[str]) -> dict[str, dict[str, float]]:
    """Return the most of everything for each taster.

    Parameters
    ----------
    most : mapping of str to float, or of taster to such a mapping
        ``sips``, ``kcal``, ``sweeteners`` (all intense ones, mg), or mg of a substance; ``ethanol_g`` is in g.
    tasters : iterable of str

    Raises
    ------
    BriefError
        When it is something else, or names nothing that is counted, or nobody who is there.

    Examples
    --------
    >>> allowances({"kcal": 150, "ethanol_g": 2}, ["ana"])
    {'ana': {'kcal': 150.0, 'ethanol': 2000.0}}
    """
    names = tuple(tasters)
    if not most:
        return {name: {} for name in names}
    if not isinstance(most, Mapping):
        raise BriefError(f"most is {most!r}", _HOW)
    if not any(isinstance(one, Mapping) for one in most.values()):
        return {name: _checked(most) for name in names}
    if absent := [name for name in most if name not in names]:
        raise BriefError(f"{absent[0]!r} has a limit and does not taste tonight", nearest(str(absent[0]), names))
    return {name: _checked(most.get(name, {})) for name in names}


def _checked(amounts: Any) -> dict[str, float]:
    if not isinstance(amounts, Mapping):
        raise BriefError(f"most is {amounts!r}", _HOW)
    out = {}
    for key, value in amounts.items():
        name = str(key)
        unit = next((u for u in ("_mg", "_g") if name.endswith(u)), "")
        counted = name.removesuffix(unit)
        if counted not in _COUNTED:
            raise BriefError(f"{name!r} is not counted", nearest(counted, _COUNTED))
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < math.inf:
            raise BriefError(f"at most {value!r} of {name} cannot be", "give a number of 0 or more")
        out[counted] = float(value) * (1000.0 if unit == "_g" else 1.0)
    return out


@dataclass(frozen=True)
class Taken:
    """What one taster took so far, and would take.

    Attributes
    ----------
    shelf : Shelf
    before : Tally or None
        Of today, before the evening that is planned.
    sips_before : float
    grams : mapping of item id to float
        Planned, of every base and flavouring.
    sips : int
        Planned.
    """

    shelf: Shelf
    before: Tally | None = None
    sips_before: int = 0
    grams: Mapping[str, float] = field(default_factory=dict)
    sips: int = 0

    def and_also(self, grams: Mapping[str, float], sips: int) -> Taken:
        """Return it with another cup."""
        both = {**self.grams, **{name: self.grams.get(name, 0.0) + g for name, g in grams.items()}}
        return Taken(self.shelf, self.before, self.sips_before, both, self.sips + sips)

    @property
    def mg(self) -> dict[str, float]:
        """Mg of every substance that counts towards a limit of the day, today's among it; what is known of it."""
        total = dict(self.before.mg) if self.before is not None else {}
        found = content(self.grams, self.shelf).mg
        planned = {**found, "ethanol": max(1000.0 * self._sums()[1]["ethanol_g"], found.get("ethanol", 0.0))}
        for name, mg in planned.items():
            total[name] = total.get(name, 0.0) + mg
        return total

    def amounts(self, names: Iterable[str]) -> dict[str, tuple[float, tuple[str, ...]]]:
        """Return how much of each is taken, at least, and the items of which it is not known."""
        found, (exact, least) = content(self.grams, self.shelf), self._sums()
        mg, out = self.mg, {}
        for name in names:
            unknown: tuple[str, ...] = ()
            if name == "sips":
                out[name] = float(self.sips_before + self.sips), unknown
            elif name in ("kcal", "ethanol"):
                column = "kcal" if name == "kcal" else "ethanol_g"
                before = 0.0 if self.before is None else self.before.at_least[column]
                known = exact[column] is not None and (self.before is None or getattr(self.before, column) is not None)
                amount = before + least[column] if name == "kcal" else mg.get("ethanol", 0.0)
                out[name] = amount, () if known else self._lacking(column)
            elif name == SWEETENERS:
                unknown = (*found.undeclared, *(i for s in INTENSE_SWEETENERS for i in found.unmeasured.get(s, ())))
                out[name] = math.fsum(mg.get(s, 0.0) for s in INTENSE_SWEETENERS), tuple(dict.fromkeys(unknown))
            else:
                unknown = found.unmeasured.get(name, ())
                if name in INTENSE_SWEETENERS:
                    unknown = tuple(dict.fromkeys((*unknown, *found.undeclared)))
                out[name] = mg.get(name, 0.0), unknown
        return out

    def _sums(self) -> tuple[dict[str, float | None], dict[str, float]]:
        return sum_up([(self._facts(name), g) for name, g in self.grams.items()])

    def _facts(self, name: str) -> Any:
        item = self.shelf.bases[name] if name in self.shelf.bases else self.shelf.flavouring(name)
        return facts_of(item, self.shelf, self.shelf.jurisdiction)

    def _lacking(self, column: str) -> tuple[str, ...]:
        lacking = tuple(n for n, g in self.grams.items() if g > 0 and sum_up([(self._facts(n), g)])[0][column] is None)
        return lacking or ("what was taken before",)
