"""The brief as controls: goal, limits, what must and must never go in; and in words, for whoever reads the cards."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.model.brief import Brief
from pairing_dashboard import brief_kept, parts, session
from pairing_dashboard.wording import amount, cell, count, entered, joined, md, short

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.shelf import Shelf

__all__ = ["ask", "in_words"]

MOST = 2
"""Flavourings in a cup when nothing else is asked for."""
MOST_IN_A_LIMIT = 1e9
LIMITS = {
    "max_added_kcal": ("Added energy at most, kcal per serving", "no limit"),
    "max_total_kcal": ("Total energy at most, kcal per serving", "no limit"),
    "max_added_cost": ("Added cost at most, per serving", "no limit"),
    "max_ethanol_pct_vv": ("Alcohol at most, % of the volume", "no limit"),
    "serving_g": ("Serving, g of base", "as the base says"),
}
"""Label and what an empty one means, by field of the brief."""


def ask(bench: Bench) -> Brief | None:
    """Ask for the brief and say what is in force; None where it contradicts itself (the reason is shown)."""
    shelf, targets = session.shelf(bench), session.targets(bench)
    if gone := st.session_state.setdefault("brief-gone", _not_here(shelf, targets)):
        st.info(f"Not on this bench, left out: {md(short(joined(gone)))}.")
    chosen = _fields(shelf, targets)
    try:
        for field in LIMITS:
            chosen[field] = _entered(field, chosen[field])
    except PairingError as error:
        parts.problem(error)
        return None
    brief_kept.keep({**chosen, "max_flavourings": None if (n := chosen["max_flavourings"]) == MOST else n})
    try:
        goal = "likeness" if chosen["target_id"] else "liking"
        brief = Brief(goal=goal, **{name: value for name, value in chosen.items() if value not in (None, [])})
    except PairingError as error:
        parts.problem(error)
        return None
    if brief_kept.kept():
        said = parts.escape(in_words(brief, shelf, targets, bench.settings["currency"]))
        st.html(f'<p class="in-force"><strong>In force:</strong> {said}</p>')
    return brief


def _fields(shelf: Shelf, targets: Mapping[str, str]) -> dict[str, Any]:
    bases = {b.base_id: b.name for b in shelf.bases.values()}
    inside = {f.flavouring_id: f.name for f in shelf.flavourings.values()}
    named = _allergens(shelf)
    chosen: dict[str, Any] = {"target_id": None}
    chips = st.container(key="brief", horizontal=True, gap="small")
    with chips, _chip("For everybody", "person", ("tasters", "avoid_allergens", "target_id")):
        chosen["tasters"] = _several("tasters", "For", {t: t for t in shelf.tasters}, "all tasters")
        chosen["avoid_allergens"] = _several(
            "avoid_allergens", "Without", {a: a for a in sorted(named)}, "no allergen named"
        )
        if targets:
            key = _seeded("target_id", lambda value: value if value in list(targets) else None)
            parts.renamed(key, targets)
            label, none = "Like this target", "no target: what is liked best"
            chosen["target_id"] = st.selectbox(
                label, list(targets), index=None, format_func=targets.__getitem__, placeholder=none, key=key
            )
    with chips, _chip("Any base", "water_full", ("bases",)):
        chosen["bases"] = _several("bases", "Bases", bases, "all")
    with chips, _chip("Any flavouring", "colorize", ("must_have", "never", "on_hand", "max_flavourings")):
        key = _seeded("max_flavourings", lambda value: value if value in (1, 2, 3) else MOST, MOST)
        chosen["max_flavourings"] = st.segmented_control(
            "At most so many flavourings", [1, 2, 3], required=True, key=key
        )
        chosen["must_have"] = _several("must_have", "Must have", inside, "nothing in particular")
        chosen["never"] = _several("never", "Never", inside, "nothing")
        chosen["on_hand"] = _several("on_hand", "On hand", inside, "everything on the shelf")
    with chips, _chip("No limits", "speed", tuple(LIMITS)):
        for field, (label, none) in LIMITS.items():
            key = _seeded(field, _limit)
            chosen[field] = st.text_input(
                label, key=key, placeholder=none, max_chars=20, on_change=_typed, args=(field,)
            ).strip()
    return chosen


def _entered(field: str, text: str) -> float | None:
    return entered(text, 0, MOST_IN_A_LIMIT, "", field) if text else None


def _typed(field: str) -> None:
    """Keep a limit at once: the tap that left its field may lead to another page, before this one is drawn again."""
    with suppress(PairingError):  # said when the page is drawn
        brief_kept.keep({**brief_kept.kept(), field: _entered(field, st.session_state[f"brief-{field}"].strip())})


CHIPS = {"For everybody": "For whom", "Any base": "Bases", "Any flavouring": "Flavourings", "No limits": "Limits"}
"""What a chip says once something is set behind it, by what it says when nothing is."""


def _chip(open_words: str, icon: str, fields: tuple[str, ...]) -> Any:
    """Make a chip that opens; it tells whether anything is set behind it."""
    n = sum(1 for field in fields if field in brief_kept.kept())
    words = f"{CHIPS[open_words]}: {n} set" if n else open_words
    return st.popover(words, icon=f":material/{icon}:", key=f"chip-{icon}")


def _allergens(shelf: Shelf) -> set[str]:
    return {a for kind in (shelf.flavourings, shelf.bases) for item in kind.values() for a in item.allergens or ()}


def _not_here(shelf: Shelf, targets: Mapping[str, str]) -> list[str]:
    """Name what an address asks for and this bench does not have: no field of the brief can hold it."""
    asked, inside = brief_kept.kept(), list(shelf.flavourings)
    here: dict[str, Collection[str]] = {
        **{"bases": list(shelf.bases), "tasters": list(shelf.tasters), "avoid_allergens": _allergens(shelf)},
        **{field: inside for field in ("must_have", "never", "on_hand")},
    }
    named = [i for field, known in here.items() if isinstance(asked.get(field), list) for i in asked[field]
             if isinstance(i, str) and i not in known]  # fmt: skip
    target = asked.get("target_id")
    return list(dict.fromkeys([*named, *([target] if isinstance(target, str) and target not in targets else [])]))


def _seeded(field: str, fit: Any, default: Any = None) -> str:
    """Return the key of a field's widget; one that is drawn anew begins with what was kept, as far as it fits."""
    key = f"brief-{field}"
    if key not in st.session_state:
        st.session_state[key] = fit(brief_kept.kept().get(field, default))
    return key


