"""A recipe card to print or keep, or the trial report of a period.

A card: pairing card 'oat|plum=1.2;clove' --servings 6 --to card.html (doses in g/kg of finished drink; one that is left
out is filled from the log). Of a trial: pairing card TRIAL. A report: pairing card --report trials.html --since
2024-05-01.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from pairing.cli.care import swallowed_today
from pairing.cli.common import count, ids, learn, number, number_in, open_bench
from pairing.cli.output import Output
from pairing.cli.pages import show_page, write_page
from pairing.cli.which import read_recipe
from pairing.errors import LogError, PairingError
from pairing.model.cup import Cup
from pairing.model.kept_recipe import name_kept

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.model.answers import Suggestion
    from pairing.report.scaling import Batch


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the recipe, its size, and where the page goes."""
    parser.add_argument(
        "recipe", nargs="?", metavar="RECIPE", help="base|flavouring=dose;… in g/kg, a trial, or a base"
    )
    parser.add_argument("--to", metavar="FILE", help="write it to FILE: .html, .md or .json")
    size = parser.add_argument_group("size")
    much = size.add_mutually_exclusive_group()
    much.add_argument("--servings", type=number, default=1, metavar="N", help="how many (1)")
    much.add_argument("--litres", type=number_in("l"), metavar="L", help="litres of base instead, up to 20")
    size.add_argument(
        "--serving-g", type=number_in("serving_g"), metavar="G", help="base in a serving, g (the base's own, else 250)"
    )
    size.add_argument(
        "--scale-g", type=number_in("scale_g"), metavar="G", help="step of the scale, g (the bench's setting)"
    )
    parser.add_argument("--tasters", type=ids, default=(), metavar="A,B", help="who drinks it: for the cautions")
    parser.add_argument("--log-batch", action="store_true", help="log the batch as a cup, with what goes in")
    report = parser.add_argument_group("trial report")
    report.add_argument("--report", metavar="FILE", help="write the report of a period to FILE: .html or .md")
    report.add_argument("--since", metavar="DAY", help="first day, YYYY-MM-DD")
    report.add_argument("--until", metavar="DAY", help="last day, YYYY-MM-DD")
    report.add_argument("--unit", choices=("drops", "g", "ml", "g/kg", "%"), default="drops", help="of the round-up")
    report.add_argument("-n", type=count, default=5, metavar="N", help="suggestions in the report (5)")


def run(args: argparse.Namespace, out: Output) -> int:
    """Make the page."""
    if (args.recipe is None) == (args.report is None):
        raise LogError("a card needs a recipe, a report a file", "give one of them: RECIPE, or --report FILE")
    bench = open_bench(args)
    kept: list[Learned] = []

    def learned() -> Learned:
        if not kept:
            kept.append(learn(args, bench, out))
        return kept[0]

    return _report(args, bench, learned, out) if args.report else _card(args, bench, learned, out)


def _card(args: argparse.Namespace, bench: Bench, learned: Callable[[], Learned], out: Output) -> int:
    from pairing.blind.kept import finished
    from pairing.report.card import recipe_card
    from pairing.report.card_page import card_document

    recipe = read_recipe(args.recipe, bench, learned)
    settings = bench.settings
    card = recipe_card(
        recipe,
        bench.shelf(),
        model=learned() if len(bench.tables("readings")) else None,
        comparisons=bench.tables("comparisons"),
        checks=finished(bench),
        servings=args.servings,
        litres=args.litres,
        serving_g=args.serving_g,
        scale_g=float(settings["scale_g"]) if args.scale_g is None else args.scale_g,
        jurisdiction=str(settings["jurisdiction"]),
        tasters=args.tasters,
        rules=bench.host.rules,
        already=swallowed_today(bench),
        currency=str(settings["currency"]),
        made_on=_today(),
        called=name_kept(bench.tables("recipes"), recipe),
    )
    out.value("card", card.to_dict())
    if args.to:
        write_page(args.to, card_document(card), out, json.dumps(card.to_dict(), ensure_ascii=False, indent=2) + "\n")
    else:
        show_page(card_document(card), out)
    if args.log_batch:
        trial_id = _log_batch(bench, card.batch)
        out.value("trial_id", trial_id)
        out.say(f"Logged the batch as trial {trial_id}. To take it back: pairing undo")
    return 0


def _log_batch(bench: Bench, batch: Batch) -> str:
    """Log what goes in: the amounts as measured."""
    cup = Cup(batch.recipe.base_id, base_g=batch.base_g, shelf=bench.shelf())
    for line in batch.lines:
        if line.g > 0:
            cup = cup.add(line.flavouring_id, g=line.g)
    note = f"batch of {batch.servings:.3g} servings of {batch.serving_g:g} g"
    return bench.log(cup.mix("batch"), ended="unfinished", note=note)


def _report(args: argparse.Namespace, bench: Bench, learned: Callable[[], Learned], out: Output) -> int:
    from pairing.blind.kept import finished
    from pairing.report.trials import trial_report

    model = learned()
    with out.progress("Looking for what to try next"):
        suggestions = _suggestions(model, args.n, out)
    document = trial_report(
        model,
        bench.tables("readings"),
        since=args.since,
        until=args.until,
        unit=args.unit,
        comparisons=bench.tables("comparisons"),
        checks=finished(bench),
        suggestions=suggestions,
        lots=bench.lots(),
        currency=str(bench.settings["currency"]),
        made_on=_today(),
    )
    write_page(args.report, document, out)
    return 0


def _suggestions(model: Learned, n: int, out: Output) -> list[Suggestion]:
    """Ask what is next; a report that has nothing to suggest is still a report."""
    try:
        return model.suggest(n=n, random_state=0) if n > 0 else []
    except PairingError as error:
        out.warn(f"no suggestions: {error}")
        return []


def _today() -> str:
    return date.today().isoformat()
