"""What recipes serve held against the limits: one table for all recipes, and words for those that are shown."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pairing.model.caution import Caution
from pairing.nutrition.alcohol import ethanol_pct_vv
from pairing.safety.limits import Limit, limits_in
from pairing.safety.people import Person
from pairing.safety.served import Served

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Already", "against_limits", "said_as_share", "shares", "stopped"]

Already = Mapping[str, Mapping[str, float]]
"""mg of each substance that each taster swallowed today, by the taster's id."""
_FULL = 1.0 + 1e-9
"""Share of a limit above which it is passed: at most 200 mg allows 200 mg."""
_WORTH_SAYING = 0.25
"""Share of a day's limit above which it is said (our choice, no source)."""
_AS_TIMES = 3.0
"""Share above which people are told so many times the limit, not so many per cent."""
_IN_GRAMS_MG = 5000.0
_WHO = {"under 18": "under 18", "asking": "who may be pregnant or take medicines"}
_UNITS = {"steviol glycosides": " steviol equivalents"}


def shares(limit: Limit, person: Person, held: Served, already: Already) -> Floats:
    """Return which share of a limit each of n servings takes up for one person, with what was swallowed today.

    A serving that adds nothing takes up nothing, whatever was swallowed before.

    Where the limit says so, what a name leaves unmeasured counts as the most that it may be: unknown is never zero.
    """
    most: Floats | float
    own = amount = held.of(limit.substance, at_most=limit.unmeasured == "all")
    if limit.per == "day":
        amount = amount + already.get(person.name, {}).get(limit.substance, 0.0)
    if limit.unit == "% vol":
        amount, most = ethanol_pct_vv(amount / 1000, held.finished_g, held.density_g_per_ml), limit.most
    else:
        per_g = held.finished_g if limit.unit == "mg/kg drink" else 1.0
        most = limit.most_mg(person.body_mass_kg, 1.0) * per_g
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(own > 0, amount / most, 0.0)


def stopped(held: Served, people: Iterable[Person], jurisdiction: str, already: Already) -> NDArray[np.bool_]:
    """Return which of n servings are above a limit that stops, for anybody who drinks."""
    found = np.zeros(len(held), dtype=bool)
    for limit in limits_in(jurisdiction):
        if limit.severity == "stop" and limit.substance in held.column:
            for person in people:
                if person.is_one_of(limit.who):
                    found |= shares(limit, person, held, already) > limit.from_share * _FULL
    return found


@dataclass(frozen=True)
class _Worst:
    """Who is nearest to a limit, or furthest beyond it, and who else is beyond it."""

    limit: Limit
    person: Person
    share: float
    over: tuple[Person, ...]


def against_limits(
    held: Served,
    people: Sequence[Person],
    jurisdiction: str,
    already: Already,
    holders: Callable[[str], Sequence[str]],
    per: Iterable[str] = ("once", "hour", "day", "drink"),
) -> Iterator[Caution]:
    """Hold one serving, or one session, against every limit.

    Parameters
    ----------
    held : Served
        Of one row.
    people : sequence of Person
    jurisdiction : {"EU", "US"}
    already : mapping
        See `Already`.
    holders : callable
        Ids of what holds a substance.
    per : iterable of str
        Which limits are asked: a day's tally asks for ``day`` alone.
    """
    wanted = frozenset(per)
    by_group: dict[tuple[str, str, str], _Worst] = {}
    for limit in limits_in(jurisdiction):
        if limit.per not in wanted or limit.substance not in held.column:
            continue
        for person in (p for p in people if p.is_one_of(limit.who)):
            share = float(shares(limit, person, held, already)[0])
            group = limit.substance, limit.per, "label" if limit.basis == "label" else ""
            before, over = by_group.get(group), (person,) if share > limit.from_share * _FULL else ()
            others = () if before is None else before.over
            if before is None or (_gravity(limit, share), share) > (_gravity(before.limit, before.share), before.share):
                before = _Worst(limit, person, share, over)
            by_group[group] = _Worst(before.limit, before.person, before.share, tuple(dict.fromkeys((*others, *over))))
    for worst in by_group.values():
        if worst.over or worst.share > 0:
            yield from _said(worst, held, jurisdiction, already, tuple(holders(worst.limit.substance)))


def _gravity(limit: Limit, share: float) -> int:
    """Rank what is said: 3 a stop, 2 a warning, 1 a note, 0 nothing."""
    if share > limit.from_share * _FULL:
        return {"stop": 3, "warn": 2, "note": 1}[limit.severity]
    return 0


