"""How the commands show suggestions: one line each, with what to add, what it brings, how it may be liked and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pairing.cli.output import Output

if TYPE_CHECKING:
    from pairing.model.answers import Suggestion
    from pairing.model.shelf import Shelf

__all__ = ["amount", "interval", "show_suggestions"]

PURPOSES = {
    "new": "new: not tried yet",
    "confirm": "confirm: pour it fresh and taste once",
    "adjust": "adjust: known, at a better dose",
}


def show_suggestions(
    out: Output,
    suggestions: Sequence[Suggestion],
    shelf: Shelf,
    *,
    title: str = "",
    currency: str = "",
    name: str = "suggestions",
) -> None:
    """Print suggestions as a table, then each caution once with the numbers of the suggestions that it applies to."""
    records = [_record(number, suggestion, shelf) for number, suggestion in enumerate(suggestions, start=1)]
    cost = f"cost ({currency})" if currency else "cost"
    columns: list[Any] = [
        ("number", "#"),
        ("cup", "cup"),
        ("dose", "dose (80 % of what may be right)"),
        ("shown_liking", "liking (80 %)"),
        ("added_kcal", "+kcal", kcal),
        ("added_cost", cost, money),
        ("why", "why"),
    ]
    if any(s.likeness is not None for s in suggestions):
        columns.insert(4, ("likeness", "likeness"))
    out.table(name, records, columns, title=title, empty="nothing to suggest")
    for text, numbers in _gathered(suggestions).items():
        out.say(f"  Care ({', '.join(map(str, numbers))}): {text}")


def amount(grams: float, drops: float | None) -> str:
    """Say how much to add, in drops where it is dropped.

    Examples
    --------
    >>> amount(0.413, 17.0), amount(12.26, None)
    ('17 drops (0.41 g)', '12.3 g')
    """
    weight = f"{grams:.3g} g" if grams >= 1 else f"{grams:.2g} g"
    if drops is None:
        return weight
    counted = f"{drops:.0f}" if drops >= 3 or float(drops).is_integer() else f"{drops:.1f}"
    return f"{counted} drop{'' if counted == '1' else 's'} ({weight})"


def interval(low: float, high: float, digits: str = ".3g") -> str:
    """Write an interval.

    Examples
    --------
    >>> interval(1.234, 5.678)
    '1.23–5.68'
    """
    return f"{low:{digits}}–{high:{digits}}"


def kcal(value: float) -> str:
    """Write kilocalories: no decimals from 10 on."""
    return f"{value:.0f}" if abs(value) >= 10 else f"{value:.1f}"


def money(value: float) -> str:
    """Write an amount of money."""
    return f"{value:.2f}"


def _record(number: int, suggestion: Suggestion, shelf: Shelf) -> Mapping[str, Any]:
    from pairing.cli.output import plain

    recipe = suggestion.recipe
    ids = sorted(recipe.doses, key=lambda f: -(suggestion.grams[f]))
    what = [f"{shelf.flavouring(f).name}: {amount(suggestion.grams[f], suggestion.drops[f])}" for f in ids]
    doses = [
        f"{_dose(recipe.doses[f])} ({interval(suggestion.dose_low[f], suggestion.dose_high[f])}) g/kg" for f in ids
    ]
    liking = f"{suggestion.liking:.1f} ({interval(suggestion.liking_low, suggestion.liking_high, '.1f')})"
    shown = {
        "number": number,
        "cup": "\n".join([shelf.base(recipe.base_id).name, *(f"+ {line}" for line in what)]),
        "dose": "\n".join(["", *doses]),
        "shown_liking": liking,
        "why": "\n".join([PURPOSES.get(suggestion.purpose, suggestion.purpose), *suggestion.reasons[:1]]),
    }
    return {**plain(suggestion), **shown}


def _dose(value: float | None) -> str:
    return "–" if value is None else f"{value:.3g}"


def _gathered(suggestions: Iterable[Suggestion]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for number, suggestion in enumerate(suggestions, start=1):
        for text in suggestion.cautions:
            found.setdefault(text, []).append(number)
    return found
