"""Recipes and bases held against each other: one sentence that says it on every screen, and one picture."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pairing.quantities.readable import between, in_100, readable
from pairing.report.document import Block, Figure, Heading, Paragraph
from pairing.report.figures import Row, intervals

if TYPE_CHECKING:
    from pairing.learned import Learned
    from pairing.model.recipe import Recipe
    from pairing.model.shelf import Shelf

__all__ = ["better_liked", "factors_in_words", "not_reached", "side_by_side"]

_MOST_BASES, _MOST_ROWS = 5, 24
"""What a picture holds."""


def better_liked(rows: Sequence[Mapping[Any, Any]], names: Sequence[str]) -> str:
    """Say which of some recipes is the better liked, how sure that is, and what it takes to be sure.

    Parameters
    ----------
    rows : sequence of mapping
        Of `Learned.compare_recipes`.
    names : sequence of str
        What each is called.
    """
    first, second = sorted(range(len(rows)), key=lambda i: -float(rows[i]["liking"]))[:2]
    n = float(rows[first]["servings"])
    settle = "more servings than anybody drinks" if math.isnan(n) else f"some {n:.0f} servings"
    return (
        f"{names[first]} is liked better than {names[second]} with a chance of {in_100(rows[first]['p_better'])}: "
        f"{rows[first]['liking']:.1f} is expected, against {rows[second]['liking']:.1f}. "
        f"A blind check of such a difference takes {settle}."
    )


def not_reached(tries: float) -> str:
    """Say why a cell has no dose: it was not found within what may be poured, or never looked for."""
    return "not reached at any sensible dose" if tries else "not tasted yet; its guess is past any sensible dose"


def factors_in_words(rows: Sequence[Mapping[Any, Any]], shelf: Shelf, which: str = "") -> list[str]:
    """Say how much more each base needs than the first, over all flavourings; rows of `Learned.dose_ratios`."""
    return [
        f"{shelf.names[r['base_id']]} needs {readable(r['ratio'], 2)} × what {shelf.names[r['than']]} needs{which} "
        f"({between(r['low'], r['high'], '.2g')}, 80 %)."
        for r in rows
        if not isinstance(r["flavouring_id"], str)
    ]


def side_by_side(
    model: Learned, recipes: Sequence[Recipe], names: Sequence[str], base_ids: Sequence[str], flavourings: Sequence[str]
) -> list[Block]:
    """Return recipes, and bases, held against one another as blocks of a report; nothing where there is one of each."""
    found: list[Block] = []
    if len(recipes) > 1:
        found += _recipes(model, recipes, names)
    if len(few := base_ids[:_MOST_BASES]) > 1:
        found += _bases(model, few, flavourings[: _MOST_ROWS // (len(few) - 1)])
    return [Heading("Side by side"), *found] if found else []


def _recipes(model: Learned, recipes: Sequence[Recipe], names: Sequence[str]) -> list[Block]:
    rows = model.compare_recipes(recipes).to_dict("records")
    told = better_liked(rows, names)
    drawn = [
        Row(name, r["liking"], r["liking_low"], r["liking_high"], shown=f"{r['liking']:.1f}")
        for name, r in zip(names, rows, strict=True)
    ]
    picture = intervals(drawn, "liking, 1 to 9 (80 %)", told)
    return [Paragraph(told), Figure(picture, "Expected liking of each, as poured.")]


def _bases(model: Learned, base_ids: Sequence[str], flavouring_ids: Sequence[str]) -> list[Block]:
    names = model.shelf.names
    rows = model.dose_ratios(base_ids, flavouring_ids).to_dict("records")
    told = " ".join(factors_in_words(rows, model.shelf, " of these"))
    drawn = [
        Row(f"{names[r['flavouring_id']]} in {names[r['base_id']]}", r["ratio"], r["low"], r["high"])
        for r in rows
        if isinstance(r["flavouring_id"], str)
    ]
    axis = f"× the dose that {names[base_ids[0]]} needs (80 %)"
    picture = intervals(drawn, axis, told, log=True, line=1.0)
    return [Paragraph(told), Figure(picture, f"Dose of each flavouring, {axis}.")]
