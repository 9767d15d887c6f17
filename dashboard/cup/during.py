"""Questions on the ladder: the next addition, and how strong it is now."""

from __future__ import annotations

from typing import Any

import streamlit as st

from pairing.errors import CupError, PairingError
from pairing.model.columns import STRENGTH_WORDS
from pairing.model.doses import grams
from pairing.plan.headline import headline
from pairing_dashboard import parts
from pairing_dashboard.cup.before import held_back
from pairing_dashboard.cup.draft import SIP_G
from pairing_dashboard.cup.step import Step
from pairing_dashboard.wording import amount, entered, md, sentence

__all__ = ["add", "sip"]


def add(step: Step) -> None:
    """Advise the next addition, and take what was really added."""
    current, name = step.state.current or "", step.name(step.state.current)
    blocked = held_back(step)
    if (grams := _straight(step)) is not None:
        _pour_straight(step, name, grams, blocked)
        return
    advice = step.advise()
    if isinstance(advice, PairingError) or advice is None:
        parts.ask(f"How much {name} goes in?")
        if advice is not None:
            parts.problem(advice)
    elif advice.again:
        parts.ask(headline(advice, name))
        st.html(f'<p class="quiet">{parts.escape(sentence(advice.reason))}</p>')
        step.button("Rinsed: sip again", "mix", primary=True)
    elif advice.stop:
        parts.ask(headline(advice, name))
        st.html(f'<p class="quiet">{parts.escape(sentence(advice.reason))}</p>')
        if advice.paused:
            step.button("Go on past it on purpose", "override", flavouring_id=current)
        if advice.add_base_g:
            step.button(f"I added {amount(advice.add_base_g, 'g')} of base instead", "dilute", g=advice.add_base_g)
        step.button(f"Done with the {md(name)}", "settle", primary=True, flavouring_id=current)
    else:
        _next_addition(step, advice, name, blocked)
    if _tasted(step, current) and not getattr(advice, "again", False):
        step.button("Mix well, and sip again", "mix")
    with st.expander("I added a different amount", expanded=advice is None or isinstance(advice, PairingError)):
        _other_amount(step, current, blocked)
    if not getattr(advice, "stop", False):
        step.button(f"No more {md(name)}", "settle", flavouring_id=current)


def _tasted(step: Step, flavouring_id: str) -> bool:
    """Whether this flavouring was in the cup when it was last tasted."""
    kinds = [e["kind"] for e in step.draft.live if e["kind"] == "read" or e.get("flavouring_id") == flavouring_id]
    return "add" in kinds and "read" in kinds[kinds.index("add") :]


def _straight(step: Step) -> float | None:
    """Return g that take a cup which confirms a dose straight to it; None for a ladder."""
    now, current = step.state, step.state.current or ""
    added = any(e["kind"] == "add" and e["flavouring_id"] == current for e in step.draft.live)
    if now.purpose != "confirm" or added or current not in now.aims_g_per_kg:
        return None
    return grams(now.base_g or 0.0, now.aims_g_per_kg)[current]


def _pour_straight(step: Step, name: str, grams: float, blocked: bool) -> None:
    parts.ask(f"Pour the {name} straight to its dose")
    aim = step.state.aims_g_per_kg[step.state.current or ""]
    st.html(f'<p class="dose">{amount(grams, "g")}<small>to {amount(aim, "g/kg")}, all at once</small></p>')
    facts: dict[str, Any] = {"flavouring_id": step.state.current, "amount": grams, "unit": "g", "as_advised": True}
    step.button("I added it", "add", primary=True, disabled=blocked, **facts)
    st.html('<p class="quiet">A fresh cup poured to the dose tells whether it holds without the sips before.</p>')
    with st.expander("I added a different amount"):
        _other_amount(step, step.state.current or "", blocked)


def _next_addition(step: Step, advice: Any, name: str, blocked: bool) -> None:
    parts.ask(f"Add {name}")
    big, small = str(advice.portion), f"to {amount(advice.target_g_per_kg, 'g/kg')}"
    unit, much = ("drops", advice.add_drops) if advice.add_drops else ("g", advice.add_g)
    if advice.dilute_first is not None:
        small = f"of {advice.dilute_first.name}: {amount(advice.add_g, 'g')} of {name} · {small}"
    st.html(f'<p class="dose">{parts.escape(big)}<small>{parts.escape(small)}</small></p>')
    step.button(
        "I added it",
        "add",
        primary=True,
        disabled=blocked,
        flavouring_id=step.state.current,
        amount=much,
        unit=unit,
        as_advised=True,
    )
    if advice.dilute_first is not None and advice.dilute_first.flavouring_id not in step.shelf.flavourings:
        _offer_dilution(step, advice.dilute_first)
    chance = f"{advice.p_in_range:.0%} likely to be just right, {advice.p_over:.0%} to be over."
    st.html(f'<p class="quiet">{parts.escape(sentence(advice.reason))} {chance}</p>')


def _offer_dilution(step: Step, thin: Any) -> None:
    """Offer to keep a pre-dilution, to be found on the shelf from then on."""

    def keep() -> None:
        if parts.attempt(step.keep, thin) is not None:
            parts.remember(f"{thin.flavouring_id} is on the shelf now, made fresh with what it is stirred into")

    st.button(f"Keep {md(thin.name)} on the shelf", key=step.key("keep-dilution"), width="stretch", on_click=keep)


def _other_amount(step: Step, current: str, blocked: bool) -> None:
    unit = st.pills("Measured in", ["drops", "g", "ml"], default="g", required=True, key=step.key("unit"))
    key = step.key(f"amount-{unit}")
    st.text_input(f"Amount in {unit}", key=key, max_chars=20)

    def read() -> dict[str, Any]:
        text = st.session_state[key]
        if not text.strip() or not (much := entered(text, 0, 2000, unit)):
            raise CupError("no amount is entered", f"write how many {unit} went in")
        return {"amount": much}

    facts: dict[str, Any] = {"flavouring_id": current, "unit": unit, "as_advised": False}
    step.button("I added this much", "add", disabled=blocked, read=read, **facts)


def sip(step: Step) -> None:
    """Ask how strong it is now."""
    name = step.name(step.state.current)
    parts.ask(step.said_to(f"take a sip. How strong is the {name}?"))
    key = step.key("strength")
    grams = step.key("sip")

    def answer() -> None:
        if (chosen := st.session_state[key]) is None:
            return
        g = parts.attempt(entered, st.session_state[grams], 0, 500)
        if g is not None:
            step.tap("read", taster=step.state.taster, g=g, strength={step.state.current: chosen})
        st.session_state[key] = None  # were it refused, the same word can be chosen again

    with st.container(key="answer-strength"):
        st.pills(
            "Strength",
            [1, 2, 3, 4, 5, 0],
            format_func=STRENGTH_WORDS.__getitem__,
            key=key,
            on_change=answer,
            label_visibility="collapsed",
            width="stretch",
        )
    with st.expander(f"The sip was not {SIP_G:.0f} g"):
        st.text_input("Sip in g", f"{SIP_G:g}", key=grams, max_chars=20)
