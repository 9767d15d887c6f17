"""The form that plans a blind check."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.model.constants import DEFAULT_TASTER
from pairing.model.kept_recipe import recipe_kept
from pairing.model.recipe import Recipe
from pairing_dashboard import parts, session
from pairing_dashboard.log_lines import line, recipe_of
from pairing_dashboard.wording import number

if TYPE_CHECKING:
    from pairing.bench import Bench

__all__ = ["PLANNED", "plan"]

PLANNED = "blind-planned"
"""Whether a check was planned in the last run: the page opens it."""
LAST = 20
"""So many cups of the log are offered for a side."""
QUESTIONS = {
    "stronger": "Which tastes stronger?",
    "prefer": "Which do you prefer?",
    "closer": "Which is closer to the target?",
}


def plan(bench: Bench) -> None:
    """Ask for two recipes, the question, the taster and how small a difference matters."""
    tasters = list(dict.fromkeys([*session.shelf(bench).tasters, *bench.used("readings", "taster"), DEFAULT_TASTER]))
    left, right = st.columns(2)
    known = _known(bench)
    with left:
        a = _side(bench, "First side", known)
    with right:
        b = _side(bench, "Second side", known)
    question = st.pills(
        "Question", list(QUESTIONS), format_func=QUESTIONS.__getitem__, default="stronger", required=True
    )
    if question == "stronger":
        st.html('<p class="quiet">The first side is the one expected to be stronger.</p>')
    target: str | None = None
    if question == "closer":
        there = list(session.targets(bench).values())
        target = st.selectbox(
            "The target, poured beside every serving",
            there,
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
    options = {"question": question, "target": target or "", "taster": taster, "alone": alone}
    options |= {"d_prime": d_prime, "alpha": alpha, "power": power}
    if a is not None and b is not None:
        _say_length(a, b, **options)
    if st.button("Plan it", type="primary", disabled=a is None or b is None):
        if parts.attempt(_begin, bench, a, b, **options):
            st.rerun()
        parts.said()


def _say_length(a: Recipe, b: Recipe, **options: Any) -> None:
    """Say how many servings it would take, before it is planned; what cannot be planned is said when it is tapped."""
    from pairing.blind.plan import plan as planned
    from pairing.blind.sheets import length

    with suppress(PairingError):
        st.html(f'<p class="quiet">{parts.escape(length(planned(a, b, **options)))}</p>')


def _known(bench: Bench) -> dict[str, Recipe]:
    """Return what a side may be taken from, by what it is called: kept recipes, and the last cups of the log."""
    shelf, table = session.shelf(bench), session.table(bench, "recipes")
    called = [f"{r.recipe_id}@{r.version:.0f}" for r in parts.rows(table) if r.status != "retired"]
    found = {name: recipe_kept(table, name) for name in called}
    rows = bench.readings_of(bench.listed(LAST).trials)
    cups = {trial: mine for trial, mine in rows.groupby("trial_id", sort=False)}
    for trial, mine in reversed(cups.items()):
        it = line(str(trial), mine, shelf)
        found.setdefault(f"{it.when}: {it.what} in {it.base}", recipe_of(mine, shelf))  # the end may be cut off
    return {name: it for name, it in found.items() if it is not None and None not in it.doses.values()}


def _take(label: str, known: Mapping[str, Recipe]) -> None:
    """Fill the fields of a side from the recipe or cup that was chosen."""
    if (recipe := known.get(st.session_state[f"{label}-from"])) is not None:
        st.session_state[f"{label}-base"], st.session_state[f"{label}-in"] = recipe.base_id, list(recipe.doses)
        for i, dose in recipe.doses.items():
            st.session_state[f"{label}-{recipe.base_id}-{i}"] = number(dose or 0.0, 4)


def _side(bench: Bench, label: str, known: Mapping[str, Recipe]) -> Recipe | None:
    """Ask for a recipe with numeric doses: one that is known, or what goes into it."""
    shelf = session.shelf(bench)
    bases = {i: b.name for i, b in shelf.bases.items()}
    names = {i: f.name for i, f in shelf.flavourings.items()}
    st.subheader(label, anchor=False)
    if known:
        how: dict[str, Any] = {"on_change": _take, "args": (label, known), "placeholder": "choose, or fill in below"}
        st.selectbox("A recipe or cup of yours", list(known), None, key=f"{label}-from", **how)
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


def _begin(bench: Bench, a: Recipe, b: Recipe, **options: Any) -> bool:
    from pairing.blind.kept import begin
    from pairing.blind.plan import plan as planned

    begin(bench, planned(a, b, **options))
    st.session_state[PLANNED] = True
    parts.remember("The check is planned.")
    return True
