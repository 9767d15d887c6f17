"""Recipes that are kept: the versions of one, what changed and why, and what the log says of each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing.model.base import DEFAULT_SERVING_G
from pairing.model.columns import RECIPES
from pairing.model.doses import grams
from pairing.model.fields import is_missing
from pairing.model.kept_recipe import recipe_kept
from pairing.model.recipe import Recipe, recipe_text
from pairing_dashboard import pages, parts, row_seen, session
from pairing_dashboard.cup import start
from pairing_dashboard.log_lines import local
from pairing_dashboard.suggestion_why import named, side_by_side
from pairing_dashboard.wording import amount, joined, md, number, sentence, short

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from pairing.bench import Bench
    from pairing.model.shelf import Shelf

__all__ = ["changes", "show"]

NAME = "name"
"""The recipe that is looked at, in the address."""
SIDES = 2
STATUS = RECIPES.by_name["status"].choices


def show(bench: Bench) -> None:
    """Ask which recipe, and draw its versions, the last one first."""
    table = session.table(bench, "recipes").sort_values("version")
    if table.empty:
        st.write("No recipe is kept yet. Keep one from a cup in the log.")
        pages.link("log", "To the log")
        return
    last = table.drop_duplicates("recipe_id", keep="last").sort_values("at", ascending=False, kind="stable")
    names = dict(zip(last["recipe_id"], last["status"], strict=True))
    if (asked := st.query_params.get(NAME)) and asked not in names:
        st.info(f"No recipe is kept as {md(short(asked))}.")
    name = st.selectbox(
        "Recipe",
        list(names),
        list(names).index(asked) if asked in names else 0,
        format_func=lambda it: f"{it} ({names[it]})",
        key=f"recipe-{asked}",
    )
    if name is None:
        return
    st.query_params[NAME] = name
    own = [dict(row) for row in table[table["recipe_id"] == name].to_dict("records")]
    recipes = {f"{name}@{row['version']:.0f}": recipe_kept(table, f"{name}@{row['version']:.0f}") for row in own}
    sides = st.container()
    for row, (called, recipe) in zip(reversed(own), reversed(list(recipes.items())), strict=True):
        if recipe is not None:
            _version(bench, row, called, recipe, recipes.get(str(row["parent"])))
    chosen = {called: it for called, it in recipes.items() if it is not None and st.session_state.get(f"side-{called}")}
    with sides:
        if len(chosen) == SIDES:
            side_by_side(bench, list(chosen.values()), list(chosen))
        elif len(recipes) > 1:
            st.html('<p class="quiet">Tap <em>Compare</em> on two versions to hold them against each other.</p>')


def _version(bench: Bench, row: Mapping[str, Any], called: str, recipe: Recipe, parent: Recipe | None) -> None:
    """Draw one version, what stands behind it, and the ways on."""
    shelf = session.shelf(bench)
    with st.container(border=True, key=f"version-{row['version']:.0f}"):
        st.markdown(f"**Version {row['version']:.0f}**, {md(row['status'])} · {md(local(row['at']))}")
        st.write(md(f"{named(recipe, shelf)}: {_doses(recipe, shelf)}."))
        st.write(md(_glass(recipe, shelf, bench.settings["scale_g"])))
        if parent is not None:
            st.write(md(f"Changed: {joined(changes(parent, recipe, shelf)) or 'nothing in the cup'}."))
        if not is_missing(row["note"]):
            st.write(md(f"Why: {row['note']}"))
        st.html(f'<p class="quiet">{parts.escape(" ".join(map(sentence, _evidence(bench, recipe))))}</p>')
        with st.container(horizontal=True, vertical_alignment="center"):
            start.link("Taste it again", recipe, purpose="confirm", primary=True)
            pages.link("cards", "Recipe card", recipe=recipe_text(recipe))
            st.checkbox("Compare", key=f"side-{called}")
            with st.popover("Status and note"):
                _correct(bench, row, called)


def _correct(bench: Bench, row: Mapping[str, Any], called: str) -> None:
    """Correct how far a version is and why it was made; what it holds never changes."""
    seen = row_seen.seen(f"recipe-{called}", called, bench.revision, row)
    with st.form(f"correct-{called}", border=False):
        shown = seen.shown("status")
        status = st.pills("Status", STATUS, default=shown if shown in STATUS else None, key=seen.key("status"))
        note = st.text_input("Why", seen.shown("note"), max_chars=4000, key=seen.key("note")).strip()
        if not st.form_submit_button("Save", type="primary"):
            return

    def write(changed: Mapping[str, str]) -> None:
        key = (row["recipe_id"], row["version"])
        bench.correct("recipes", key, {n: it or None for n, it in changed.items()}, expected_revision=seen.revision)
        parts.remember(f"{called} is saved.")

    parts.attempt(row_seen.save, seen, {"status": status or "", "note": note}, write)
    st.rerun()


def _doses(recipe: Recipe, shelf: Shelf) -> str:
    return joined(f"{shelf.flavouring(i).name} {amount(dose, 'g/kg')}" for i, dose in recipe.doses.items() if dose)


def _glass(recipe: Recipe, shelf: Shelf, scale_g: float) -> str:
    """Say what goes into one serving, as a hand measures it."""
    base = shelf.base(recipe.base_id)
    base_g = base.serving_g or DEFAULT_SERVING_G
    parts_g = grams(base_g, {i: dose for i, dose in recipe.doses.items() if dose})
    inside = joined(f"{shelf.portion(i, g, scale_g)} {shelf.names[i]}" for i, g in parts_g.items())
    return f"To {amount(base_g, 'g')}: {inside or 'nothing'}."


def _evidence(bench: Bench, recipe: Recipe) -> tuple[str, ...]:
    from pairing.blind.kept import finished
    from pairing.report.evidence import evidence

    model = session.model(bench)
    return evidence(recipe, model.log, model.shelf, session.table(bench, "comparisons"), finished(bench)).sentences


def changes(before: Recipe, after: Recipe, shelf: Shelf) -> list[str]:
    """Say what tells a recipe from the one before it.

    Examples
    --------
    >>> from pairing.model.shelf import Shelf
    >>> from pairing.model.base import Base
    >>> from pairing.model.flavouring import Flavouring
    >>> inside = [Flavouring(flavouring_id=i, name=i.title(), label_dose_g_per_kg=1) for i in ("plum", "mint")]
    >>> shelf = Shelf.of([Base(base_id="oat", name="Oat")], inside)
    >>> changes(Recipe("oat", {"plum": 1.0}), Recipe("oat", {"plum": 1.6, "mint": 0.5}), shelf)
    ['Plum 1 to 1.6 g/kg', 'with Mint 0.5 g/kg']
    """
    found = [] if before.base_id == after.base_id else [f"in {shelf.names[after.base_id]}"]
    for i in dict.fromkeys([*before.doses, *after.doses]):
        was, now, name = before.doses.get(i), after.doses.get(i), shelf.names.get(i, i)
        if was is None and now is not None:
            found.append(f"with {name} {number(now)} g/kg")
        elif now is None:
            found.append(f"without {name}")
        elif was != now:
            found.append(f"{name} {number(was)} to {number(now)} g/kg")
    return found
