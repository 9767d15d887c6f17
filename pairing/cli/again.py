"""What is to be tasted again, and what the log says of time, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from pairing.cli.care import show_care_of
from pairing.cli.output import Output
from pairing.cli.trials import short
from pairing.errors import first_few
from pairing.quantities.readable import readable

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.evening.again import Due
    from pairing.learned import Learned
    from pairing.model.recipe import Recipe
    from pairing.model.shelf import Shelf

__all__ = ["show_due"]


def show_due(out: Output, bench: Bench, model: Learned, tasters: Sequence[str]) -> int:
    """Show what is due, how to log it, and what is known of time."""
    due = bench.taste_again(tasters)
    rows = [
        {"what": one.name or short(one.trial_id or "", bench.trials), "recipe": _named(one.recipe, model.shelf)}
        | {"why": _why(one, model.shelf)}
        for one in due
    ]
    columns: list[Any] = [("what", "taste again"), ("recipe", "recipe"), ("why", "why")]
    out.table("re_taste", due, columns, shown=rows, title="To be tasted again", empty="nothing is due")
    for one in due:
        if one.trial_id is not None:
            minutes = f"{one.minutes:g}" if one.minutes is not None else "15"
            name = short(one.trial_id, bench.trials)
            out.say(
                f"  {name}: smell it first; then pairing log --go-on {name} --rest {minutes} --sip 15 "
                "--strength ID=0–5 --liking 1–9"
            )
    if due:
        show_care_of(out, [one.recipe for one in due], bench, tasters)
    _show_time(out, model)
    return 0


def _named(recipe: Recipe, shelf: Shelf) -> str:
    inside = [f"{shelf.names[name]} {readable(dose or 0.0)} g/kg" for name, dose in recipe.doses.items()]
    return f"{shelf.names[recipe.base_id]}: {' + '.join(inside) or 'plain'}"


def _why(one: Due, shelf: Shelf) -> str:
    items = first_few([shelf.names.get(item, item) for item in one.items])
    cups = "no cup" if one.cups == 0 else "1 cup" if one.cups == 1 else f"{one.cups} cups"
    words = {
        "thin": f"{cups} poured straight to these doses",
        "old": f"tasted last on {(one.last_at or '')[:10]}",
        "lot": f"another bottle of {items}",
        "base": f"a newer version: {items}",
        "flavouring": f"a newer version: {items}",
        "taster": f"{first_few(one.tasters)} never tasted it",
        "time": f"mixed {_ago(one.minutes or 0.0)} ago: does it fade, bloom or thicken?",
    }
    return "; ".join(dict.fromkeys(words[why] for why in one.why))


def _ago(minutes: float) -> str:
    return f"{minutes:g} min" if minutes < 120 else f"{minutes / 60:g} h"


def _show_time(out: Output, model: Learned) -> None:
    """Say what was found, and of what nothing is known."""
    table = model.over_time()
    out.value("over_time", table)
    names = model.shelf.names
    found = table[table["found"]]
    for row in found.to_dict("records"):
        less = row["p_less"] > 0.5
        what = "fades" if less else "blooms"
        if row["kind"] == "base":
            what = "thickens, or holds back more," if less else "holds back less"
        left, low, high = (f"{100 * row[name]:.0f}" for name in ("left", "low", "high"))
        out.say(f"  {names[row['item_id']]} {what}: after a day {left} % of its strength ({low}–{high}, 80 %).")
    later = table[(table["kind"] == "flavouring")]
    unknown = int((later["later"] == 0).sum())
    if found.empty:
        out.say("  Of no flavouring is it found that it fades or blooms.")
    if unknown:
        out.say(f"  Of {unknown} of {len(later)} nobody tasted a cup an hour or more after mixing: unknown.")
