"""Questions before the first drop: base, flavourings, tasters, how much was poured."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import CupError, PairingError
from pairing.model.caution import Caution
from pairing.model.constants import SERVED_AT_C
from pairing.model.recipe import Recipe
from pairing.model.taster import Taster
from pairing.nutrition.names import may_be_suggested
from pairing.nutrition.seasoning import in_order
from pairing.quantities.directions import label_dose
from pairing.report.lots import called
from pairing.safety.avoidance import forbidden
from pairing.safety.cautions import cautions
from pairing.safety.children import had_enough
from pairing.safety.people import CUPS_OF_A_CHILD
from pairing_dashboard import parts
from pairing_dashboard.cup.step import FEW, Step
from pairing_dashboard.wording import cell, entered, joined, md

if TYPE_CHECKING:
    from pairing.stock.reckon import Held

__all__ = ["base", "bottle", "flavourings", "held_back", "pour"]


def base(step: Step) -> None:
    """Ask which base."""
    parts.ask("Which base?")
    step.pick("Base", {b.base_id: b.name for b in step.shelf.bases.values()}, "base", "base_id")
    if step.brought:
        with st.expander("A base that a plugin brings"):
            step.pick("Base from a plugin", step.brought, "base", "base_id")


def flavourings(step: Step) -> None:
    """Ask what goes in; more can be added later. Seasonings come first."""
    names = {f.flavouring_id: f.name for f in step.shelf.flavourings.values() if may_be_suggested(f, step.shelf)}
    if len(names) <= FEW:
        parts.ask("What will go in?")
        chosen: Sequence[str] = st.pills(
            "Flavourings",
            list(names),
            selection_mode="multi",
            format_func=lambda i: md(names[i]),
            key=step.key("plan"),
            label_visibility="collapsed",
            width="stretch",
        )
    else:
        chosen = _one_by_one(step, names)

    def read() -> dict[str, Any]:
        return {"flavouring_ids": list(in_order(st.session_state.get(step.key("plan"), chosen), step.shelf))}

    if any(f.role == "seasoning" for f in step.shelf.flavourings.values()):
        st.html('<p class="quiet">Of a new base set sweet, salt and acid first, without any aroma.</p>')
    step.button("Next", "plan", primary=True, disabled=not chosen, read=read, closed=True)
    if not chosen:
        step.button("Taste it plain", "plan", flavouring_ids=[], closed=True)


def _one_by_one(step: Step, names: dict[str, str]) -> tuple[str, ...]:
    """Search a long shelf, one flavouring at a time; the list closes after each."""
    planned, key = step.state.planned, step.key("plan-one")
    parts.ask("Anything else?" if planned else "What will go in?")

    def answer() -> None:
        if (found := st.session_state[key]) is not None:
            step.tap("plan", flavouring_ids=[found], closed=False)

    left = in_order((i for i in names if i not in planned), step.shelf)
    st.selectbox(
        "Flavouring",
        left,
        index=None,
        format_func=names.__getitem__,
        key=key,
        on_change=answer,
        placeholder="Type to search",
        label_visibility="collapsed",
    )
    return planned


def bottle(step: Step, item_id: str, lots: Sequence[Held]) -> None:
    """Ask which of several open lots it is; that one is in use from this cup on."""
    parts.ask(f"Which {step.name(item_id)} is it? {len(lots)} are open.")
    step.pick("Lot", {one.lot.lot: called(one) for one in lots}, "lot", "lot", item_id=item_id)
    step.button("I do not know", "lot", item_id=item_id, lot=None)


def pour(step: Step) -> None:
    """Ask how much base was poured, and for whom; before that, say what to mind in this cup."""
    serving = step.shelf.base(step.state.base_id or "").serving(step.state.serving_g)
    parts.ask(f"Pour the {step.name(step.state.base_id)}. How much is in the cup?")
    key = step.key("pour")
    st.text_input("Grams of base", cell(float(serving)), key=key, max_chars=20)
    present = _tasters(step)
    warm = step.key("warm")
    st.pills("How is it drunk?", list(SERVED_AT_C), key=warm)

    def read() -> dict[str, Any]:
        everyone = present()
        if not everyone:
            raise CupError("nobody tastes this cup", "choose who does, or type a name")
        if step.state.planned and (full := had_enough(step.readings, everyone, step.shelf)):
            told = f"{joined(full)} tasted {CUPS_OF_A_CHILD} flavoured cups today, the most for a child"
            raise CupError(told, "let others taste this one, or go on tomorrow")
        if kept_from(step, everyone):
            raise CupError("somebody must avoid what is in this cup", "leave it out, or let others taste it")
        said = st.session_state[warm]
        how = {} if said is None else {"temperature_c": SERVED_AT_C[said]}
        return {"g": entered(st.session_state[key], 1, 20_000), "tasters": everyone, **how}

    try:
        grams = entered(st.session_state[key], 1, 20_000)
    except PairingError:  # said when it is tapped
        grams = serving
    found = _minded(step, present(), grams)
    blocked = held_back(step, present())
    if not blocked and any(it.severity == "stop" for it in found):
        asked = "This is not to be drunk, see below. It was poured all the same: keep it in the log"
        blocked = not st.checkbox(asked, key=step.key("all-the-same"))
    step.button("I poured this", "pour", primary=True, disabled=blocked, read=read)
    parts.cautions(found, step.shelf)


def _tasters(step: Step) -> Callable[[], list[str]]:
    """Offer those who tasted last; return what gives who tastes at any moment."""
    known = list(dict.fromkeys([*step.usual_tasters, *step.tasters]))
    chosen, other = (f"{name}-{step.draft.draft_id}" for name in ("tasters", "other"))  # choosing a target keeps them

    def present() -> list[str]:
        named = [*st.session_state.get(chosen, step.usual_tasters), st.session_state.get(other, "").strip()]
        return list(dict.fromkeys(filter(None, named)))

    label = f"Tasted by {md(joined(present()) or 'nobody')}"
    with st.expander(label, icon=":material/group:", key=f"who-{step.draft.draft_id}"):
        st.pills(
            "Tasters",
            known,
            selection_mode="multi",
            default=step.usual_tasters,
            format_func=md,
            key=chosen,
            width="stretch",
        )
        st.text_input("Someone else", key=other, placeholder="name", max_chars=200)
        if step.targets:
            _target(step)
    return present


def _target(step: Step) -> None:
    """Offer to hold the cup against a target; how like it is gets asked at the end."""
    now = step.state.target_id
    said = f"Held against {md(step.targets.get(now, now))}" if now else "Hold it against a target"
    st.html(f'<p class="quiet">{parts.escape(said)}</p>')
    step.pick("Target", step.targets, "target", "target_id")


def _minded(step: Step, tasters: Sequence[str], grams: float) -> tuple[Caution, ...]:
    """Return the cautions of the cup as planned; where no dose is aimed at, of the label's."""
    base = step.shelf.base(step.state.base_id or "")
    doses: dict[str, float | None] = {}
    for i in step.state.planned:
        label = label_dose(step.shelf.flavouring(i), base)
        doses[i] = step.state.aims_g_per_kg.get(i) or (label.mid if label else 0.0)
    recipe = Recipe(base.base_id, doses)
    how: dict[str, Any] = {"jurisdiction": step.jurisdiction, "rules": step.rules, "already": step.already}
    return cautions(recipe, step.shelf, tasters, serving_g=grams, **how)


