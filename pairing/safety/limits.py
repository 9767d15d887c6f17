"""Published limits as data: of what, how much, per what, for whom, how grave, where, since when and by whom.

The rows are in ``limits.csv``. An *acute* or *legal* limit stops; an intake that is acceptable every day for life (ADI)
is an average, and more of it once only warns.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources

from pairing.errors import QuantityError, nearest
from pairing.model.caution import SEVERITIES
from pairing.nutrition.factors import check_jurisdiction

__all__ = ["Limit", "check_body_mass", "daily_limit_mg", "limits", "limits_in", "read_limits"]

UNITS = ("mg", "mg/kg body mass", "mg/kg drink", "% vol")
PERIODS = ("once", "hour", "day", "drink")
WHO = ("all", "adult", "child", "under 18", "asking")
BASES = ("acute", "lifetime", "legal", "label", "choice")
CHECKED = ("published", "2nd-hand", "from memory", "common practice")
_LIGHTEST_KG, _HEAVIEST_KG = 2.0, 400.0


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit of one substance.

    Attributes
    ----------
    substance : str
        As in `pairing.nutrition.substances`, or ``ethanol``, ``polyols`` or ``acids``.
    jurisdiction : {"EU", "US", "any"}
    most : float
        In ``unit``; 0 where there may be none.
    unit : {"mg", "mg/kg body mass", "mg/kg drink", "% vol"}
        Steviol glycosides as steviol equivalents, quinine as quinine.
    per : {"once", "hour", "day", "drink"}
    who : {"all", "adult", "child", "under 18", "asking"}
    severity : {"stop", "warn", "note"}
        Of more than ``from_share`` of it.
    from_share : float
    unmeasured : {"all", ""}
        Whether what names the substance without an amount counts as if it were nothing else.
    basis : {"acute", "lifetime", "legal", "label", "choice"}
        ``label``: a statement that labels must carry, in ``note``; ``choice``: ours.
    year : int
    source : str
    checked : {"published", "2nd-hand", "from memory", "common practice"}
        How the figure came here.
    note : str
    """

    substance: str
    jurisdiction: str
    most: float
    unit: str
    per: str
    who: str
    severity: str
    from_share: float
    unmeasured: str
    basis: str
    year: int
    source: str
    checked: str
    note: str = ""

    @property
    def cited(self) -> str:
        """The source, and where the figure was not seen there, that it was not."""
        return self.source if self.checked in ("published", "2nd-hand") else f"{self.source} ({self.checked})"

    def most_mg(self, body_mass_kg: float, finished_g: float = math.nan) -> float:
        """Return the limit in mg for a body mass, and for a mass of drink where it is one of the drink."""
        if self.unit == "mg/kg body mass":
            return self.most * body_mass_kg
        return self.most * finished_g / 1000 if self.unit == "mg/kg drink" else self.most


_COLUMNS = {"unit": UNITS, "per": PERIODS, "who": WHO, "severity": SEVERITIES, "basis": BASES, "checked": CHECKED}


def read_limits(lines: Iterable[str]) -> tuple[Limit, ...]:
    """Read a table of limits.

    Raises
    ------
    QuantityError
        When a limit has no unit, or a cell is none of what its column allows; it names the row.

    Examples
    --------
    >>> read_limits(["substance,most,unit", "caffeine,200,"])
    Traceback (most recent call last):
    pairing.errors.QuantityError: limit of 'caffeine' (row 2): unit is empty — write one of: mg, mg/kg body mass, …
    """
    return tuple(_limit(row, number) for number, row in enumerate(csv.DictReader(lines), start=2))


def _limit(row: dict[str, str], number: int) -> Limit:
    about = f"limit of {row.get('substance')!r} (row {number})"
    for name, allowed in _COLUMNS.items():
        value = row.get(name) or ""
        if value not in allowed:
            said = f"{name} is {value!r}" if value else f"{name} is empty"
            listed = ", ".join(allowed[:2]) + ", …"
            raise QuantityError(f"{about}: {said}", nearest(value, allowed) if value else f"write one of: {listed}")
    try:
        numbers = {"most": float(row["most"]), "from_share": float(row["from_share"]), "year": int(row["year"])}
    except (KeyError, ValueError) as error:
        raise QuantityError(f"{about}: {error}", "most, from_share and year are numbers") from None
    if not (math.isfinite(numbers["most"]) and numbers["most"] >= 0 and row.get("source")):
        raise QuantityError(f"{about}: most is {row['most']}, source {row.get('source')!r}", "0 or more, and a source")
    return Limit(**{**row, **numbers})  # type: ignore[arg-type]


@cache
def limits() -> tuple[Limit, ...]:
    """Return all limits of the package."""
    return read_limits(resources.files(__package__).joinpath("limits.csv").read_text("utf-8").splitlines())


@cache
def limits_in(jurisdiction: str) -> tuple[Limit, ...]:
    """Return the limits that hold in a jurisdiction."""
    check_jurisdiction(jurisdiction)
    return tuple(limit for limit in limits() if limit.jurisdiction in (jurisdiction, "any"))


def check_body_mass(body_mass_kg: float) -> float:
    """Return it when somebody can weigh that.

    Raises
    ------
    QuantityError
    """
    if not (math.isfinite(body_mass_kg) and _LIGHTEST_KG <= body_mass_kg <= _HEAVIEST_KG):
        raise QuantityError(
            f"body_mass_kg is {body_mass_kg:g}, allowed is {_LIGHTEST_KG:g} to {_HEAVIEST_KG:g} kg",
            "state the body mass in kg",
        )
    return body_mass_kg


def daily_limit_mg(substance: str, body_mass_kg: float, jurisdiction: str = "EU") -> float | None:
    """Return mg per day for an adult's body mass; None where no limit is known, 0 where it is not permitted.

    Raises
    ------
    QuantityError
        When the body mass is not between 2 and 400 kg.

    Examples
    --------
    >>> daily_limit_mg("sucralose", 70), daily_limit_mg("sucralose", 70, "US")
    (1050.0, 350.0)
    """
    check_body_mass(body_mass_kg)
    mine = [x for x in limits_in(jurisdiction) if x.substance == substance and x.who in ("all", "adult")]
    found = [x.most_mg(body_mass_kg) for x in mine if x.per == "day" or x.most == 0]
    return min(found, default=None)
