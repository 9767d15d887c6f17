"""The one place in which the values of `reason` become words, with names where a shelf is at hand, else with ids.

Nothing reads these words again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from pairing.errors import first_few
from pairing.model.columns import STRENGTH_WORDS

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
    """Say a reason as a sentence without a capital and a full stop."""
    return _SENTENCES.get(reason.kind, _points)(reason, _Names(shelf))


def part(reason: Reason, shelf: Shelf | None = None) -> str:
    """Name what a part of a prediction is about.

    Examples
    --------
    >>> from pairing.model.reason import Reason
    >>> part(Reason(kind="affinity", base_id="oat", families=("fruit",))), part(Reason(kind="dose", what="too weak"))
    ('fruit family in oat', 'dose too weak, or may be')
    """
    return _part(reason, _Names(shelf))


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


class _Names:
    """Names of bases and flavourings; of what the shelf does not hold, the id."""

    def __init__(self, shelf: Shelf | None) -> None:
        self._bases = {} if shelf is None else shelf.bases
        self._flavourings = {} if shelf is None else shelf.flavourings

    def base(self, base_id: str | None) -> str:
        found = self._bases.get(base_id or "")
        return str(base_id) if found is None else found.name

    def flavouring(self, flavouring_id: str) -> str:
        found = self._flavourings.get(flavouring_id)
        return flavouring_id if found is None else found.name

    def item(self, item_id: str) -> str:
        return self.base(item_id) if item_id in self._bases else self.flavouring(item_id)


def _part(reason: Reason, names: _Names) -> str:
    if reason.kind == "rule":
        return f"{reason.text} ({reason.rule_id})" if reason.text else str(reason.rule_id)
    inside = [*map(names.flavouring, reason.flavouring_ids), *(f"{f} family" for f in reason.families)]
    if inside:
        return " + ".join(inside) + (f" in {names.base(reason.base_id)}" if reason.base_id else "")
    return names.base(reason.base_id) if reason.base_id else _OTHER_PARTS.get(reason.what or reason.kind, reason.kind)


def _points(reason: Reason, names: _Names) -> str:
    """Say what a part gains; without a scored cup behind it, what it is expected to gain."""
    points, of = reason.points or 0.0, "" if reason.target_id is None else f" of {_goal(reason)}"
    spread = "" if reason.sd is None else f" ± {reason.sd:.1f}"
    if reason.cups is None:
        return f"{_part(reason, names)}: {points:+.1f}{spread} points{of}"
    if reason.cups:
        verb, behind = ("gained" if points > 0 else "lost"), f" in {_cups(reason.cups)}"
    else:
        verb = f"is expected to {'gain' if points > 0 else 'lose'}"
        behind = ", not scored so far" if reason.target_id is None else ", not compared with it so far"
    return f"{_part(reason, names)}: {verb} {abs(points):.1f}{spread} points{of}{behind}"


def _goal(reason: Reason) -> str:
    return "liking" if reason.target_id is None else f"likeness to {reason.target_id}"


def _cups(n: int) -> str:
    return f"{n} cup{'' if n == 1 else 's'}"


def _new(reason: Reason, names: _Names) -> str:
    return f"new: not tried in {names.base(reason.base_id)} yet"


def _tried(reason: Reason, names: _Names) -> str:
    times = "once" if reason.cups == 1 else f"{reason.cups} times"
    liked = "" if reason.liking is None else f", liked {reason.liking:.1f}"
    return f"{reason.kind}: tried {times} in {names.base(reason.base_id)}{liked}"


def _confirm(reason: Reason, names: _Names) -> str:
    how = "" if reason.poured else ", only at the end of a ladder"
    if reason.poured and reason.cups == 1:
        how = ", poured straight"
    return f"{_tried(reason, names)}{how}; pour it fresh and taste again"


def _adjust(reason: Reason, names: _Names) -> str:
    read = "" if reason.strength is None else f" ('{STRENGTH_WORDS[reason.strength]}')"
    return (
        f"{_tried(reason, names)}; {_flavourings(reason, names)} was at {reason.tried_g_per_kg:.3g} g/kg{read}, "
        f"{reason.dose_g_per_kg:.3g} g/kg should be right"
    )


def _needed_dose(reason: Reason, names: _Names) -> str:
    sure = f"(± {100 * math.expm1(reason.log_sd or 0.0):.0f} %)"
    if reason.cups:
        return f"{_flavourings(reason, names)} needs {reason.label_ratio:.1f} × its label here {sure}"
    why = "it has no label direction" if reason.label_ratio is None else "only its label speaks for it"
    return f"{_flavourings(reason, names)} was never tasted, its dose is a guess {sure}: {why}; start lower and step up"


def _role(reason: Reason, names: _Names) -> str:
    role = "was lowered to keep the limits: the accent" if reason.kind == "lowered" else "is the lead"
    return f"{_flavourings(reason, names)} {role}, most likely '{STRENGTH_WORDS[reason.strength or 0]}'"


def _worth(reason: Reason, names: _Names) -> str:
    return f"one cup of it is expected to raise the best known {_goal(reason)} by {reason.points:.2f} points"


def _stock(reason: Reason, names: _Names) -> str:
    return f"{_cups(reason.cups or 0)} of it left in the bottle of {_flavourings(reason, names)}"


def _unknown(reason: Reason, names: _Names) -> str:
    return f"unknown {reason.what} leaves out {first_few(map(names.item, reason.item_ids))}"


def _flavourings(reason: Reason, names: _Names) -> str:
    return " + ".join(map(names.flavouring, reason.flavouring_ids))


_SENTENCES: Mapping[str, Callable[[Reason, _Names], str]] = {
    "new": _new,
    "confirm": _confirm,
    "adjust": _adjust,
    "needed dose": _needed_dose,
    "lead": _role,
    "lowered": _role,
    "worth": _worth,
    "stock": _stock,
    "unknown": _unknown,
}
