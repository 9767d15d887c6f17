"""A logged cup opened: its ladder, what was said, and what can be done with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing.learning.off_notes import notes_in
from pairing.model.columns import LIKING_WORDS, STRENGTH_WORDS
from pairing.model.fields import is_missing
from pairing.model.recipe import Recipe, recipe_text
from pairing.model.weighing import added_by
from pairing.model.wording import note_in_words
from pairing_dashboard import pages, parts, session
from pairing_dashboard.cup import ladder, start
from pairing_dashboard.cup.draft import HOW_MUCH
from pairing_dashboard.log_lines import LoggedCup, measured, recipe_of, sips
from pairing_dashboard.wording import joined, md

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from pairing.bench import Bench
    from pairing.model.cup import Cup
    from pairing.model.shelf import Shelf

__all__ = ["show"]


def show(bench: Bench, it: LoggedCup, mine: pd.DataFrame, made: Cup | None) -> None:
    """Offer the ways on; draw the ladder of a cup and say what was said sip by sip.

    What had gone in by each sip is told as it was added, where the steps of the cup are kept.
    """
    shelf = session.shelf(bench)
    if (recipe := recipe_of(mine, shelf)) is not None:
        _ways_on(bench, it, recipe)
    found = sips(mine, shelf)
    if len(found) > 1:
        ladder.drawn(found)
    groups = [group for _, group in mine.groupby(["taster", "reading"], sort=False)]
    went_in = added_by(made) if made is not None and made.parent_trial_id is None else [None] * len(groups)
    parts.table(
        (
            row
            for group, so_far in zip(groups, went_in, strict=True)
            for row in _said(shelf, group, mine, bench.settings["scale_g"], so_far or {})
        ),
        ("Sip", "In the cup" if None in went_in else "Gone in so far", "Said"),
        f"{it.what} in {it.base}",
    )


def _said(
    shelf: Shelf, group: pd.DataFrame, mine: pd.DataFrame, scale_g: float, so_far: Mapping[str, float]
) -> Iterator[tuple[str, str, str]]:
    """Write what one taster said at one moment: a row for each flavouring, the last for the whole."""
    first = group.iloc[0]
    sip = f"{first['reading']:g}, {first['taster']}"
    for _, row in group[group["flavouring_id"].notna()].iterrows():
        name = shelf.flavourings[row["flavouring_id"]].name if row["flavouring_id"] in shelf.flavourings else "?"
        word = "" if is_missing(row["strength"]) else STRENGTH_WORDS[int(row["strength"])]
        yield sip, f"{name} {measured(row, mine, shelf, scale_g, so_far)}", word
        sip = ""
    of_all = [] if is_missing(first["liking"]) else [f"{first['liking']:g} {_word(float(first['liking']))}".strip()]
    noted = {} if is_missing(first["off_notes"]) else notes_in(str(first["off_notes"]))
    of_all += [f"{note_in_words(off_note)} ({HOW_MUCH[how]})" for off_note, how in noted.items()]
    of_all += [] if is_missing(first["note"]) else [str(first["note"])]
    if of_all or sip:
        yield sip, "the whole" if not sip else "plain", joined(of_all)


def _word(liking: float) -> str:
    return LIKING_WORDS[int(liking) - 1] if liking.is_integer() and 1 <= liking <= len(LIKING_WORDS) else ""


def _ways_on(bench: Bench, it: LoggedCup, recipe: Recipe) -> None:
    """Repeat the cup, go on with it, make its card, keep its recipe, or copy it."""
    with st.container(horizontal=True, vertical_alignment="center"):
        start.link("Repeat it", recipe, by="own", purpose="adjust", primary=True)
        start.go_on_link(bench, it.trial_id)
        if None in recipe.doses.values():
            return
        pages.link("cards", "Recipe card", recipe=recipe_text(recipe))
        with st.popover("Keep the recipe", key=f"keep-{it.trial_id}-{bench.revision}"):  # it shuts once that is done
            name = st.text_input("Name", f"{it.what} in {it.base}", key=f"keep-{it.trial_id}", max_chars=100)
            if st.button("Keep it", key=f"keep-it-{it.trial_id}", type="primary"):
                kept = parts.attempt(bench.keep, recipe, name=name.strip())
                if kept is not None:
                    parts.remember(f"{kept} is kept among the recipes.")
                st.rerun()
        with st.popover("Copy"):
            st.code(recipe_text(recipe), language=None)
            st.html(f'<p class="quiet">{md(it.what)} as commands and tables take it.</p>')
