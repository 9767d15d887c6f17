"""Suggest what to try next, what is most worth a cup first, within hard limits per serving. Asking changes nothing."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from pairing.cli.again import show_due
from pairing.cli.briefs import add_brief_options, brief_given
from pairing.cli.care import add_caution_option, show_cautions, swallowed_today
from pairing.cli.common import bench_path, count, learn, open_bench, tell_rotation, whole
from pairing.cli.labels import tell_labels, tell_lots
from pairing.cli.output import Output
from pairing.cli.recipes import show_rules, show_suggestions
from pairing.cli.steps import log_line, to_add
from pairing.cli.which import read_recipe
from pairing.model.brief import Brief
from pairing.model.constants import Z80
from pairing.model.wording import sentence
from pairing.safety.avoidance import check_allergens

if TYPE_CHECKING:
    from pairing.learned import Learned
    from pairing.model.answers import Suggestion
    from pairing.model.recipe import Recipe
    from pairing.model.shelf import Shelf


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare every field of a brief."""
    add_brief_options(parser)
    parser.add_argument(
        "--goal", choices=("liking", "likeness"), default="liking", help="liking, or likeness to a target"
    )
    about = "cups like this recipe: what of it must not be in them, or its last flavouring, is stood in for"
    parser.add_argument("--like", metavar="RECIPE", help=about)
    about = "an off-note to bring down, such as beany: what covers it, and what that costs in liking"
    parser.add_argument("--mask", metavar="NOTE", help=about)
    parser.add_argument("--target-id", metavar="ID", help="the target, for --goal likeness")
    only = parser.add_mutually_exclusive_group()
    only.add_argument(
        "--new-base", metavar="BASE", help="which known winners to retry first in this new base or version"
    )
    only.add_argument("--new-flavouring", metavar="ID", help="what to try this new flavouring in first")
    only.add_argument("--first", action="store_true", help="single flavourings that teach most, for an empty log")
    only.add_argument(
        "--re-taste", action="store_true", help="kept recipes and standing cups that are to be tasted again, and why"
    )
    add_caution_option(parser)
    parser.add_argument("-n", type=count, default=5, metavar="N", help="how many (5)")
    about = "also put them into a serving order for an evening, with rests and cups to make once and split"
    parser.add_argument("--evening", action="store_true", help=about)
    about = "also say where the points of each come from, and which scores it leans on"
    parser.add_argument("--explain", action="store_true", help=about)
    parser.add_argument(
        "--random-state", type=whole, default=0, metavar="SEED", help="same log and seed, same answer (0)"
    )


def run(args: argparse.Namespace, out: Output) -> int:
    """Learn, ask, show."""
    bench = open_bench(args)
    if args.re_taste:
        return show_due(out, bench, learn(args, bench, out), args.tasters or ())
    model = learn(args, bench, out)
    given = brief_given(args, "goal", "target_id", "mask")
    if args.like:
        given |= _like(args, model, read_recipe(args.like, bench, lambda: model))
    brief = Brief(**given, already=swallowed_today(bench))
    with out.progress("Looking for what to try next"):
        suggestions = _asked(args)(model, brief)
    settings = bench.settings
    how = {"currency": settings["currency"], "serving_g": brief.serving_g, "reasons": 4}
    show_suggestions(out, suggestions, model.shelf, settings["scale_g"], title="What to try next", **how)
    for reason in suggestions[0].reasons:
        if reason.leaves_out:
            out.say(f"Not looked at: {sentence(reason, model.shelf)}.")
    tell_lots(out, model, {name for one in suggestions for name in one.recipe.doses})
    show_cautions(out, [one.cautions for one in suggestions], model.shelf.names, explain=args.cautions or args.explain)
    if args.explain:
        _explain(out, suggestions, model, brief)
    if args.evening:
        _evening(out, suggestions, model, brief.tasters or ())
    tell_rotation(bench, out)
    show_rules(out, model, bench_path(args))
    _tell_log_line(args, out, suggestions[0], brief, model.shelf, settings["scale_g"])
    return 0


