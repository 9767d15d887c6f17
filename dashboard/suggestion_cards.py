"""What to try next as a choice: each suggestion in a few lines with its start; everything else behind *Why*."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.model.caution import together
from pairing.model.recipe import recipe_text
from pairing.model.wording import sentence as said
from pairing_dashboard import food_use, kept_suggestions, pages, parts, session
from pairing_dashboard.background import at_once, draw_when_done
from pairing_dashboard.cup import start
from pairing_dashboard.parts import escape
from pairing_dashboard.strips import liking_strip, sums
from pairing_dashboard.suggestion_why import front, side_by_side, strongest, why
from pairing_dashboard.wording import joined, number, sentence

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.answers import Suggestion
    from pairing.model.brief import Brief
    from pairing.model.caution import Caution
    from pairing.model.shelf import Shelf

__all__ = ["in_hand", "shared_cautions", "show"]

PURPOSES = {"new": "new", "confirm": "pour it again", "adjust": "better dose", "mask": "covers an off-note"}
"""What kind of cup it is, in a word or two."""
COMPARED = "compared"
"""Recipes that were tapped to be held against each other, as text."""
SHOWN = "suggestions-shown"
"""The brief and its suggestions as they were shown last."""
SIDES = 2


def in_hand(bench: Bench) -> None:
    """Offer to go on with the cup that was touched last."""
    from pairing_dashboard.cup.page import waiting

    for draft_id, label in waiting(bench)[:1]:
        with st.container(key="go-on"):
            pages.link("bench", f"Go on with {label}", icon=":material/science:", stretch=True, cup=draft_id)


def show(bench: Bench, brief: Brief | None) -> None:
    """Draw the cards, what all of them have to be minded for, and the front."""
    if brief is None:
        return
    try:
        found = _found(bench, brief)
    except PairingError as error:
        if food_use.ask(bench):
            parts.problem(error)
        return
    shared = shared_cautions([it.cautions for it in found])
    texts = {recipe_text(it.recipe): it for it in found}
    chosen = [text for text in st.session_state.setdefault(COMPARED, []) if text in texts]
    st.session_state[COMPARED] = chosen
    if len(chosen) == SIDES:
        side_by_side(bench, [texts[text].recipe for text in chosen])
    for i, (text, it) in enumerate(texts.items()):
        _card(bench, brief, it, i, text, shared)
    _mind(shared, session.shelf(bench))
    food_use.ask(bench)
    front(bench, brief)


def _found(bench: Bench, brief: Brief) -> list[Suggestion]:
    """Return what to try; while that is chosen anew, what was shown last for this brief."""
    choosing = kept_suggestions.choosing(bench, brief)
    earlier = st.session_state.get(SHOWN)
    if earlier is None or earlier[0] != brief or at_once(choosing):
        found = kept_suggestions.suggested(bench, brief)
        st.session_state[SHOWN] = brief, found
        return found
    with suppress(PairingError):  # what has left the shelf is not shown again
        found = kept_suggestions.still_fit(bench, brief, earlier[1])
        st.html('<p class="quiet renewing" role="status">As it stood before the log changed; renewed in a moment.</p>')
        draw_when_done(choosing)
        return found
    return kept_suggestions.suggested(bench, brief)


def shared_cautions(found: Sequence[Sequence[Caution]]) -> list[Caution]:
    """Return the cautions that every one of several recipes carries; a *stop* always stands with its recipe.

    Examples
    --------
    >>> shared_cautions([])
    []
    """
    if not found:
        return []
    others = [{it.text for it in one} for one in found[1:]]
    return [it for it in found[0] if it.severity != "stop" and all(it.text in texts for texts in others)]


def _card(bench: Bench, brief: Brief, it: Suggestion, i: int, text: str, shared: Sequence[Caution]) -> None:
    shelf = session.shelf(bench)
    with st.container(border=True, key=f"card-{i}"):
        st.html(_told(bench, brief, it, shelf, [c for c in it.cautions if c not in shared]))
        with st.container(horizontal=True, key=f"acts-{i}", gap="small", vertical_alignment="center"):
            start.link("Start", it.recipe, purpose=it.purpose, by="suggested", brief=brief, primary=True)
            with st.popover("Why"):
                pages.link("cards", "Recipe card", recipe=text)
                why(bench, brief, it)
            st.checkbox(
                "Compare", text in st.session_state[COMPARED], key=f"compare-{text}", on_change=_compare, args=(text,)
            )


def _compare(text: str) -> None:
    chosen: list[str] = st.session_state[COMPARED]
    kept = [one for one in chosen if one != text]
    if st.session_state[f"compare-{text}"]:
        for left in kept[: -SIDES + 1]:
            st.session_state[f"compare-{left}"] = False
        kept = [*kept[-SIDES + 1 :], text]
    st.session_state[COMPARED] = kept


def _told(bench: Bench, brief: Brief, it: Suggestion, shelf: Shelf, cautions: Sequence[Caution]) -> str:
    """Write what a card says: name, amounts, liking, energy, cost, one reason, and its own cautions."""
    base = shelf.base(it.recipe.base_id)
    names = {f: shelf.flavouring(f).name for f in it.recipe.doses}
    serving_g = base.serving(brief.serving_g)
    scale_g = bench.settings["scale_g"]
    amounts = " · ".join(f"{shelf.portion(f, it.grams[f], scale_g)} {names[f]}" for f in it.recipe.doses)
    facts = sums(it.added_kcal, it.added_cost, bench.settings["currency"])
    if it.likeness is not None:
        facts = f"<span>likeness {number(it.likeness, 2)} of 10</span> · {facts}"
    reason = strongest(it)
    why_this = escape(sentence(said(reason, shelf))) if reason else ""
    return (
        f'<div class="suggestion"><h3>{escape(joined(names.values()))} <small>in {escape(base.name)}</small></h3>'
        f"{_minded(cautions, shelf)}"
        f'<p class="amounts">{escape(amounts)} <small>to {serving_g:g} g</small></p>'
        f"{liking_strip(it.liking, it.liking_low, it.liking_high)}"
        f'<p class="reason"><span class="kind">{PURPOSES[it.purpose]}</span> {why_this}</p>'
        f'<p class="sums">{facts}</p></div>'
    )


def _minded(cautions: Sequence[Caution], shelf: Shelf) -> str:
    """Write the stops of a card, then its warnings."""

    def told(severity: str, before: str = "") -> str:
        lines = [before + escape(sentence(together([c], shelf.names))) for c in cautions if c.severity == severity]
        return f'<p class="mind {severity}">{" ".join(lines)}</p>' if lines else ""

    return told("stop", "<strong>Stop:</strong> ") + told("warn")


def _mind(shared: Sequence[Caution], shelf: Shelf) -> None:
    """Say once what every card has to be minded for."""
    with st.expander("To mind with all of these", icon=":material/health_and_safety:", key="mind"):
        parts.cautions(shared, shelf)
