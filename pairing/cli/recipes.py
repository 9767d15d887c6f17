"""How the commands show suggestions: one line each, with what to add, what it brings, how it may be liked and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pairing.cli.output import Output
from pairing.cli.told import is_news
from pairing.model.wording import sentence
from pairing.quantities.readable import between

if TYPE_CHECKING:
    from pairing.learned import Learned
    from pairing.model.answers import Suggestion
    from pairing.model.reason import Reason
    from pairing.model.shelf import Shelf

__all__ = ["kcal", "money", "show_rules", "show_suggestions"]


_GENERALITY = {"affinity": 0, "pair": 0, "flavouring": 1, "family": 1, "base": 2, "rule": 2}
"""How far a reason reaches: this base or pair, any cup of this flavouring, any cup of this base; others say less."""
_PURPOSES = frozenset({"new", "confirm", "adjust"})
"""Kinds of reasons that are told as the purpose of the cup."""


def show_suggestions(
    out: Output,
    suggestions: Sequence[Suggestion],
    shelf: Shelf,
    scale_g: float,
    *,
    serving_g: float | None = None,
    title: str = "",
    currency: str = "",
    name: str = "suggestions",
    first: int = 1,
    reasons: int = 1,
) -> None:
    """Print suggestions as a table, a line per flavouring, and why: numbers from ``first``, so many reasons each.

    Amounts are what can be measured out on a scale of ``scale_g`` for ``serving_g`` of base, else for the base's own.
    """
    servings = {one.recipe.base_id: shelf.base(one.recipe.base_id).serving(serving_g) for one in suggestions}
    rows = [
        row
        for i, one in enumerate(suggestions, start=first)
        for row in _rows(i, one, shelf, scale_g, servings[one.recipe.base_id])
    ]
    same = set(servings.values())
    per = f"per serving of {same.pop():g} g" if len(same) == 1 else "per serving"
    cost = f"cost, {currency}" if currency else "cost"
    columns: list[Any] = [
        ("number", "#"),
        ("base", "base"),
        ("add", "add"),
        ("amount", per),
        ("dose", "dose, g/kg (80 %)"),
        ("liking", "liking (80 %)"),
        ("added_kcal", "+kcal", kcal),
        ("added_cost", cost, money),
    ]
    if any(one.likeness is not None for one in suggestions):
        columns.insert(6, ("likeness", "likeness", lambda value: f"{value:.1f}"))
    if (
        len({one.recipe.base_id for one in suggestions}) == 1
        and shelf.base(suggestions[0].recipe.base_id).name in title
    ):
        columns.pop(1)
    out.table(name, suggestions, columns, shown=rows, title=title, empty="nothing to suggest")
    common = Counter(reason.about for one in suggestions for reason in one.reasons)
    for number, one in enumerate(suggestions, start=first):
        telling = [sentence(reason, shelf) for reason in _telling(one, common)[:reasons]]
        out.say(f"  {number}: {one.purpose}{' – ' if telling else ''}{'; '.join(telling)}")


def show_rules(out: Output, model: Learned, place: str) -> None:
    """Keep the rules with prior and learned weight for the JSON document, and say what they could not judge.

    That is said once of a bench at ``place``, and again when it changes.
    """
    from pairing.host.fault import told

    for fault in model.faults:
        if not fault.note:
            out.warn(fault.line)
    notes = told(model.faults, model.shelf.names)
    out.value("rules", model.rule_weights(("liking", "dose")))
    out.value("rule_notes", notes)
    if notes and not out.json and is_news(place, "rules that lack a fact", notes):
        out.say("Rules that lack a fact (said once; pairing plugins shows it again):")
        for note in notes:
            out.say(f"  {note}")


def kcal(value: float) -> str:
    """Write kilocalories: no decimals from 10 on."""
    return f"{value:.0f}" if abs(value) >= 10 else f"{value:.1f}"


def money(value: float) -> str:
    """Write an amount of money."""
    return f"{value:.2f}"


def _dose(dose: float, low: float, high: float) -> str:
    """Write a dose with the interval of the needed one; a dose that a limit lowered below it says so."""
    needed = between(low, high)
    return f"{dose:.3g}, lowered (needs {needed})" if dose < low else f"{dose:.3g} ({needed})"


def _rows(number: int, suggestion: Suggestion, shelf: Shelf, scale_g: float, serving_g: float) -> list[dict[str, Any]]:
    """Return a line per flavouring, what there is most of first; what concerns the whole cup stands on the first."""
    recipe = suggestion.recipe
    rows: list[dict[str, Any]] = [
        {
            "add": shelf.flavouring(f).name,
            "amount": shelf.portion(f, suggestion.grams[f], scale_g),
            "dose": _dose(recipe.doses[f] or 0.0, suggestion.dose_low[f], suggestion.dose_high[f]),
        }
        for f in sorted(recipe.doses, key=lambda f: -suggestion.grams[f])
    ]
    rows[0] |= {
        "number": number,
        "base": f"{shelf.base(recipe.base_id).name}, {serving_g:g} g",
        "liking": f"{suggestion.liking:.1f} ({between(suggestion.liking_low, suggestion.liking_high, '.1f')})",
        "likeness": suggestion.likeness,
        "added_kcal": suggestion.added_kcal,
        "added_cost": suggestion.added_cost,
    }
    return rows


def _telling(suggestion: Suggestion, common: Mapping[tuple[object, ...], int]) -> list[Reason]:
    """Return the reasons that say more than what it is for.

    What speaks for this very cup comes first, and of that what the fewest suggestions beside it share, as ``common``
    counts what they are about.
    """

    def rank(reason: Reason) -> tuple[bool, bool, int, int]:
        generality = _GENERALITY.get(reason.kind, 3)
        shared = common.get(reason.about, 1) if generality < 2 else 0
        return (reason.points or 0.0) < 0, generality > 1, shared, generality

    return sorted((one for one in suggestion.reasons if not (one.kind in _PURPOSES or one.leaves_out)), key=rank)
