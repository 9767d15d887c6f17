"""Questions on the ladder: the next addition, and how strong it is now.

What is expected is shown only once a word was said: an answer that is shown beforehand is the answer that is given.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import streamlit as st

from pairing.errors import CupError, PairingError
from pairing.model.answers import Advice
from pairing.model.columns import JUST_RIGHT, STRENGTH_WORDS
from pairing.model.doses import grams
from pairing.plan.headline import headline
from pairing.quantities.readable import in_100
from pairing.safety.children import children
from pairing_dashboard import parts
from pairing_dashboard.cup import gauge, timer
from pairing_dashboard.cup.before import held_back
from pairing_dashboard.cup.draft import SIP_G, Draft
from pairing_dashboard.cup.step import Step
from pairing_dashboard.wording import amount, entered, joined, md, sentence

__all__ = ["add", "settles", "sip"]

RINSE_S = 60
"""How long to wait before the same cup is sipped again, s; *common practice (no source)*."""
STANDS = (1, 5, 15, 60)
"""How long a cup may be left to stand, minutes."""


def settles(advice: Advice | PairingError | None, word: int) -> bool:
    """Whether a flavouring is done with by this word: it is called right and nothing else is to be minded of it."""
    if word != JUST_RIGHT or not isinstance(advice, Advice):
        return False
    return advice.stop and not (advice.paused or advice.over or advice.add_base_g)


def add(step: Step) -> None:
    """Advise the next addition, and take what was really added."""
    current, name = step.state.current or "", step.name(step.state.current)
    _settled(step)
    blocked = held_back(step, step.state.tasters)
    if (straight := _straight(step)) is not None:
        _pour_straight(step, name, straight, blocked)
        return
    advice = step.advise()
    if not isinstance(advice, Advice):
        parts.ask(f"How much {name} goes in?")
        if advice is not None:
            parts.problem(advice)
    else:
        parts.ask(headline(advice, name))
        if advice.again:
            timer.show(step.draft.live[-1]["at"], RINSE_S, step.key("rinse"))
            _way_on(step, "Rinsed: sip again", "mix")
            _leave(step, current, name)  # in view: whoever called it right need not be asked twice
        elif advice.stop:
            _no_more(step, advice, name)
        else:
            _next_addition(step, advice, blocked)
        _told(step, advice)
    if _tasted(step.draft, current) and not getattr(advice, "again", False):
        step.button("Mix well, and sip again", "mix")
    if not (isinstance(advice, Advice) and (advice.stop or advice.again)):
        _leave(step, current, name)
    with st.expander("I added a different amount", expanded=not isinstance(advice, Advice)):
        _other_amount(step, blocked, "drops" if isinstance(advice, Advice) and advice.add_drops else "g")
    _stand(step)


def _leave(step: Step, current: str, name: str) -> None:
    inside = step.made is not None and step.made.dose_g_per_kg.get(current, 0.0) > 0
    step.button(f"{'No more' if inside else 'Leave out'} {md(name)}", "settle", flavouring_id=current)


def _settled(step: Step) -> None:
    """Say what is done with, and let it be taken up again."""
    if not step.state.settled:
        return
    names = [step.name(i) for i in step.state.settled]
    with st.expander(f"Done with {md(joined(names))}", icon=":material/check:"):
        for flavouring_id, name in zip(step.state.settled, names, strict=True):
            step.button(f"More {md(name)} after all", "reopen", flavouring_id=flavouring_id)


def _no_more(step: Step, advice: Advice, name: str) -> None:
    st.html(f'<p class="quiet">{parts.escape(sentence(advice.reason))}</p>')
    done = f"Done with the {md(name)}"
    if advice.add_base_g:
        _way_on(step, f"I added {amount(advice.add_base_g, 'g')} of base", "dilute", g=advice.add_base_g)
    elif advice.over:
        _way_on(step, "End it as too strong", "end", ended="too strong")
    else:
        _way_on(step, done, "settle", flavouring_id=step.state.current)
    if advice.add_base_g or advice.over:
        step.button(done, "settle", flavouring_id=step.state.current)
    if advice.paused:
        step.button("Go on past it on purpose", "override", flavouring_id=step.state.current)


def _next_addition(step: Step, advice: Advice, blocked: bool) -> None:
    unit, much = ("drops", advice.add_drops) if advice.add_drops else ("g", advice.add_g)
    facts: dict[str, Any] = {"flavouring_id": step.state.current, "amount": much, "unit": unit, "as_advised": True}
    _way_on(step, "I added it", "add", blocked, **facts)
    if advice.dilute_first is not None:
        st.html(f'<p class="quiet">That is {amount(advice.add_g, "g")} of it undiluted.</p>')
        if advice.dilute_first.flavouring_id not in step.shelf.flavourings:
            _offer_dilution(step, advice.dilute_first)


def _told(step: Step, advice: Advice) -> None:
    """Show where the dose stands and what is expected, once a word was said of it."""
    made, current = step.made, step.state.current or ""
    if made is None or not (said := gauge.sips(made, current)):
        return
    if advice.needed_g_per_kg is not None:
        adding = not (advice.stop or advice.again)
        gauge.draw(
            advice.needed_g_per_kg,
            made.dose_g_per_kg.get(current, 0.0),
            advice.target_g_per_kg if adding else None,
            said,
        )
    if not advice.stop and not advice.again:
        right, over = in_100(advice.p_in_range), in_100(advice.p_over)
        chance = f"Chance that it is just right then: {right}; that it is over: {over}."
        st.html(f'<p class="quiet">{parts.escape(sentence(advice.reason))} {chance}</p>')
    elif advice.again:
        st.html(f'<p class="quiet">{parts.escape(sentence(advice.reason))}</p>')


def _tasted(draft: Draft, flavouring_id: str) -> bool:
    """Whether this flavouring was in the cup when it was last tasted."""
    kinds = [e["kind"] for e in draft.live if e["kind"] == "read" or e.get("flavouring_id") == flavouring_id]
    return "add" in kinds and "read" in kinds[kinds.index("add") :]


def _straight(step: Step) -> float | None:
    """Return g that take a cup straight to its dose, which it confirms or a child tastes; None for a ladder."""
    now, current = step.state, step.state.current or ""
    added = any(e["kind"] == "add" and e["flavouring_id"] == current for e in step.draft.live)
    aims = _aims(step)
    if added or current not in aims or not (now.purpose == "confirm" or children(now.tasters, step.shelf)):
        return None
    return grams(now.base_g or 0.0, aims)[current]


def _aims(step: Step) -> Mapping[str, float]:
    """Return the doses that a cup is poured to; for a child the needed ones, where no recipe says others."""
    aims = dict(step.state.aims_g_per_kg)
    if children(step.state.tasters, step.shelf):
        needed = {i: step.needed(i) for i in step.state.planned if i not in aims}
        aims |= {i: found[0] for i, found in needed.items() if found is not None}
    return aims


def _pour_straight(step: Step, name: str, much: float, blocked: bool) -> None:
    portion = step.portion(step.state.current or "", much)
    parts.ask(f"Pour {portion} of {name} straight in")
    aim = _aims(step)[step.state.current or ""]
    settles: dict[str, Any] = {}
    why = "a fresh cup tells whether a dose holds without the sips before"
    if children(step.state.tasters, step.shelf):
        why, settles = "a child tastes it fresh, without a ladder", {"settles": [step.state.current]}
    st.html(f'<p class="quiet">To {amount(aim, "g/kg")}, all at once: {why}.</p>')
    facts: dict[str, Any] = {"flavouring_id": step.state.current, "amount": much, "unit": "g", "as_advised": True}
    _way_on(step, "I added it", "add", blocked, **facts, **settles)
    with st.expander("I added a different amount"):
        _other_amount(step, blocked, "g" if portion.drops is None else "drops", settles)


def _offer_dilution(step: Step, thin: Any) -> None:
    """Offer to keep a pre-dilution, to be found on the shelf from then on."""

    def keep() -> None:
        if parts.attempt(step.keep, thin) is not None:
            parts.remember(f"{thin.flavouring_id} is on the shelf now, made fresh with what it is stirred into")

    st.button(f"Keep {md(thin.name)} on the shelf", key=step.key("keep-dilution"), width="stretch", on_click=keep)


def _other_amount(step: Step, blocked: bool, usual: str, settles: Mapping[str, Any] = MappingProxyType({})) -> None:
    """Ask how much of it really went in, in the unit of the advice to begin with."""
    unit = st.pills("Measured in", ["drops", "g", "ml"], default=usual, required=True, key=step.key("unit"))
    st.text_input(f"Amount in {unit}", key=step.key(f"amount-{unit}"), max_chars=20)

    def read() -> dict[str, Any]:
        if not (text := _written(step)[1]):
            raise CupError("no amount is entered", f"write how many {unit} went in")
        return _measured(unit, text)

    step.button("I added this much", "add", disabled=blocked, read=read, flavouring_id=step.state.current, **settles)


def _written(step: Step) -> tuple[str, str]:
    """Return unit and text of the different amount as far as it is written; the text is empty before it is."""
    unit = st.session_state.get(step.key("unit")) or "g"
    return unit, st.session_state.get(step.key(f"amount-{unit}"), "").strip()


def _measured(unit: str, text: str) -> dict[str, Any]:
    if not (much := entered(text, 0, 2000, unit)):
        raise CupError(f"{text} {unit} is no addition", f"write how many {unit} went in, or empty the field")
    return {"amount": much, "unit": unit, "as_advised": False}


def _way_on(step: Step, label: str, kind: str, blocked: bool = False, **facts: Any) -> None:
    """Draw the way on under the thumb; a different amount that is written takes its place, and is never passed over."""
    unit, text = _written(step)
    if text:
        label, facts = f"I added {md(text)} {unit}", facts if kind == "add" else {"flavouring_id": step.state.current}
        kind = "add"

    def read() -> dict[str, Any]:  # asked when it is tapped: the tap itself may have left the field
        unit, text = _written(step)
        if text and kind != "add":
            raise CupError(f"{text} {unit} is written, but not added yet", "say that it went in, or empty the field")
        return _measured(unit, text) if text else {}

    step.button(label, kind, primary=True, disabled=blocked, read=read, name="on", **facts)


def _stand(step: Step) -> None:
    """Offer to let the cup stand before it is sipped again."""
    if not any(e["kind"] == "add" for e in step.draft.live):
        return
    key = step.key("stand")

    def answer() -> None:
        if (chosen := st.session_state[key]) is not None:
            step.tap("stand", minutes=chosen)

    with st.expander("Let it stand, then sip again", icon=":material/timer:"):
        st.pills("Minutes", STANDS, format_func=lambda m: f"{m} min", key=key, on_change=answer, width="stretch")


def sip(step: Step) -> None:
    """Ask how strong it is now."""
    name = step.name(step.state.current)
    parts.ask(step.said_to(f"take a sip. How strong is the {name}?"))
    last = step.draft.live[-1]
    if last["kind"] == "stand":
        timer.show(last["at"], 60 * last["minutes"], step.key("timer"))
    key, grams_key = step.key("strength"), step.key("sip")

    def answer() -> None:
        if (chosen := st.session_state[key]) is None:
            return
        g = parts.attempt(entered, st.session_state[grams_key], 0, 500)
        if g is not None:
            step.tap("read", taster=step.state.taster, g=g, strength={step.state.current: chosen})
        st.session_state[key] = None  # were it refused, the same word can be chosen again

    with st.container(key="answer-strength"):
        st.pills(
            "Strength",
            range(len(STRENGTH_WORDS)),
            format_func=STRENGTH_WORDS.__getitem__,
            key=key,
            on_change=answer,
            label_visibility="collapsed",
            width="stretch",
        )
    with st.expander(f"The sip was not {SIP_G:.0f} g"):
        st.text_input("Sip in g", f"{SIP_G:g}", key=grams_key, max_chars=20)
    if last["kind"] != "stand":
        _stand(step)
