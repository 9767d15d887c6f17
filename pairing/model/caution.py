"""What a caution is, and how several that say the same become one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any

from pairing.quantities.readable import readable

__all__ = [
    "MARKS",
    "NONE_KNOWN",
    "PROFESSIONAL",
    "SEVERITIES",
    "Caution",
    "alike",
    "gravest_first",
    "together",
]

NONE_KNOWN = "none known to this tool"
"""How the absence of a caution is worded: never a green light."""
PROFESSIONAL = "local codes and licensed practice come first"
SEVERITIES = ("stop", "warn", "note")
MARKS = {"stop": "STOP", "warn": "Warning", "note": "Note"}
"""How the severities are called."""
_PLACE = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True, kw_only=True)
class Caution:
    """A safety note that travels with every recipe it applies to.

    Attributes
    ----------
    kind : str
        ``allergen``, ``ethanol``, ``intake``, ``label``, ``name``, ``concentrate``, ``acid``, ``time``, ``sharing``,
        ``person``, ``dose``, ``food use``, ``no food``, ``rule`` or ``unknown``.
    severity : {"stop", "warn", "note"}
        ``stop``: not to be served like this.
    words : str
        The sentence with ``{items}``, ``{people}`` and the names of its figures in their places.
    items : tuple of str
        Ids of the bases and flavourings that it is about.
    people : tuple of str
        Whom it is about.
    figures : mapping of str to float
    source : str
        Regulation, opinion or *common practice (no source)*.
    jurisdiction : str
        ``EU``, ``US`` or ``any``.
    cannot_know : str
        What the tool has no way of knowing.
    general : bool
        Whether it holds for nearly every cup of its kind.
    text : str
        The sentence as people read it.

    Examples
    --------
    >>> str(Caution(kind="allergen", severity="warn", words="contains milk ({items})", items=("whey", "oat")))
    'contains milk (whey, oat)'
    """

    kind: str
    severity: str
    words: str
    items: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict, hash=False)
    source: str = ""
    jurisdiction: str = "any"
    cannot_know: str = ""
    general: bool = False
    text: str = field(init=False, compare=False)

    def __post_init__(self) -> None:
        if self.severity not in SEVERITIES:
            raise ValueError(f"severity {self.severity!r}")
        object.__setattr__(self, "figures", MappingProxyType(dict(self.figures)))
        object.__setattr__(self, "text", _worded(self.words, self.items, self.people, _ranges([self])))

    def __str__(self) -> str:
        return self.text

    def __reduce__(self) -> tuple[Any, ...]:
        return _made, (self.to_dict(),)

    @property
    def alike(self) -> tuple[object, ...]:
        """What cautions that are told as one agree in: all but items, people and figures."""
        same = (self.kind, self.severity, self.words, self.source, self.jurisdiction, self.cannot_know, self.general)
        return (*same, tuple(self.figures))

    def to_dict(self) -> dict[str, Any]:
        """Return all of it as plain values."""
        plain = {f.name: getattr(self, f.name) for f in fields(self)}
        return plain | {"figures": dict(self.figures), "items": list(self.items), "people": list(self.people)}

    @classmethod
    def from_dict(cls, plain: Mapping[str, Any]) -> Caution:
        """Make it again from what `to_dict` gave, or from the same read as JSON."""
        given = {f.name: plain[f.name] for f in fields(cls) if f.init}
        return cls(**given | {name: tuple(given[name]) for name in ("items", "people")})


def _made(plain: dict[str, Any]) -> Caution:
    return Caution.from_dict(plain)


def gravest_first(found: Iterable[Caution]) -> tuple[Caution, ...]:
    """Return them by severity, what is equal in the order given, and each once."""
    return tuple(sorted(dict.fromkeys(found), key=lambda c: SEVERITIES.index(c.severity)))


def alike(found: Iterable[Caution]) -> list[list[Caution]]:
    """Return cautions in groups of those that are told as one, in the order in which each group begins."""
    groups: dict[tuple[object, ...], list[Caution]] = {}
    for one in found:
        groups.setdefault(one.alike, []).append(one)
    return list(groups.values())


def together(found: Sequence[Caution], names: Mapping[str, str] = MappingProxyType({})) -> str:
    """Say in one sentence what cautions with the same words say: all items, and figures from the least to the most.

    Items are called by ``names`` (id to name) where it knows them.

    Examples
    --------
    >>> mild, much = (
    ...     Caution(kind="intake", severity="note", words="{mg} mg ({items})", items=(i,), figures={"mg": mg})
    ...     for i, mg in (("oat", 40.25), ("pea", 1200.0))
    ... )
    >>> together([mild, much])
    '40.2–1200 mg (oat, pea)'
    """
    items = tuple(dict.fromkeys(names.get(item, item) for one in found for item in one.items))
    people = tuple(dict.fromkeys(name for one in found for name in one.people))
    return _worded(found[0].words, items, people, _ranges(found))


def _ranges(found: Sequence[Caution]) -> dict[str, str]:
    each = {name: [one.figures[name] for one in found] for name in found[0].figures}
    ends = {name: (readable(min(values)), readable(max(values))) for name, values in each.items()}
    return {name: low if low == high else f"{low}–{high}" for name, (low, high) in ends.items()}


def _worded(words: str, items: Sequence[str], people: Sequence[str], figures: Mapping[str, str]) -> str:
    places = {**figures, "items": ", ".join(items), "people": ", ".join(people)}
    return _PLACE.sub(lambda found: places.get(found[1], found[0]), words)