def _said(
    worst: _Worst, held: Served, jurisdiction: str, already: Already, items: tuple[str, ...]
) -> Iterator[Caution]:
    limit, share = worst.limit, worst.share
    over = bool(worst.over)
    if not over and (limit.per != "day" or limit.basis == "label" or share <= _WORTH_SAYING):
        if limit.substance == "glycerol" and share > 0:
            yield _intake(limit, worst, f"glycerol ({{items}}) and a child: {limit.note}", {}, items, "note")
        return
    severity = limit.severity if over else "note"
    if limit.most == 0:
        words = f"{limit.substance} ({{items}}) may not be in a drink here"
        yield _intake(limit, worst, words, {}, items, severity)
        return
    if limit.unit in ("mg/kg drink", "% vol"):
        yield _intake(limit, worst, *_of_the_drink(limit, held, share), items, severity)
        return
    unit, per_unit = ("g", 1000.0) if limit.most_mg(worst.person.body_mass_kg) >= _IN_GRAMS_MG else ("mg", 1.0)
    before = already.get(worst.person.name, {}).get(limit.substance, 0.0)
    most = limit.most_mg(worst.person.body_mass_kg)
    amount = share * most
    figures = {"amount": amount / per_unit, "most": most / per_unit}
    name = f"{limit.substance}{' (at most: {items} states none)' if _guessed(limit, held, before, amount) else ''}"
    unit_said = f"{unit}{_UNITS.get(limit.substance, '')}"
    if limit.per in ("once", "hour"):
        period = "at once" if limit.per == "once" else "within an hour"
        words = f"{name}: {{amount}} {unit_said} {period}, at most {{most}} {unit} for {{people}}"
    else:
        with_before = "today with this cup" if before > 0 else "a day"
        said, share_figures = said_as_share(share)
        words = f"{name}: {{amount}} {unit_said} {with_before} is {said} the {{most}} {unit} a day for {{people}}"
        figures |= share_figures
    note = f"; {limit.note}" if limit.note else ""
    yield _intake(limit, worst, words + note, figures, items, severity)


def said_as_share(share: float) -> tuple[str, dict[str, float]]:
    """Return how a share of a limit is said, and its figure: per cent, and so many times where it is many."""
    if share > _AS_TIMES:
        return "{times} times", {"times": share}
    return "{percent} % of", {"percent": round(100 * share)}


def _guessed(limit: Limit, held: Served, before: float, amount: float) -> bool:
    return amount > float(held.of(limit.substance)[0]) + before + 1e-9


def _of_the_drink(limit: Limit, held: Served, share: float) -> tuple[str, dict[str, float]]:
    if limit.unit == "% vol":
        stated = float(ethanol_pct_vv(held.of("ethanol") / 1000, held.finished_g, held.density_g_per_ml)[0])
        perhaps = "perhaps " if share * limit.most > stated + 1e-9 else ""  # by a name, and nobody states it
        words = (
            f"{perhaps}{{amount}} % alcohol by volume: more than {{most}} % is not for {{people}}, {_WHO[limit.who]}"
        )
        return words, {"amount": share * limit.most, "most": limit.most}
    if limit.basis == "label" and limit.substance == "polyols":
        return f"{{percent}} % polyols: {limit.note}", {"percent": round(share * limit.most / 10_000)}
    if limit.basis == "label":
        per_100ml = share * limit.most / 10 * float(held.density_g_per_ml[0])
        return f"{{amount}} mg {limit.substance} in 100 ml: {limit.note}", {"amount": per_100ml}
    unit, per = ("g", 1000.0) if limit.most >= 1000 else ("mg", 1.0)
    note = f"; {limit.note}" if limit.note else ""
    words = f"{limit.substance} ({{items}}): {{amount}} {unit} per kg of drink, at most {{most}} {unit}{note}"
    return words, {"amount": share * limit.most / per, "most": limit.most / per}


def _intake(
    limit: Limit, worst: _Worst, words: str, figures: Mapping[str, float], items: tuple[str, ...], severity: str
) -> Caution:
    who = worst.over or (worst.person,)
    return Caution(
        kind="label" if limit.basis == "label" else "intake",
        severity=severity,
        words=words,
        items=items,
        people=tuple(map(str, dict.fromkeys((worst.person, *who)))),
        figures=figures,
        source=f"{limit.cited}, {limit.year}" if str(limit.year) not in limit.source else limit.cited,
        jurisdiction=limit.jurisdiction,
        cannot_know="what else is eaten and drunk that day, age, pregnancy and illness",
    )
