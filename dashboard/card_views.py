"""Choosing a recipe and a size, and the card that comes of it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.model.constants import MAX_DOSE_G_PER_KG
from pairing_dashboard import parts, session

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.model.recipe import Recipe
    from pairing.report.card import Card

__all__ = ["show"]


def show(bench: Bench, model: Learned) -> None:
    """Ask for recipe and size, then show the card and hand it out as a file."""
    try:
        recipe = _recipe(model)
        servings = st.number_input("Servings", 0.0, 1000.0, 1.0, 1.0, "%g", key="card-servings")
        drinkers = st.multiselect("For", list(model.shelf.tasters), placeholder="nobody in particular")
        if recipe is not None:
            _card(_made(bench, model, recipe, servings, drinkers))
    except PairingError as error:
        parts.problem(error)


def _recipe(model: Learned) -> Recipe | None:
    from pairing.model.recipe import Recipe

    shelf = model.shelf
    if chosen := st.session_state.pop("card", None):  # handed over by a suggestion
        st.session_state["card-base"], st.session_state["card-inside"] = chosen.base_id, list(chosen.doses)
        for i, dose in chosen.doses.items():
            st.session_state[f"card-dose-{chosen.base_id}-{i}"] = round(dose, 3)
    left, right = st.columns(2)
    with left:
        bases = {i: b.name for i, b in shelf.bases.items()}
        base = st.selectbox("Base", list(bases), format_func=bases.__getitem__, key="card-base")
    with right:
        names = {i: f.name for i, f in shelf.flavourings.items()}
        inside = st.multiselect(
            "Flavourings", list(names), format_func=names.__getitem__, key="card-inside", max_selections=6
        )
    if not inside:
        st.info("Choose what goes in. Each dose starts at what is expected to read 'just right'.")
        return None
    needed = model.needed_dose([base], inside).set_index("flavouring_id")["dose_g_per_kg"]
    doses = {}
    for i in inside:
        key = f"card-dose-{base}-{i}"
        st.session_state.setdefault(key, round(float(needed[i]), 3))
        doses[i] = st.number_input(f"{names[i]}, g/kg", 0.0, MAX_DOSE_G_PER_KG, format="%.3g", key=key)
    return Recipe(base, doses)


def _made(bench: Bench, model: Learned, recipe: Recipe, servings: float, drinkers: list[str]) -> Card:
    from datetime import UTC, datetime

    from pairing.report.card import recipe_card

    settings = bench.settings
    return recipe_card(
        recipe,
        model.shelf,
        model=model,
        comparisons=session.table(bench, "comparisons"),
        servings=servings,
        scale_g=settings["scale_g"],
        jurisdiction=settings["jurisdiction"],
        tasters=drinkers,
        currency=settings["currency"],
        made_on=datetime.now(UTC).date().isoformat(),
    )


def _card(card: Card) -> None:
    from pairing.report.card_page import card_document
    from pairing.report.document import to_html, to_markdown

    document = card_document(card)
    text = to_markdown(document)
    files = {
        "Page to print": (to_html(document), "recipe-card.html", "text/html"),
        "Markdown": (text, "recipe-card.md", "text/markdown"),
        "JSON": (json.dumps(card.to_dict(), indent=1, ensure_ascii=False), "recipe-card.json", "application/json"),
    }
    for column, (label, (content, name, kind)) in zip(st.columns(len(files)), files.items(), strict=True):
        with column:
            st.download_button(label, content, name, kind, on_click="ignore", width="stretch")
    with st.container(border=True):
        parts.document(document)
