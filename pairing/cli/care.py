"""How the commands show cautions: each once, gravest first; on request with source and what nobody here can know."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

from pairing.cli.output import Output
from pairing.model.caution import MARKS, PROFESSIONAL, SEVERITIES, Caution, alike, together
from pairing.model.recipe import recipe_text
from pairing.safety.today import midnight

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.model.recipe import Recipe
    from pairing.safety.swallowed import Tally

__all__ = ["add_caution_option", "ranges", "show_care_of", "show_cautions", "show_one", "swallowed_today"]


def swallowed_today(bench: Bench) -> dict[str, Tally]:
    """Return what every taster swallowed today, by the clock of this machine, of the cups that are logged."""
    return bench.swallowed(midnight())


def add_caution_option(parser: argparse.ArgumentParser) -> None:
    """Declare ``--cautions``."""
    about = "also say where each caution comes from, and what this tool cannot know about it"
    parser.add_argument("--cautions", action="store_true", help=about)


def show_cautions(
    out: Output,
    cups: Iterable[Sequence[Caution]],
    names: Mapping[str, str] = MappingProxyType({}),
    *,
    explain: bool = False,
) -> None:
    """Print each caution once, with the numbers of the cups that it applies to.

    The gravest come first, among equals those of most cups, and general ones last. Those that differ only in items,
    people or figures are one: with all the items, by their ``names``, and from the least to the most.
    """
    groups: dict[tuple[object, ...], list[Caution]] = {}
    numbered: dict[tuple[object, ...], list[int]] = {}
    for number, found in enumerate(cups, start=1):
        for caution in found:
            groups.setdefault(caution.alike, []).append(caution)
            if number not in numbered.setdefault(caution.alike, []):
                numbered[caution.alike].append(number)
    if groups:
        out.say("Care:")

    def order(key: tuple[object, ...]) -> tuple[object, ...]:
        first = groups[key][0]
        return SEVERITIES.index(first.severity), first.general, -len(numbered[key]), numbered[key]

    for key in sorted(groups, key=order):
        first = groups[key][0]
        out.say(f"  {MARKS[first.severity]} {ranges(numbered[key])}: {together(groups[key], names)}")
        if explain:
            out.say(f"    Source: {first.source}. Not known here: {first.cannot_know}.")
    if groups and explain:
        out.say(f"  {PROFESSIONAL[0].upper()}{PROFESSIONAL[1:]}.")
    elif groups:
        out.say("  Where these come from, and what cannot be known here: --cautions.")


def show_one(
    out: Output, found: Sequence[Caution], names: Mapping[str, str] = MappingProxyType({}), *, explain: bool = False
) -> None:
    """Print the cautions of one cup, gravest first."""
    for group in alike(found):
        out.say(f"  {MARKS[group[0].severity]}: {together(group, names)}")
        if explain:
            out.say(f"    Source: {group[0].source}. Not known here: {group[0].cannot_know}.")
    if found and explain:
        out.say(f"  {PROFESSIONAL[0].upper()}{PROFESSIONAL[1:]}.")


def show_care_of(
    out: Output,
    recipes: Sequence[Recipe],
    bench: Bench,
    tasters: Sequence[str] = (),
    *,
    only_stops: bool = False,
) -> bool:
    """Print the cautions of recipes for who drinks and drank today, of a long list only what stops one; tell if any."""
    from pairing.safety.many import cautions_of_many

    shelf = bench.shelf()
    found = cautions_of_many(recipes, shelf, tasters, rules=bench.host.rules, already=swallowed_today(bench))
    out.value("cautions", [{"recipe": recipe_text(r), "cautions": f} for r, f in zip(recipes, found, strict=True)])
    if not only_stops:
        show_cautions(out, found, shelf.names)
    for recipe, each in zip(recipes, found, strict=True) if only_stops else ():
        for group in alike([caution for caution in each if caution.severity == "stop"]):
            out.say(f"{MARKS['stop']}, {recipe_text(recipe)}: {together(group, shelf.names)}")
    return any(caution.severity == "stop" for each in found for caution in each)


def ranges(numbers: Sequence[int]) -> str:
    """Write numbers shortly.

    Examples
    --------
    >>> ranges([1, 2, 3, 5])
    '1–3, 5'
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and runs[-1][-1] == number - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}" if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)
