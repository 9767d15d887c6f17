"""What covers an off-note that was just noted, and what that costs: the suggestions that `suggest --mask` gives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.learning.off_notes import notes_in
from pairing.model.brief import Brief
from pairing.model.wording import note_in_words
from pairing.model.wording import sentence as said
from pairing_dashboard import parts, session
from pairing_dashboard.cup import start
from pairing_dashboard.wording import joined, md, sentence

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.answers import Suggestion
    from pairing.model.cup import Cup

__all__ = ["ask", "fixes"]

_WORST = 2
"""Of so many off-notes of a cup each has its answers; a cup with more has other troubles (our choice)."""
_ANSWERS = 2


def fixes(bench: Bench, made: Cup, note: str, tasters: tuple[str, ...]) -> list[Suggestion]:
    """Return what could go into a cup beside what is in it, so that a note comes less often.

    Raises
    ------
    PairingError
        When nothing that is allowed brings it down.
    """
    inside, shelf = tuple(made.dose_g_per_kg), session.shelf(bench)
    brief = Brief(
        bases=(made.base_id,),
        tasters=tasters or None,
        must_have=inside or None,
        max_flavourings=1 + sum(shelf.flavouring(f).role != "seasoning" for f in inside),
        mask=note,
        already=session.swallowed(bench),
    )
    found = session.model(bench).suggest(brief, n=_ANSWERS + 1, random_state=0)
    with_more = [it for it in found if set(it.recipe.doses) != set(inside)]  # the cup as it is had that note
    return (with_more or found)[:_ANSWERS]


def ask(bench: Bench, made: Cup) -> None:
    """Offer to fix the strongest off-notes of a cup; nothing where none was noted."""
    noted: dict[str, int] = {}
    for reading in made.readings:
        for note, strength in notes_in(reading.off_notes or "").items():
            noted[note] = max(noted.get(note, 0), strength)
    tasters = tuple(dict.fromkeys(r.taster for r in made.readings if r.taster in session.shelf(bench).tasters))
    for note in sorted(noted, key=noted.__getitem__, reverse=True)[:_WORST]:
        key = f"fix-{note}"
        if st.button(f"Fix this: {md(note_in_words(note))}", key=key, icon=":material/healing:", width="stretch"):
            st.session_state[f"shown-{key}"] = True
        if st.session_state.get(f"shown-{key}"):
            _answers(bench, made, note, tasters)


def _answers(bench: Bench, made: Cup, note: str, tasters: tuple[str, ...]) -> None:
    shelf, scale_g = session.shelf(bench), bench.settings["scale_g"]
    try:
        found = fixes(bench, made, note, tasters)
    except PairingError as error:
        parts.problem(error)
        return
    for it in found:
        amounts = joined(f"{shelf.portion(f, it.grams[f], scale_g)} {shelf.names[f]}" for f in it.recipe.doses)
        st.markdown(f"{md(sentence(amounts))}. {md(sentence(said(it.reasons[0], shelf)))}")
        parts.cautions(it.cautions, shelf)
        start.link("Start", it.recipe, purpose=it.purpose, by="suggested")
