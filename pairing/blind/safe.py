"""What is to be minded before a blind check is poured, told so that nobody learns which cup is which."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from pairing.blind.check import BlindCheck
from pairing.errors import LogError
from pairing.model.caution import MARKS, Caution, alike, gravest_first, together
from pairing.model.recipe import Recipe
from pairing.safety.cautions import cautions
from pairing.safety.children import children
from pairing.safety.people import CUPS_OF_A_CHILD
from pairing.safety.session import SIP_G, session_cautions

if TYPE_CHECKING:
    from pairing.api import RuleLike
    from pairing.model.shelf import Shelf

__all__ = ["for_helper", "for_taster", "refuse_stops", "to_mind"]

_SAID_APART = ("allergen", "ethanol")
"""Sheets name allergens and alcohol of both sides in sentences of their own."""


def to_mind(
    check: BlindCheck, shelf: Shelf, rules: Sequence[RuleLike] = (), already: Mapping[str, Any] | None = None
) -> tuple[Caution, ...]:
    """Return the cautions of both sides for their taster, and what the cups of the fullest session come to together.

    Parameters
    ----------
    check : BlindCheck
    shelf : Shelf
    rules, already
        As of `pairing.cautions`.
    """
    how: dict[str, Any] = {"rules": rules, "already": already}
    each = [c for side in (check.a, check.b) for c in cautions(side, shelf, [check.taster], **how)]
    return gravest_first((*each, *session_cautions(_fullest(check), shelf, [check.taster], already=already)))


def _fullest(check: BlindCheck) -> list[tuple[Recipe, float]]:
    """Return what one taster swallows in the session with the most cups: each cup is drunk, the reference too."""
    sessions: dict[int, list[str]] = {}
    for serving in check.servings:
        sessions.setdefault(serving.session, []).extend((*serving.contents, *(serving.reference or "")))
    most = max(sessions.values(), key=len, default=[])
    return [(check.a if side == "a" else check.b, SIP_G) for side in most]


def refuse_stops(
    check: BlindCheck, shelf: Shelf, rules: Sequence[RuleLike] = (), already: Mapping[str, Any] | None = None
) -> None:
    """Refuse a check with a cup, or a session, that a caution stops for its taster, or too many cups for a child.

    Raises
    ------
    LogError
        Naming what, without telling on which side it is.
    """
    found = [c for c in to_mind(check, shelf, rules, already) if c.severity == "stop"]
    if found:
        reasons = sorted({together(group, shelf.names) for group in alike(found)})
        sources = sorted({c.source for c in found})
        raise LogError(
            f"{check.taster} must not taste this: {'; '.join(reasons)} ({'; '.join(sources)})",
            "state after reading the labels what is food: pairing shelf food-use yes"
            if {c.kind for c in found} == {"food use"}
            else "leave out what is no food by what is written about it"
            if "no food" in {c.kind for c in found}
            else "take another taster, lower doses, or fewer servings in a session",
        )
    cups = len(_fullest(check))
    if cups > CUPS_OF_A_CHILD and children([check.taster], shelf):
        told = f"{check.taster} is a child, and a session has {cups} cups, allowed is {CUPS_OF_A_CHILD}"
        raise LogError(told, "plan fewer servings a session (--per-session 2), or take another taster")


def for_helper(found: Sequence[Caution], names: Mapping[str, str]) -> tuple[str, ...]:
    """Say for whoever mixes what is to be minded, each once, with its source and what nobody here can know.

    Items are called by ``names``.
    """
    said = [group for group in alike(found) if group[0].kind not in _SAID_APART]
    return tuple(
        f"{MARKS[g[0].severity]}: {together(g, names)} [{g[0].source}; not known here: {g[0].cannot_know}]."
        for g in said
    )


def for_taster(found: Sequence[Caution]) -> tuple[str, ...]:
    """Say for the taster what is grave of either cup, neither what is in which nor how they differ.

    Sources are on the helper's sheet.
    """
    grave = [c for c in found if c.severity != "note" and c.kind not in (*_SAID_APART, "rule")]
    hidden = [replace(c, items=("either cup",)) if c.items else c for c in grave]
    told = gravest_first(sorted(map(_most, alike(hidden)), key=str))
    return tuple(f"{MARKS[one.severity]}: {one}." for one in told)


def _most(group: Sequence[Caution]) -> Caution:
    """Return one caution with the highest of each figure, so that no range tells two cups apart."""
    return replace(group[0], figures={name: max(c.figures[name] for c in group) for name in group[0].figures})
