"""What names suggest and nobody has answered: said once per bottle, then silent."""

from __future__ import annotations

import re
from collections.abc import Iterator, Set

from pairing.model.base import Base
from pairing.model.caution import PROFESSIONAL, Caution
from pairing.model.flavouring import Flavouring
from pairing.model.shelf import Shelf
from pairing.nutrition.allergens import ALLERGEN_SOURCES, canonical
from pairing.nutrition.composition import allergens_of
from pairing.nutrition.content import substances_of, unmeasured_of
from pairing.nutrition.maximum import maximum_of
from pairing.nutrition.names import Hint, allergens_suggested, hints, is_answered
from pairing.nutrition.substances import substances_named
from pairing.safety.statements import Content

__all__ = ["questions"]

_GRAVE = ("restricted", "toxic", "stimulant", "not food")
_ASKED = (*_GRAVE, "medicine", "caffeine", "colour", "ferment", "vapour", "laxative")
_STRONG = re.compile(
    r"oil|öl\b|öle\b|huile|\bolio\b|aceite|\bolej|óleo|essen[czt]|tin[ck]t|teintur|extra[ckh]t|extrait|estratto|extracto"
    r"|[ck]on[cz]entr|crystal|kristal|cristal|isolat|absolue?\b|oleoresin|\bpure\b|\brein\b|anhydr|\bneat\b|undiluted"
)
"""Forms and names of what is strong by the drop, in several languages."""


def questions(content: Content, jurisdiction: str) -> Iterator[Caution]:
    """Return what the names in a recipe suggest and neither a stated amount nor a read label answers."""
    for item_id, found in content.inside.items():
        item = content.items[item_id]
        if is_answered(item):
            continue
        asked: dict[str, Hint] = {}
        for part in found:
            asked |= {h.about: h for h in hints(part) if h.kind in _ASKED and not _answered(h, part, content.shelf)}
        for hint in asked.values():
            yield _question(hint, item_id, _severity(hint, item, content.shelf))
        yield from _unstated(item_id, found, content.shelf, {hint.substance for hint in asked.values()})
        yield from _undeclared(item_id, item, found, content.shelf, jurisdiction)


def _answered(hint: Hint, part: Base | Flavouring, shelf: Shelf) -> bool:
    if is_answered(part) or hint.substance == "":
        return is_answered(part)
    stated = substances_of(part, shelf).get(hint.substance)
    return bool(stated) if hint.kind == "stimulant" else stated is not None  # pure caffeine without any is a slip


def _severity(hint: Hint, item: Base | Flavouring, shelf: Shelf) -> str:
    if hint.kind not in _GRAVE:
        return "note"
    if isinstance(item, Base):
        return "note" if hint.kind == "restricted" else "warn"
    said = f"{item.name} {item.form or ''}".casefold()
    return "warn" if _STRONG.search(said) or maximum_of(item, shelf) is None else "note"


def _question(hint: Hint, item_id: str, severity: str) -> Caution:
    return Caution(
        kind="name",
        severity=severity,
        words=f"the name of {{items}} suggests {hint.about}: {hint.limited}; ask the supplier",
        items=(item_id,),
        source=f"{hint.cited}, {hint.year}" if str(hint.year) not in hint.source else hint.cited,
        cannot_know="what is in the bottle, and how much: answered once by 'pairing shelf label-read', with the "
        f"supplier's maximum dose; {PROFESSIONAL}",
    )


def _unstated(item_id: str, found: list[Base | Flavouring], shelf: Shelf, asked: Set[str]) -> Iterator[Caution]:
    """Ask about substances that a name says and no column states."""
    for part in found:
        named = {} if is_answered(part) else substances_named(part.name)
        stated = {name for name, mg in substances_of(part, shelf).items() if mg != 0} | set(unmeasured_of(part, shelf))
        for substance in sorted(set(named) - stated - asked - {"sodium"}):
            yield Caution(
                kind="name",
                severity="warn",
                words=f"the name of {{items}} suggests {substance}, which is not stated: write how much of it there is",
                items=(item_id,),
                source="common practice (no source)",
                cannot_know="what is in the bottle, and how much: its amount goes into sweeteners, carrier or its own "
                f"column; answered once by 'pairing shelf label-read'; {PROFESSIONAL}",
            )


def _undeclared(
    item_id: str, item: Base | Flavouring, found: list[Base | Flavouring], shelf: Shelf, jurisdiction: str
) -> Iterator[Caution]:
    """Ask about allergens that a name suggests and the declaration leaves out; no declaration is said elsewhere."""
    declared, unknown = allergens_of(item, shelf)
    if unknown:
        return
    known = frozenset().union(*map(canonical, declared)) if declared else frozenset()
    suggested = frozenset().union(*(allergens_suggested(part) for part in found if not is_answered(part))) - known
    if {"gluten", "wheat"} & known:
        suggested -= {"gluten", "wheat"}
    if suggested:
        names = ", ".join(sorted(suggested))
        yield Caution(
            kind="name",
            severity="warn",
            words=f"the name of {{items}} suggests {names}, which is not declared: read the label",
            items=(item_id,),
            source=ALLERGEN_SOURCES[jurisdiction],
            jurisdiction=jurisdiction,
            cannot_know="what is in the bottle: answered once by 'pairing shelf label-read'",
        )
