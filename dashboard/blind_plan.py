"""The form that plans a blind check."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing.model.constants import DEFAULT_TASTER
from pairing.model.recipe import Recipe
from pairing_dashboard import parts, session

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["PLANNED", "plan"]

PLANNED = "blind-planned"
"""Whether a check was planned in the last run: the page opens it."""
QUESTIONS = {
    "stronger": "Which tastes stronger?",
    "prefer": "Which do you prefer?",
    "closer": "Which is closer to the target?",
}


def plan(bench: Bench) -> None:
    """Ask for two recipes, the question, the taster and how small a difference matters."""
    tasters = list(dict.fromkeys([*session.shelf(bench).tasters, *bench.used("readings", "taster"), DEFAULT_TASTER]))
    left, right = st.columns(2)
    with left:
        a = _side(bench, "First side")
    with right:
        b = _side(bench, "Second side")
    question = st.pills(
        "Question", list(QUESTIONS), format_func=QUESTIONS.__getitem__, default="stronger", required=True
    )
    if question == "stronger":
        st.html('<p class="quiet">The first side is the one expected to be stronger.</p>')
    target: str | None = None
    if question == "closer":
        known = list(session.targets(bench).values())
        target = st.selectbox(
            "The target, poured beside every serving",
            known,
            index=None,
            placeholder="choose, or type what it is",
            accept_new_options=True,
        )
    taster = st.selectbox("Taster", tasters)
    alone = st.toggle("Alone, without a helper: stickers under the cups", key="blind-alone")
    with st.expander("How sure, and how small a difference"):
        d_prime = st.number_input("Difference worth having, d′ (1: right in 76 of 100 pairs)", 0.2, 4.0, 1.0, 0.1)
        alpha = st.number_input("Risk of calling a difference that is not there", 0.001, 0.3, 0.05, 0.01)
        power = st.number_input("Chance of finding one that is", 0.5, 0.99, 0.9, 0.05)
    ready = a is not None and b is not None
    if st.button("Plan it", type="primary", disabled=not ready):
        options = {"question": question, "target": target or "", "taster": taster, "alone": alone}
        if parts.attempt(_begin, bench, a, b, d_prime=d_prime, alpha=alpha, power=power, **options):
            st.rerun()
        parts.said()


def _side(bench: Bench, label: str) -> Recipe | None:
    """Ask for a recipe with numeric doses."""
    shelf = session.shelf(bench)
    bases = {i: b.name for i, b in shelf.bases.items()}
    names = {i: f.name for i, f in shelf.flavourings.items()}
    st.subheader(label, anchor=False)
    base = st.selectbox("Base", list(bases), format_func=bases.__getitem__, key=f"{label}-base")
    inside = st.multiselect(
        "Flavourings",
        list(names),
        format_func=names.__getitem__,
        key=f"{label}-in",
        max_selections=6,
        placeholder="plain",
    )
    needed = dict(zip(inside, _needed(bench, base, inside), strict=True))
    doses = {i: parts.dose(names[i], f"{label}-{base}-{i}", needed[i]) for i in inside}
    return Recipe(base, doses) if base and None not in doses.values() else None


def _needed(bench: Bench, base: str | None, inside: list[str]) -> list[float]:
    """Return doses to begin with: what each flavouring needs in the base."""
    if not (base and inside):
        return [1.0] * len(inside)
    found = session.model(bench).needed_dose([base], inside).set_index("flavouring_id")["dose_g_per_kg"]
    return [float(found[i]) for i in inside]


def _begin(bench: Bench, a: Recipe, b: Recipe, **options: object) -> bool:
    from pairing.blind.kept import begin
    from pairing.blind.plan import plan as planned

    begin(bench, planned(a, b, **options))  # type: ignore[arg-type]
    st.session_state[PLANNED] = True
    parts.remember("The check is planned.")
    return True
