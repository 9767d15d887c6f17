"""The one place in which the values of `reason` become words, with names where a shelf is at hand, else with ids.

Nothing reads these words again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pairing.errors import first_few
from pairing.model.columns import JUST_RIGHT, STRENGTH_WORDS
from pairing.model.constants import Z80

if TYPE_CHECKING:
    from pairing.model.reason import Lack, Reason
    from pairing.model.shelf import Shelf

__all__ = ["lacks", "part", "sentence"]

_OTHER_PARTS = {
    "taster": "tasters",
    "bounds": "ends of the scale",
    "plain": "nothing added",
    "several": "several flavourings",
    "too weak": "dose too weak, or may be",
    "too strong": "dose too strong, or may be",
}


def sentence(reason: Reason, shelf: Shelf | None = None) -> str:
    """Say a reason as a sentence without a capital and a full stop; what follows ± holds in 80 of 100 cases."""
    if reason.kind in _SENTENCES:
        return _SENTENCES[reason.kind](reason, *_names(reason, shelf))
    if reason.points is None:
        raise KeyError(f"a reason of kind {reason.kind!r} has neither words nor points")
    points, spread = reason.points, "" if reason.sd is None else f" ± {Z80 * reason.sd:.1f}"
    of = "points" if reason.target_id is None else f"points of {_goal(reason)}"
    if reason.cups is None:
        return f"{part(reason, shelf)}: {points:+.1f}{spread} {of}"
    verb, behind = ("gained" if points > 0 else "lost"), f" in {_cups(reason)}"
    if reason.cups == 0:
        verb = f"is expected to {'gain' if points > 0 else 'lose'}"
        behind = ", not scored so far" if reason.target_id is None else ", not compared with it so far"
    return f"{part(reason, shelf)}: {verb} {abs(points):.1f}{spread} {of}{behind}"


def part(reason: Reason, shelf: Shelf | None = None) -> str:
    """Name what a part of a prediction is about.

    Examples
    --------
    >>> from pairing.model.reason import Reason
    >>> part(Reason(kind="affinity", base_id="oat", families=("fruit",))), part(Reason(kind="dose", what="too weak"))
    ('fruit family in oat', 'dose too weak, or may be')
    """
    if reason.kind == "rule":
        return f"{reason.text} ({reason.rule_id})" if reason.text else str(reason.rule_id)
    if reason.kind == "pool":
        return f"{part(replace(reason, kind='affinity'), shelf)}, as other kitchens know it"
    base, names = _names(reason, shelf)
    if inside := " + ".join([*names, *(f"{family} family" for family in reason.families)]):
        return f"{inside} in {base}" if base else inside
    return base or _OTHER_PARTS.get(reason.what or reason.kind, reason.kind)


def lacks(found: Iterable[Lack], names: Mapping[str, str] = MappingProxyType({})) -> list[str]:
    """Say what is not known, item by item, by the names that are given, else by the ids.

    Examples
    --------
    >>> from pairing.model.reason import Lack
    >>> lacks([Lack("plum", "energy"), Lack("oat", "cost"), Lack("plum", "cost")], {"plum": "Plum drops"})
    ['Plum drops lacks energy, cost', 'oat lacks cost']
    """
    by_item: dict[str, list[str]] = {}
    for one in found:
        by_item.setdefault(one.item_id, []).append(one.what)
    return [f"{names.get(item, item)} lacks {', '.join(what)}" for item, what in by_item.items()]


def _names(reason: Reason, shelf: Shelf | None) -> tuple[str, list[str]]:
    """Return what base and flavourings are called, or the items of which something is not known."""
    bases: Mapping[str, Any] = {} if shelf is None else shelf.bases
    items: Mapping[str, Any] = {} if shelf is None else shelf.flavourings
    if reason.item_ids:
        items = {**items, **bases}
    names = [items[i].name if i in items else i for i in reason.item_ids or reason.flavouring_ids]
    base_id = reason.base_id or ""
    return bases[base_id].name if base_id in bases else base_id, names


def _goal(reason: Reason) -> str:
    return "liking" if reason.target_id is None else f"likeness to {reason.target_id}"


def _cups(reason: Reason) -> str:
    return f"{reason.cups} cup{'' if reason.cups == 1 else 's'}"


def _tried(reason: Reason, base: str) -> str:
    times = "once" if reason.cups == 1 else f"{reason.cups} times"
    return f"{reason.kind}: tried {times} in {base}" + (
        ", nobody scored it yet" if reason.liking is None else f", liked {reason.liking:.1f}"
    )


def _confirm(reason: Reason, base: str, names: list[str]) -> str:
    how = "" if reason.poured else ", only at the end of a ladder"
    if reason.poured and reason.cups == 1:
        how = ", poured straight"
    return f"{_tried(reason, base)}{how}; pour it fresh and taste again"


def _adjust(reason: Reason, base: str, names: list[str]) -> str:
    read = "" if reason.strength is None else f" ('{STRENGTH_WORDS[reason.strength]}')"
    before = f"{names[0]} was at {reason.tried_g_per_kg:.3g} g/kg{read}"
    but = " there, yet all in all " if reason.strength == JUST_RIGHT else ", "
    return f"{_tried(reason, base)}; {before}{but}{reason.dose_g_per_kg:.3g} g/kg should be right"


def _needed_dose(reason: Reason, base: str, names: list[str]) -> str:
    sure = f"(± {100 * math.expm1(Z80 * (reason.log_sd or 0.0)):.0f} %)"
    if reason.cups:
        return f"{names[0]} needs {reason.label_ratio:.1f} × its label here {sure}"
    why = "it has no label direction" if reason.label_ratio is None else "only its label speaks for it"
    return f"{names[0]} was never tasted, its dose is a guess {sure}: {why}; start lower and step up"


def _role(reason: Reason, base: str, names: list[str]) -> str:
    role = "was lowered to keep the limits: the accent" if reason.kind == "lowered" else "is the lead"
    return f"{names[0]} {role}, most likely '{STRENGTH_WORDS[reason.strength or 0]}'"


def note_in_words(off_note: str) -> str:
    """Say an off-note.

    Examples
    --------
    >>> note_in_words("sweet@aftertaste"), note_in_words("beany")
    ('sweet after the swallow', 'beany')
    """
    return off_note.replace("@aftertaste", " after the swallow")


def _mask(reason: Reason, base: str, names: list[str]) -> str:
    return (
        f"mask: {note_in_words(reason.what)} is expected in {reason.share:.0%} of cups instead of "
        f"{reason.share_plain:.0%} in plain {base}; liking {reason.points or 0.0:+.1f} points beside it"
    )


_SENTENCES: Mapping[str, Callable[[Reason, str, list[str]], str]] = {
    "mask": _mask,
    "new": lambda reason, base, names: f"new: not tried in {base} yet",
    "confirm": _confirm,
    "adjust": _adjust,
    "needed dose": _needed_dose,
    "lead": _role,
    "lowered": _role,
    "worth": lambda reason, base, names: (
        f"one cup of it is expected to raise the best known {_goal(reason)} by {reason.points:.2f} points"
    ),
    "stock": lambda reason, base, names: f"{_cups(reason)} of it left in the bottle of {names[0]}",
    "unknown": lambda reason, base, names: f"unknown {reason.what} leaves out {first_few(names)}",
    "limit": lambda reason, base, names: f"{reason.text} ({reason.rule_id}): leaves out {first_few(names)}",
    "goal": lambda reason, base, names: f"{reason.text} ({reason.rule_id}): worth {reason.points:+.1f} points",
    "no food": lambda reason, base, names: f"poison, or no food, by what is written: leaves out {first_few(names)}",
    "avoided": lambda reason, base, names: f"{reason.taster} avoids {reason.what}: leaves out {first_few(names)}",
}
