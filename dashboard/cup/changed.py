"""What a cup changed: what was expected and what was said, needed doses before and after, what is suggested now."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.model.recipe import Recipe
from pairing_dashboard import parts, session
from pairing_dashboard.background import at_once, draw_when_done
from pairing_dashboard.cup import fresh
from pairing_dashboard.kept_suggestions import current
from pairing_dashboard.wording import count, joined, md, number, sentence

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.model.answers import Suggestion
    from pairing.model.cup import Cup

__all__ = ["Before", "before", "show"]


@dataclass(frozen=True)
class Before:
    """What was known before a cup went into the log."""

    model: Learned
    suggested: tuple[Suggestion, ...]
    made: Cup


def before(bench: Bench, made: Cup) -> Before | None:
    """Remember what is known now; None where nothing can be learned yet."""
    try:
        choosing = current(bench)
        return Before(session.model(bench), () if choosing is None else tuple(choosing.result()), made)
    except PairingError:
        return None


def show(bench: Bench, known: Before) -> None:
    """Say in a few sentences what the cup changed, as soon as that is learned."""
    works = [it for it in (session.learning(bench), current(bench)) if it is not None]
    if not at_once(*works):
        st.html('<p class="quiet" role="status">Looking at what it changed …</p>')
        draw_when_done(*works)
        return
    with suppress(PairingError):  # what cannot be learned from now is said where it is asked for
        told = [*_liked(session.model(bench), known), *_needed(session.model(bench), known), *_moved(bench, known)]
        st.html('<h2 class="ask">What it changed</h2>')
        st.markdown("\n".join(f"- {md(sentence(line))}" for line in told) or "Nothing that can be seen.")
        fresh.ask(session.model(bench), known.made)


def _liked(now: Learned, known: Before) -> Iterator[str]:
    said = [reading.liking for reading in known.made.readings if reading.liking is not None]
    if not said:
        return
    recipe = Recipe(known.made.base_id, dict(known.made.dose_g_per_kg))
    was, is_now = (next(parts.rows(model.predict([recipe]))) for model in (known.model, now))
    inside = "within" if was.liking_low <= sum(said) / len(said) <= was.liking_high else "outside"
    yield (
        f"liking {joined(f'{v:g}' for v in said)}; {was.liking:.1f} was expected, {inside} the range. "
        f"A fresh one is now expected at {is_now.liking:.1f}"
    )


def _needed(now: Learned, known: Before) -> Iterator[str]:
    shelf, base = now.shelf, known.made.base_id
    for flavouring_id in known.made.dose_g_per_kg:
        if flavouring_id not in shelf.flavourings or flavouring_id not in known.model.shelf.flavourings:
            continue
        was, is_now = (next(parts.rows(m.needed_dose([base], [flavouring_id]))) for m in (known.model, now))
        name = f"{shelf.flavouring(flavouring_id).name} in {shelf.base(base).name}"
        doses = [number(row.dose_g_per_kg, 2) for row in (was, is_now)]
        closer = 1 - is_now.log_sd / was.log_sd
        how = f", {100 * closer:.0f} % surer" if closer >= 0.01 else ""
        yield f"{name}: needs {doses[0]} → {doses[1]} g/kg{how}"


def _moved(bench: Bench, known: Before) -> Iterator[str]:
    if not known.suggested or (choosing := current(bench)) is None:
        return
    places = [
        [(s.recipe.base_id, frozenset(s.recipe.doses)) for s in found] for found in (known.suggested, choosing.result())
    ]
    new = [it for it in places[1] if it not in places[0]]
    moved = sum(1 for it in places[1] if it in places[0] and places[0].index(it) != places[1].index(it))
    if new or moved:
        yield f"of what to try next, {count(len(new), 'suggestion')} came new and {moved} moved"
    else:
        yield "what to try next stays the same"
