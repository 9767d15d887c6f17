"""Suggestions as cards, and the front of energy against liking."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import streamlit as st

from pairing.errors import PairingError
from pairing.model.base import DEFAULT_SERVING_G
from pairing.model.portions import Portions
from pairing.model.wording import sentence as said
from pairing_dashboard import charts, parts, session
from pairing_dashboard.cup import page
from pairing_dashboard.kept_suggestions import suggested
from pairing_dashboard.pages import view
from pairing_dashboard.wording import UNKNOWN, amount, interval, joined, md, number, sentence

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.answers import Suggestion
    from pairing.model.brief import Brief
    from pairing.model.recipe import Recipe

__all__ = ["follow", "show"]

PURPOSES = {
    "new": ("New", "never tried like this"),
    "confirm": ("Confirm", "pour it straight to the dose and see whether it holds"),
    "adjust": ("Adjust", "tried before; the dose can be better"),
}
FIRST_REASONS = 4
LEADS_TO = "card-leads-to"
"""Where a tap on a card leads to, and what goes into the address there: a callback cannot leave its page."""


def follow() -> None:
    """Go where the last tap on a card leads to; first thing on their page."""
    if leads_to := st.session_state.pop(LEADS_TO, None):
        name, address = leads_to
        st.switch_page(view(name), query_params=address)


def show(bench: Bench, brief: Brief | None) -> None:
    """Draw the cards and the front."""
    if brief is None:
        return
    try:
        found = suggested(bench, brief)
    except PairingError as error:
        parts.problem(error)
        return
    for i, suggestion in enumerate(found):
        _card(bench, brief, suggestion, i)
    _front(bench, brief)


def _card(bench: Bench, brief: Brief, it: Suggestion, i: int) -> None:
    shelf = session.shelf(bench)
    names = {f: shelf.flavouring(f).name for f in it.recipe.doses}
    base = shelf.base(it.recipe.base_id).name
    serving_g = brief.serving_g or shelf.base(it.recipe.base_id).serving_g or DEFAULT_SERVING_G
    word, meaning = PURPOSES[it.purpose]
    with st.container(border=True, key=f"card-{i}"):
        st.subheader(f"{md(joined(names.values()))} in {md(base)}", anchor=False)
        st.html(f'<p class="quiet"><strong>{word}:</strong> {meaning}.</p>')
        parts.facts(
            {
                "Expected liking, 1–9": interval(it.liking, it.liking_low, it.liking_high),
                "Added": amount(it.added_kcal, "kcal", 2),
                "Total": amount(it.total_kcal, "kcal"),
                "Added cost": _money(it.added_cost, bench.settings["currency"]),
                **({"Likeness, 0–10": number(it.likeness, 2)} if it.likeness is not None else {}),
            }
        )
        parts.table(
            (
                (
                    names[f],
                    str(Portions.of(shelf.flavouring(f), bench.settings["scale_g"]).nearest(it.grams[f])),
                    interval(d or 0.0, it.dose_low[f], it.dose_high[f]),
                )
                for f, d in it.recipe.doses.items()
            ),
            ("Put in", f"To {serving_g:g} g of base>", "Dose, g/kg (needed, 80 %)>"),
        )
        why = [said(reason, shelf) for reason in it.reasons]
        st.markdown(_list(why[:FIRST_REASONS]))
        if why[FIRST_REASONS:]:
            with st.expander("More reasons"):
                st.markdown(_list(why[FIRST_REASONS:]))
        if st.toggle("Where the points come from", key=f"points-{i}"):
            _points(bench, brief, it)
        parts.cautions(it.cautions)
        _start(bench, brief, it)


def _points(bench: Bench, brief: Brief, it: Suggestion) -> None:
    """Draw the parts of what is expected, and the scores that it leans on."""
    from pairing.report.points import large_parts, scores, taken_apart

    whose, explained, leans = taken_apart(session.model(bench), brief, it.recipe)
    rows = (
        (part, f"{points:+.1f}", "" if sd is None else f"± {sd:.1f}")
        for part, points, sd in large_parts(explained, f"expected {brief.goal}")
    )
    parts.table(rows, ("Part", "Points>", "Spread>"), f"Points {whose}")
    if leans is not None:
        st.markdown("It leans most on these scores:\n" + _list(scores(leans)))


def _start(bench: Bench, brief: Brief, it: Suggestion) -> None:
    """Offer to go on with a suggestion; a tap acts on the recipe that was read, whatever stands there by then."""
    start, card, _ = st.columns(3)
    to_card, to_cup = ":material/receipt_long:", ":material/science:"
    key = f"{it.recipe.base_id}-{'-'.join(f'{f}={d}' for f, d in it.recipe.doses.items())}-{it.purpose}"
    card.button(
        "Make a recipe card", key=f"to-card-{key}", icon=to_card, width="stretch", on_click=_to_card, args=(it.recipe,)
    )
    start.button(
        "Start this cup",
        key=f"start-{key}",
        type="primary",
        icon=to_cup,
        width="stretch",
        on_click=_begin,
        args=(bench, brief, it),
    )


def _to_card(recipe: Recipe) -> None:
    st.session_state["card"] = recipe
    st.session_state[LEADS_TO] = "cards", {}


def _begin(bench: Bench, brief: Brief, it: Suggestion) -> None:
    facts: dict[str, Any] = {"base_id": it.recipe.base_id, "doses": dict(it.recipe.doses), "target_id": brief.target_id}
    facts |= {"for_tasters": list(brief.tasters or ()), "serving_g": brief.serving_g}
    draft = page.begin(bench, chosen_by="suggested", purpose=it.purpose, **facts)
    st.session_state[LEADS_TO] = "bench", {"cup": draft.draft_id}


def _money(cost: float | None, currency: str) -> str:
    return UNKNOWN if cost is None else f"{cost:.2f} {currency}"


def _list(lines: Iterable[str]) -> str:
    return "\n".join(f"- {md(sentence(line))}" for line in lines)


def _front(bench: Bench, brief: Brief) -> None:
    """Draw which recipes nobody beats in both added energy and expected liking."""
    with st.expander("Energy against liking"):
        st.write("Each point is liked more than anything with less added energy.")
        if st.toggle("Work it out", key="front"):
            try:
                model = session.model(bench)
                charts.front(model.front(brief), model.shelf)
            except PairingError as error:
                parts.problem(error)
