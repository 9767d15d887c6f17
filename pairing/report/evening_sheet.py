"""The sheet of an evening for the bench, and the words for what it comes to and what it leaves out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pairing.errors import first_few
from pairing.model.caution import alike, together
from pairing.quantities.readable import readable

if TYPE_CHECKING:
    from pairing.evening.agenda import AgendaCup, Evening, LeftOut
    from pairing.model.recipe import Recipe
    from pairing.model.shelf import Shelf

__all__ = ["amounts", "evening_sheet", "left_out", "what"]

_UNITS = {"kcal": "kcal", "sips": "sips"}


def what(cup: AgendaCup, shelf: Shelf, scale_g: float) -> tuple[str, str]:
    """Return what a cup is called, and what to add to it as it is measured out."""
    add = []
    for name, grams in sorted(cup.grams.items(), key=lambda part: -part[1]):
        add.append(f"{shelf.portion(name, grams, scale_g)} {shelf.names[name]}")
    return _name(cup.recipe, shelf), " + ".join(add) or "nothing"


def amounts(evening: Evening) -> list[str]:
    """Say what everybody will have taken of what a limit was given for."""
    lines = []
    for name, most in evening.most.items():
        parts = [f"{readable(evening.amounts[name][k])} of {limit:g} {_unit(k)}" for k, limit in most.items()]
        if parts:
            lines.append(f"{name or 'each'}: {', '.join(parts)}, today's among it")
    return lines


def left_out(evening: Evening, shelf: Shelf, most: int = 4) -> list[str]:
    """Say why cups that were worth tasting are not served."""
    said: dict[str, list[str]] = {}
    for one in evening.left_out:
        said.setdefault(_why(one, shelf), []).append(_name(one.recipe, shelf))
    return [f"left out: {first_few(names)}: {why}" for why, names in list(said.items())[:most]]


def evening_sheet(evening: Evening, shelf: Shelf, scale_g: float) -> str:
    """Write the sheet as Markdown: amounts, boxes for the words, the order of each taster, cautions.

    Parameters
    ----------
    evening : Evening
    shelf : Shelf
    scale_g : float
        Smallest step of the scale, g.
    """
    lines = ["# Evening", "", f"Each taster takes {evening.taste_g:g} g of a cup, of a portion of their own.", ""]
    if evening.warm_up is not None:
        name, _ = what(evening.warm_up, shelf, scale_g)
        lines += [f"Warm-up, which nobody scores: {evening.warm_up.base_g:g} g of {name}.", ""]
    lines += ["| cup | pour | add | before it | strength word | liking 1–9 |", "| --- | --- | --- | --- | --- | --- |"]
    for cup in evening.cups:
        base, add = shelf.base(cup.recipe.base_id).name, what(cup, shelf, scale_g)[1]
        lines.append(f"| {cup.number} | {cup.base_g:g} g {base} | {add} | {cup.before} | | |")
    if len(evening.orders) > 1:
        lines += ["", *(f"- {name}: {', '.join(map(str, order))}" for name, order in evening.orders.items())]
    if evening.tasted:
        lines += ["", f"{evening.tasted} of {evening.most_cups} cups were tasted before these."]
    if words := amounts(evening):
        lines += ["", *(f"- {line}" for line in words)]
    found = [caution for cup in evening.cups for caution in cup.cautions]
    lines += ["", *(f"- {group[0].severity}: {together(group, shelf.names)}" for group in alike(found))]
    return "\n".join(lines).rstrip() + "\n"


def _name(recipe: Recipe, shelf: Shelf) -> str:
    base = shelf.base(recipe.base_id).name
    inside = " + ".join(shelf.flavouring(name).name for name in recipe.doses)
    return f"{inside} in {base}" if inside else f"plain {base}"


def _why(one: LeftOut, shelf: Shelf) -> str:
    if one.caution is not None:
        return one.caution.text
    who = one.taster or "each"
    if one.unknown:
        return f"it is not known how much {one.counted} is in {first_few(one.unknown)}"
    return f"{who} would come to {readable(one.amount or 0.0)} {_unit(one.counted)}, at most {one.most:g} tonight"


def _unit(counted: str) -> str:
    return _UNITS.get(counted, f"mg {counted}")