def _tell_log_line(
    args: argparse.Namespace, out: Output, first: Suggestion, brief: Brief, shelf: Shelf, scale_g: float
) -> None:
    """Say how the first suggestion is logged once it was poured as it is measured out here."""
    portions = {name: shelf.portion(name, grams, scale_g) for name, grams in first.grams.items()}
    if not portions or any(portion.g <= 0 for portion in portions.values()):
        return
    base_id = first.recipe.base_id
    taster = brief.tasters[0] if brief.tasters is not None and len(brief.tasters) == 1 else None
    steps = [("add", to_add(name, portion)) for name, portion in portions.items()]
    said = {"taster": taster, "chosen_by": "suggested", "bench": args.bench}
    line = log_line(base_id, shelf.base(base_id).serving(brief.serving_g), steps, list(portions), **said)
    out.command("Once 1 is tasted, at the dots what was read of it:", line)


def _like(args: argparse.Namespace, model: Learned, recipe: Recipe) -> dict[str, Any]:
    """Return the fields of a brief for cups like a recipe, for those who drink it: everybody, where nobody is named."""
    from pairing.plan.replace import like, pair_points

    avoided, tasters = args.avoid_allergens or (), args.tasters or tuple(model.shelf.tasters)
    check_allergens(avoided, model.shelf)
    return like(model, recipe, pair_points(model, model.synergy()), avoided, tasters)


def _explain(out: Output, suggestions: list[Suggestion], model: Learned, brief: Brief) -> None:
    """Show the parts of what is expected, and the scores that it leans on."""
    from pairing.report.points import large_parts, scores, taken_apart

    columns = [
        ("part", "part"),
        ("points", "points", "{:+.1f}".format),
        ("sd", "± (80 %)", lambda sd: f"{Z80 * sd:.1f}"),
    ]
    kept = []
    for place, one in enumerate(suggestions, start=1):
        whose, explained, leans = taken_apart(model, brief, one.recipe)
        said = large_parts(explained, f"expected {brief.goal}")
        shown = [{"part": part, "points": points, "sd": sd} for part, points, sd in said]
        title = f"\nWhere the points of {place} come from, {whose}"
        out.table("explained", explained, columns, shown=shown, title=title)
        kept.append({"suggestion": place, "parts": explained})
        if leans is not None:
            kept[-1]["leans_on"] = leans
            out.say("It leans most on:")
            for line in scores(leans):
                out.say(f"  {line}")
    out.value("explained", kept)
    recipes = [one.recipe for one in suggestions]
    inside = dict.fromkeys(name for recipe in recipes for name in recipe.doses)
    tell_labels(out, model.shelf, dict.fromkeys(recipe.base_id for recipe in recipes), inside)


def _evening(out: Output, suggestions: list[Suggestion], model: Learned, tasters: tuple[str, ...]) -> None:
    """Show who comes when, and which cups are made once and split."""
    from pairing.evening.sessions import serving_order, stock_cups

    numbers = {id(one): i for i, one in enumerate(suggestions, start=1)}
    order = [
        {
            "session": served.session,
            "position": served.position,
            "suggestion": numbers[id(served.suggestion)],
            "cup": _called(served.suggestion.recipe, model.shelf),
            "before": str(served.before),
        }
        for served in serving_order(suggestions, model.shelf, tasters=tasters)
    ]
    columns = [
        ("session", "session"),
        ("position", "cup"),
        ("suggestion", "#"),
        ("cup", "what"),
        ("before", "before it"),
    ]
    out.table("evening", order, columns, title="Serving order")
    cups = stock_cups(suggestions, model.shelf)
    out.value("stock_cups", cups)
    names = model.shelf.names
    for one in cups:
        out.say(
            f"Make {one.base_g:.0f} g of {names[one.base_id]} with {names[one.flavouring_id]} at "
            f"{one.dose_g_per_kg:.3g} g/kg once and split it for {', '.join(names[f] for f in one.partners)}: saves "
            f"{one.saved_g:.0f} g of base."
        )


def _called(recipe: Recipe, shelf: Shelf) -> str:
    return f"{' + '.join(shelf.names[f] for f in recipe.doses)} in {shelf.names[recipe.base_id]}"


def _asked(args: argparse.Namespace) -> Callable[[Learned, Brief], list[Suggestion]]:
    from pairing.plan import coldstart

    how: dict[str, Any] = {"n": args.n, "random_state": args.random_state}
    if args.new_base:
        return lambda model, brief: coldstart.for_new_base(model, args.new_base, brief=brief, **how)
    if args.new_flavouring:
        return lambda model, brief: coldstart.for_new_flavouring(model, args.new_flavouring, brief=brief, **how)
    if args.first:
        return lambda model, brief: coldstart.first_trials(model, brief, **how)
    return lambda model, brief: model.suggest(brief, **how)
