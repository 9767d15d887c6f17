"""Questions at the end: liking first, then what else was noticed, and how it ended."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from pairing.errors import CupError
from pairing.model.columns import LIKING_WORDS
from pairing.nutrition.names import may_be_suggested
from pairing.nutrition.seasoning import sweet_again
from pairing.safety.children import children, faces
from pairing_dashboard import parts
from pairing_dashboard.cup import timer
from pairing_dashboard.cup.draft import CLEAR, HOW_MUCH, NOTHING, likely_end
from pairing_dashboard.cup.step import Step
from pairing_dashboard.wording import joined, md

__all__ = ["ENDS", "end", "liking", "rest"]

OFF_NOTES = ("bitter", "sour", "soapy", "chalky", "metallic", "cooked", "stale", "artificial", "burning", "curdled")
"""Offered to begin with; the list is open, and what was written before is offered too."""
STILL_THERE = ("sweet", "bitter", "drying", "flavour", NOTHING)
DRUNK = {"sip": "a sip or two", "full": "the whole glass"}
SWALLOWED_S = 60
"""How long after the swallow that is asked, s (common practice, no source)."""
ENDS = ("right", "too strong", "not reached", "spoiled", "unfinished")


def liking(step: Step) -> None:
    """Ask how much it is liked: before anything else is asked or told."""
    who = step.state.taster or ""
    parts.ask(step.said_to("how much do you like it?"))
    key = step.key("liking")
    smiling = {liking: f"{it.sign} {it.word.capitalize()}" for liking, it in faces(step.shelf.tasters.get(who)).items()}

    def answer() -> None:
        if (chosen := st.session_state[key]) is not None:
            step.tap("liking", taster=who, value=chosen)

    with st.container(key="answer-liking"):
        st.pills(
            "Liking",
            sorted(smiling or range(1, 10), reverse=True),
            format_func=lambda i: smiling.get(i, f"**{i}** {LIKING_WORDS[i - 1]}"),
            key=key,
            on_change=answer,
            label_visibility="collapsed",
            width="stretch",
        )
    if not step.state.answers and step.state.ended is None:
        _sweet_again(step)
        _more(step)


def _sweet_again(step: Step) -> None:
    """Offer the sweetener once more when the aroma is in, unless it was taken up again already."""
    again = [e.get("flavouring_id") for e in step.draft.live if e["kind"] == "reopen"]
    if children(step.state.tasters, step.shelf):
        return
    for flavouring_id in sweet_again(step.state.base_id or "", step.state.planned, step.shelf):
        if flavouring_id in again or flavouring_id in step.state.planned[-1:]:
            continue
        st.html('<p class="quiet">The aroma is in: is it sweet enough still? Before you score it, sweeten again.</p>')
        if flavouring_id in step.state.planned:
            step.button(f"More {md(step.name(flavouring_id))}", "reopen", name="sweet", flavouring_id=flavouring_id)
        else:
            label = f"Some {md(step.name(flavouring_id))}"
            step.button(label, "plan", name="sweet", flavouring_ids=[flavouring_id], closed=True)


def _more(step: Step) -> None:
    """Offer that something else goes in, or more of what is there."""
    with st.expander("Something else goes in"):
        for flavouring_id in step.state.settled:
            step.button(f"More {md(step.name(flavouring_id))}", "reopen", flavouring_id=flavouring_id)
        others = {i: f for i, f in step.shelf.flavourings.items() if i not in step.state.planned}
        left = {i: f.name for i, f in others.items() if may_be_suggested(f, step.shelf)}
        key = step.key("more")
        more = st.selectbox("Flavouring", list(left), index=None, format_func=left.__getitem__, key=key)

        def read() -> dict[str, Any]:
            return {"flavouring_ids": [st.session_state[key]]}

        step.button("Put it in", "plan", disabled=more is None, read=read, closed=True)


def rest(step: Step) -> None:
    """Ask for off-notes, likeness, words that plugins offer, a note, and at last how it ended.

    All but the end may stay empty. A child is asked for nothing more than the face.
    What was taken back just now is there again.
    """
    if children([step.state.taster or ""], step.shelf):
        _of_a_child(step)
        return
    back = step.draft.taken_back if step.draft.taken_back.get("kind") == "rest" else {}
    noted: Mapping[str, int] = back.get("off_notes", {})
    who = step.state.taster or ""
    parts.ask(step.said_to("anything else?"))
    if step.state.target_id:
        st.pills(
            "How much is it like the target? 0 no resemblance, 10 cannot be told apart",
            range(11),
            default=back.get("likeness"),
            key=step.key("likeness"),
        )
    offered = list(dict.fromkeys([*noted, *step.off_notes, *OFF_NOTES]))
    st.pills("Off-notes", offered, selection_mode="multi", default=list(noted), format_func=md, key=step.key("off"))
    for note in st.session_state[step.key("off")]:
        _how_much(md(note), noted.get(note, CLEAR), step.key(f"how-{note}"))
    _after_swallow(step, back.get("after") or ())
    st.pills(
        "How much of it did you drink? A whole glass tells whether to keep it",
        list(DRUNK),
        default=back.get("glass"),
        format_func=DRUNK.__getitem__,
        key=step.key("glass"),
    )
    _attributes(step, back.get("attributes") or {})
    with st.expander("In your own words", expanded=bool(back.get("note"))):
        st.text_input("Another off-note", key=step.key("off-other"), max_chars=60)
        _how_much("of the other one", CLEAR, step.key("other-how"))  # always there: nothing moves when it is left
        st.text_area("Note", back.get("note") or "", key=step.key("note"), max_chars=4000)
    asks_end = step.state.last and step.state.ended is None
    if asks_end:
        ended = back.get("ended") or likely_end(step.state, step.draft)
        st.pills("How did it end?", ENDS, default=ended, required=True, key=step.key("ended"))

    def read() -> dict[str, Any]:
        said = st.session_state
        if wrong := set(":;@").intersection(said[step.key("off-other")]):
            raise CupError(f"an off-note cannot have {joined(sorted(wrong))} in it", "leave it out")
        judged = {
            "likeness": said.get(step.key("likeness")),
            "off_notes": _off_notes(step),
            "after": said[step.key("after")],
            "glass": said[step.key("glass")],
            "attributes": _judged(step),
            "note": said[step.key("note")],
        }
        return {**judged, "ended": said[step.key("ended")]} if asks_end else judged

    said = st.session_state
    written = said[step.key("off-other")].strip() or said[step.key("note")].strip()
    tapped = [said[step.key(name)] for name in ("off", "after", "glass")]
    nothing = not (_judged(step) or any(tapped) or written)
    label = "Nothing else, save" if nothing else "Save"
    step.button(label, "rest", primary=True, read=read, name="save", taster=who)


def _of_a_child(step: Step) -> None:
    """Thank a child for the face; that was all."""
    parts.ask(step.said_to("thank you, that was all!"))
    facts = {"ended": "right"} if step.state.last and step.state.ended is None else {}
    step.button("Done", "rest", primary=True, name="save", read=lambda: facts, taster=step.state.taster)


def end(step: Step) -> None:
    """Ask how it ended, where nobody was asked yet."""
    parts.ask("How did this cup end?")
    step.pick("End", {e: e for e in ENDS}, "end", "ended")


def _how_much(what: str, default: int, key: str) -> None:
    words = HOW_MUCH.__getitem__
    st.pills(f"How much {what}?", list(HOW_MUCH), default=default, required=True, format_func=words, key=key)


def _after_swallow(step: Step, before: Sequence[str]) -> None:
    """Count a minute from the swallow, and ask what is still there: sweeteners and carriers differ most in that."""
    timer.show(step.draft.live[-1]["at"], SWALLOWED_S, step.key("swallowed"), "Still there?")
    st.pills(
        "A minute after the swallow, still there",
        STILL_THERE,
        selection_mode="multi",
        default=list(before),
        key=step.key("after"),
    )


def _attributes(step: Step, before: Mapping[str, int]) -> None:
    """Offer words by which a cup can be judged, each on its own scale."""
    if not step.attributes:
        return
    with st.expander("How sweet, how thick, and more", expanded=bool(before)):
        for one in step.attributes:
            st.pills(
                f"{md(one.question)} 1 {md(one.low)}, 3 just right, 5 {md(one.high)}",
                range(1, 6),
                default=before.get(one.name),
                key=step.key(f"attribute-{one.name}"),
            )


def _judged(step: Step) -> dict[str, int]:
    """Return the words by which the cup is judged at this moment."""
    said = {one.name: st.session_state.get(step.key(f"attribute-{one.name}")) for one in step.attributes}
    return {name: how for name, how in said.items() if how is not None}


def _off_notes(step: Step) -> dict[str, int]:
    """Return how much of each off-note that is chosen or typed at this moment."""
    said = st.session_state
    chosen = {note: said.get(step.key(f"how-{note}"), CLEAR) for note in said[step.key("off")]}
    other = said[step.key("off-other")].strip()
    return chosen if not other or other in chosen else {**chosen, other: said[step.key("other-how")]}