def _limit(value: object) -> str:
    good = isinstance(value, int | float) and 0 <= value <= MOST_IN_A_LIMIT
    return cell(float(value)) if good else ""  # type: ignore[arg-type]


def _several(field: str, label: str, names: Mapping[str, str], none: str) -> list[str]:
    key = _seeded(field, lambda value: [i for i in names if i in value] if isinstance(value, list) else [])
    parts.renamed(key, names)
    chosen: list[str] = st.multiselect(label, list(names), format_func=names.__getitem__, placeholder=none, key=key)
    return chosen


def in_words(brief: Brief, shelf: Shelf, targets: Mapping[str, str], currency: str) -> str:
    """Say in a line what a brief asks for.

    Examples
    --------
    >>> from pairing.model.shelf import Shelf
    >>> brief = Brief(max_added_kcal=20, avoid_allergens="milk", tasters=["ana"])
    >>> in_words(brief, Shelf.of([], []), {}, "EUR")
    'without milk; for ana; at most 2 flavourings; at most 20 kcal added.'
    """
    bases = {i: b.name for i, b in shelf.bases.items()}
    inside = {i: f.name for i, f in shelf.flavourings.items()}
    lists: tuple[tuple[str, Collection[str] | None, dict[str, str], str], ...] = (
        ("without", sorted(brief.avoid_allergens), {}, "or"),
        ("never", brief.never, inside, "or"),
        ("with", brief.must_have, inside, "and"),
        ("of what is on hand:", brief.on_hand, inside, "and"),
        ("in", brief.bases, bases, "or"),
        ("for", brief.tasters, {}, "and"),
    )
    said = [f"as close to {targets.get(brief.target_id, brief.target_id)} as it gets"] if brief.target_id else []
    said += [f"{word} {joined((names.get(i, i) for i in ids), last)}" for word, ids, names, last in lists if ids]
    said.append(f"at most {count(brief.max_flavourings, 'flavouring')}")
    limits = (
        (brief.max_added_kcal, "kcal added"),
        (brief.max_total_kcal, "kcal in all"),
        (brief.max_added_cost, f"{currency} added"),
        (brief.max_ethanol_pct_vv, "% alcohol"),
    )
    said += [f"at most {amount(limit, unit)}" for limit, unit in limits if limit is not None]
    if brief.serving_g is not None:
        said.append(f"{amount(brief.serving_g, 'g')} of base a serving")
    return "; ".join(said) + "."
