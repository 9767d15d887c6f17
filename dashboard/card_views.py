"""Choosing a recipe and a size, and the card that comes of it."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.model.brief import Brief
from pairing.model.kept_recipe import name_kept
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text
from pairing.report.document import to_html, to_markdown
from pairing_dashboard import pages, parts, session
from pairing_dashboard.cup import start
from pairing_dashboard.kept_suggestions import suggested
from pairing_dashboard.wording import number

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.report.card import Card

__all__ = ["show"]


CARD_BASE, INSIDE = "card-base", "card-inside"
DIGITS = 4
"""Significant digits of a dose in its field."""
START = 0.6
"""How long it may take at most until the page begins to answer a field that was left, s."""


class _Drawn:
    """The card on the page, for whoever takes a file of it.

    The tap on a file may leave a field: the file is then that of the card which this brings, so it is waited for.
    """

    def __init__(self) -> None:
        self.ready = threading.Event()
        self.card: Card | None = None

    def begin(self) -> None:
        self.ready.clear()
        self.card = None

    def file(self, write: Callable[[Card], str]) -> str:
        """Write a file of the card; called at the tap, beside the page."""
        time.sleep(START)
        self.ready.wait(30)
        if self.card is None:
            raise PairingError("there is no card any more")
        return write(self.card)


def show(bench: Bench, model: Learned) -> None:
    """Ask for recipe and size, then show the card and hand it out as a file."""
    drawn: _Drawn = st.session_state.setdefault("card-drawn", _Drawn())
    drawn.begin()
    try:
        with st.expander("Recipe, size, and for whom", icon=":material/edit:", key="card-asked-for"):
            recipe = _recipe(bench, model)
            servings = st.number_input("Servings", 0.0, 1000.0, 1.0, 1.0, "%g", key="card-servings")
            drinkers = st.multiselect("For", list(model.shelf.tasters), placeholder="nobody in particular")
        if recipe is not None:
            with st.container(horizontal=True):
                start.link("Start this cup", recipe, primary=True)
                if not session.table(bench, "recipes").empty:
                    pages.link("recipes", "Kept recipes")
            _card(_made(bench, model, recipe, servings, drinkers), drawn)
    except PairingError as error:
        parts.problem(error)
    drawn.ready.set()


def _recipe(bench: Bench, model: Learned) -> Recipe | None:
    shelf = model.shelf
    asked = st.query_params.get("recipe") or ("" if CARD_BASE in st.session_state else _at_hand(bench))
    if asked and asked != st.session_state.get("card-asked"):
        st.session_state["card-asked"] = asked
        chosen = parse_recipe_text(asked)
        st.session_state[CARD_BASE], st.session_state[INSIDE] = chosen.base_id, list(chosen.doses)
        for i, dose in chosen.doses.items():
            st.session_state[f"card-dose-{chosen.base_id}-{i}"] = number(dose, DIGITS)
    left, right = st.columns(2)
    with left:
        bases = {i: b.name for i, b in shelf.bases.items()}
        parts.renamed(CARD_BASE, bases)
        base = st.selectbox("Base", list(bases), format_func=bases.__getitem__, key=CARD_BASE)
    with right:
        names = {i: f.name for i, f in shelf.flavourings.items()}
        parts.renamed(INSIDE, names)
        inside = st.multiselect("Flavourings", list(names), format_func=names.__getitem__, key=INSIDE, max_selections=6)
    if not inside:
        st.info("Choose what goes in. Each dose starts at what is expected to read 'just right'.")
        return None
    needed = model.needed_dose([base], inside).set_index("flavouring_id")["dose_g_per_kg"]
    doses = {i: parts.dose(names[i], f"card-dose-{base}-{i}", float(needed[i])) for i in inside}
    if None in doses.values():
        return None
    recipe = Recipe(base, doses)
    if not _same(st.session_state.get("card-asked", ""), recipe):  # so a reload and a link show what was changed
        st.session_state["card-asked"] = st.query_params["recipe"] = recipe_text(recipe)
    return recipe


def _same(asked: str, recipe: Recipe) -> bool:
    """Whether a recipe is still the one that was asked for, as far as the fields show it."""
    known = parse_recipe_text(asked) if asked else None
    return known is not None and known.base_id == recipe.base_id and _shown(known) == _shown(recipe)


def _shown(recipe: Recipe) -> dict[str, str]:
    return {i: number(dose, DIGITS) for i, dose in recipe.doses.items() if dose is not None}


def _at_hand(bench: Bench) -> str:
    """Return the recipe to open on, as text: the one that was kept last, else the first that is suggested."""
    kept = session.table(bench, "recipes")
    if not (kept := kept[kept["status"] == "kept"]).empty:
        last = kept.iloc[-1]
        return f"{last['base_id']}|{last['doses']}"
    try:
        return next((recipe_text(it.recipe) for it in suggested(bench, Brief())), "")
    except PairingError:
        return ""


def _made(bench: Bench, model: Learned, recipe: Recipe, servings: float, drinkers: list[str]) -> Card:
    from pairing.blind.kept import finished
    from pairing.report.card import recipe_card

    settings = bench.settings
    return recipe_card(
        recipe,
        model.shelf,
        model=model,
        comparisons=session.table(bench, "comparisons"),
        checks=finished(bench),
        servings=servings,
        scale_g=settings["scale_g"],
        jurisdiction=settings["jurisdiction"],
        tasters=drinkers,
        rules=session.host(bench).rules,
        already=session.swallowed(bench),
        currency=settings["currency"],
        made_on=datetime.now(UTC).date().isoformat(),
        called=name_kept(session.table(bench, "recipes"), recipe),
    )


def _card(card: Card, drawn: _Drawn) -> None:
    from pairing.report.card_page import card_document

    drawn.card = card
    files: dict[str, tuple[Callable[[Card], str], str, str]] = {
        "Page to print": (lambda it: to_html(card_document(it)), "recipe-card.html", "text/html"),
        "Markdown": (lambda it: to_markdown(card_document(it)), "recipe-card.md", "text/markdown"),
        "JSON": (_as_json, "recipe-card.json", "application/json"),
    }
    with st.container(horizontal=True, key="files"):
        for label, (write, name, kind) in files.items():
            st.download_button(label, partial(drawn.file, write), name, kind, on_click="ignore")
    with st.container(border=True, key="printed"):
        parts.document(card_document(card))


def _as_json(card: Card) -> str:
    return json.dumps(card.to_dict(), indent=1, ensure_ascii=False)