def kept_from(step: Step, tasters: Sequence[str]) -> dict[str, str]:
    """Hold everything in the cup against what each taster must avoid; return what is in the way of whom."""
    inside = [i for i in (step.state.base_id, *step.state.planned) if i is not None]
    found = {t: forbidden(inside, step.shelf, step.shelf.tasters.get(t) or Taster(taster=t)) for t in tasters}
    return {taster: joined(map(str, why)) for taster, why in found.items() if why}


def held_back(step: Step, tasters: Sequence[str]) -> bool:
    """Say who must avoid something in the cup, and offer the ways out; whether anybody must."""
    found = kept_from(step, tasters)
    for who, why in found.items():
        st.error(f"Not for **{md(who)}**: {md(why)}.", icon=":material/block:")
        if len(tasters) > 1:
            _without(step, who)
    if found:
        for flavouring_id in step.state.planned:
            step.button(f"Leave out the {md(step.name(flavouring_id))}", "unplan", flavouring_id=flavouring_id)
    return bool(found)


def _without(step: Step, who: str) -> None:
    """Offer that somebody does not taste this cup: before it is poured by the choice, later by an answer."""
    label = f"{md(who)} does not taste this cup"
    if step.state.base_g:
        step.button(label, "tasters", tasters=[t for t in step.state.tasters if t != who])
        return
    chosen, other = (f"{name}-{step.draft.draft_id}" for name in ("tasters", "other"))

    def leave() -> None:
        st.session_state[chosen] = [t for t in st.session_state[chosen] if t != who]
        if st.session_state[other].strip() == who:
            st.session_state[other] = ""

    st.button(label, key=step.key(label), width="stretch", on_click=leave)
