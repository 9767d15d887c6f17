"""Questions before the first drop: base, flavourings, tasters, how much was poured."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from pairing.errors import CupError, PairingError
from pairing.model.base import DEFAULT_SERVING_G
from pairing.model.caution import Caution
from pairing.model.recipe import Recipe
from pairing.model.taster import Taster
from pairing.quantities.directions import label_dose
from pairing.safety.avoidance import forbidden
from pairing.safety.cautions import cautions
from pairing_dashboard import parts
from pairing_dashboard.cup.step import FEW, Step
from pairing_dashboard.wording import cell, entered, joined, md

__all__ = ["base", "flavourings", "held_back", "pour", "tasters"]


def base(step: Step) -> None:
    """Ask which base."""
    parts.ask("Which base?")
    step.pick("Base", {b.base_id: b.name for b in step.shelf.bases.values()}, "base", "base_id")
    if step.brought:
        with st.expander("A base that a plugin brings"):
            step.pick("Base from a plugin", step.brought, "base", "base_id")


def flavourings(step: Step) -> None:
    """Ask what goes in; more can be added later."""
    names = {f.flavouring_id: f.name for f in step.shelf.flavourings.values() if f.suggestable}
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
        return {"flavouring_ids": list(st.session_state.get(step.key("plan"), chosen))}

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

    left = [i for i in names if i not in planned]
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


def tasters(step: Step) -> None:
    """Ask who tastes."""
    parts.ask("Who tastes this cup?")
    meant = list(step.state.for_tasters)
    known = list(dict.fromkeys([*meant, *step.tasters]))
    present, other = (f"{name}-{step.draft.draft_id}" for name in ("tasters", "other"))  # choosing a target keeps them
    st.pills(
        "Tasters",
        known,
        selection_mode="multi",
        default=meant or known[:1],
        format_func=md,
        key=present,
        label_visibility="collapsed",
        width="stretch",
    )
    st.text_input("Someone else", key=other, placeholder="name", max_chars=200)

    def read() -> dict[str, Any]:
        named = [*st.session_state[present], st.session_state[other].strip()]
        if not (everyone := list(dict.fromkeys(filter(None, named)))):
            raise CupError("nobody tastes this cup", "choose who does, or type a name")
        return {"tasters": everyone}

    step.button("Next", "tasters", primary=True, read=read)
    if step.targets:
        _target(step)


def _target(step: Step) -> None:
    """Offer to hold the cup against a target; how like it is gets asked at the end."""
    now = step.state.target_id
    with st.expander(f"Held against {md(step.targets.get(now, now))}" if now else "Hold it against a target"):
        step.pick("Target", step.targets, "target", "target_id")


def pour(step: Step) -> None:
    """Ask how much base was poured; before that, say what to mind in this cup."""
    usual = step.shelf.base(step.state.base_id or "").serving_g
    serving = step.state.serving_g or usual or DEFAULT_SERVING_G
    parts.ask(f"Pour the {step.name(step.state.base_id)}. How much is in the cup?")
    key = step.key("pour")
    st.text_input("Grams of base", cell(float(serving)), key=key, max_chars=20)

    def read() -> dict[str, Any]:
        return {"g": entered(st.session_state[key], 1, 20_000)}

    try:
        grams = read()["g"]
    except PairingError:  # said when it is tapped
        grams = serving
    found = _minded(step, grams)
    blocked = held_back(step)
    if not blocked and any(it.severity == "stop" for it in found):
        asked = "This is not to be drunk, see below. It was poured all the same: keep it in the log"
        blocked = not st.checkbox(asked, key=step.key("all-the-same"))
    step.button("I poured this", "pour", primary=True, disabled=blocked, read=read)
    parts.cautions(found)


def _minded(step: Step, grams: float) -> tuple[Caution, ...]:
    """Return the cautions of the cup as planned; where no dose is aimed at, of the label's."""
    base = step.shelf.base(step.state.base_id or "")
    doses: dict[str, float | None] = {}
    for i in step.state.planned:
        label = label_dose(step.shelf.flavouring(i), base)
        doses[i] = step.state.aims_g_per_kg.get(i) or (label.mid if label else 0.0)
    recipe = Recipe(base.base_id, doses)
    how: dict[str, Any] = {"jurisdiction": step.jurisdiction, "rules": step.rules, "already": step.already}
    return cautions(recipe, step.shelf, step.state.tasters, serving_g=grams, **how)


def held_back(step: Step) -> bool:
    """Hold everything in the cup against what each taster present must avoid; say what is in the way."""
    inside = [i for i in (step.state.base_id, *step.state.planned) if i is not None]
    blocked = False
    for who in step.state.tasters:
        taster = step.shelf.tasters.get(who) or Taster(taster=who)
        if not (found := forbidden(inside, step.shelf, taster)):
            continue
        blocked = True
        st.error(f"Not for **{md(who)}**: {md(joined(map(str, found)))}.", icon=":material/block:")
        if len(step.state.tasters) > 1:
            others = [t for t in step.state.tasters if t != who]
            step.button(f"{md(who)} does not taste this cup", "tasters", tasters=others)
    if blocked:
        for flavouring_id in step.state.planned:
            step.button(f"Leave out the {md(step.name(flavouring_id))}", "unplan", flavouring_id=flavouring_id)
    return blocked
