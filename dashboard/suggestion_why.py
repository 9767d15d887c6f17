"""Why a recipe is suggested: its strongest reason, all of them, the points, and two recipes side by side."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import streamlit as st

from pairing.errors import PairingError
from pairing.model.constants import Z80
from pairing.model.wording import sentence as said
from pairing.report.compared import better_liked
from pairing_dashboard import charts, parts, session
from pairing_dashboard.parts import escape
from pairing_dashboard.strips import liking_strip, sums
from pairing_dashboard.wording import interval, joined, md, number, sentence

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.answers import Suggestion
    from pairing.model.brief import Brief
    from pairing.model.reason import Reason
    from pairing.model.recipe import Recipe
    from pairing.model.shelf import Shelf

WHERE_IT_LIES = (
    '<p class="quiet">In brackets: between these the liking of that cup lies, with a chance of 80 in 100.</p>'
)

__all__ = ["front", "named", "side_by_side", "strongest", "why"]

STANDING = ("confirm", "adjust")
"""Kinds of cup whose own sentence is the reason for it."""


def strongest(it: Suggestion) -> Reason | None:
    """Return the one reason that tells most: what was tried before, else the most points that are not the base's own.

    What a plain cup of the base has as well says nothing for the flavourings; a rule that judges the whole cup comes
    last, since its points are mostly the base's.
    """
    if known := [reason for reason in it.reasons if reason.kind in STANDING]:
        return known[0]
    told = [r for r in it.reasons if (r.flavouring_ids or r.families) and r.points is not None]
    own = [reason for reason in told if reason.kind != "rule"]
    return max(own or told, key=lambda reason: abs(reason.points or 0.0), default=next(iter(it.reasons), None))


def why(bench: Bench, brief: Brief, it: Suggestion) -> None:
    """Give all reasons, the doses with their intervals, where the points come from, and every caution."""
    shelf = session.shelf(bench)
    st.markdown(_list(said(reason, shelf) for reason in it.reasons))
    rows = (
        (shelf.flavouring(f).name, interval(d or 0.0, it.dose_low[f], it.dose_high[f]))
        for f, d in it.recipe.doses.items()
    )
    parts.table(rows, ("Flavouring", "Dose, g/kg (needed, 80 %)>"))
    st.html(f'<p class="quiet">In all {escape(number(it.total_kcal))} kcal a serving.</p>')
    key = f"{it.recipe.base_id}-{'-'.join(it.recipe.doses)}"
    if st.toggle("Where the points come from", key=f"points-{key}"):
        _points(bench, brief, it)
    parts.cautions(it.cautions, shelf)


def _points(bench: Bench, brief: Brief, it: Suggestion) -> None:
    """Draw the parts of what is expected, and the scores that it leans on."""
    from pairing.report.points import large_parts, scores, taken_apart

    whose, explained, leans = taken_apart(session.model(bench), brief, it.recipe)
    rows = (
        (part, f"{points:+.1f}", "" if sd is None else f"± {Z80 * sd:.1f}")
        for part, points, sd in large_parts(explained, f"expected {brief.goal}")
    )
    parts.table(rows, ("Part", "Points>", "Spread>"), f"Points {whose}")
    if leans is not None:
        st.markdown("It leans most on these scores:\n" + _list(scores(leans)))


def _list(lines: Iterable[str]) -> str:
    return "\n".join(f"- {md(sentence(line))}" for line in lines)


def named(recipe: Recipe, shelf: Shelf) -> str:
    """Name a recipe by what goes in and its base."""
    inside = joined(shelf.flavouring(i).name for i in recipe.doses)
    return f"{inside or 'Plain'} in {shelf.base(recipe.base_id).name}"


def side_by_side(bench: Bench, recipes: Sequence[Recipe], names: Sequence[str] = ()) -> None:
    """Hold two recipes against each other: how sure it is which is better liked, and what each comes to.

    Without ``names`` they are called by what is in them.
    """
    model, shelf = session.model(bench), session.shelf(bench)
    rows = [dict(row) for row in model.compare_recipes(recipes).to_dict("records")]
    names = names or [named(recipe, shelf) for recipe in recipes]
    told = sentence(better_liked(rows, ("the first", "the second")))
    drawn = "".join(
        f"<div><h3>{escape(name)}</h3>{liking_strip(r['liking'], r['liking_low'], r['liking_high'])}"
        f'<p class="sums">{sums(r["added_kcal"], r["added_cost"], bench.settings["currency"])}</p></div>'
        for name, r in zip(names, rows, strict=True)
    )
    with st.container(border=True, key="sides"):
        st.html(f'<p>{escape(told)}</p><div class="sides">{drawn}</div>{WHERE_IT_LIES}')


def front(bench: Bench, brief: Brief) -> None:
    """Draw which recipes nobody beats in both added energy and expected liking."""
    with st.expander("Energy against liking", icon=":material/monitoring:"):
        st.write("Each point is liked more than anything with less added energy.")
        if st.toggle("Work it out", key="front"):
            try:
                model = session.model(bench)
                charts.front(model.front(brief), model.shelf)
            except PairingError as error:
                parts.problem(error)
