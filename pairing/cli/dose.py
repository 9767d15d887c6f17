"""How much of a flavouring a base needs; or, with a cup in hand, how much to add next.

The needed dose: pairing dose oat sour-plum. The next addition to a cup: pairing dose oat sour-plum --base-g 400
--add sour-plum=8drops --strength sour-plum=2. Of several flavourings (sour-plum,clove) the one that has furthest to go
comes first: add that one, sip, and ask again.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pairing.cli.advised import advise
from pairing.cli.care import add_caution_option, show_one, swallowed_today
from pairing.cli.common import by_ids, ids, learn, open_bench
from pairing.cli.labels import tell_labels, tell_lots
from pairing.cli.load import tell
from pairing.cli.output import ITEM, Output
from pairing.cli.steps import add_step_arguments, guesses, log_line, make_cup, to_add, with_ids
from pairing.errors import CupError
from pairing.model.caution import gravest_first
from pairing.model.doses import grams
from pairing.model.kept_recipe import recipe_kept
from pairing.model.recipe import Recipe
from pairing.quantities.readable import between
from pairing.report.compared import factors_in_words, not_reached
from pairing.safety.children import children

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.model.answers import Advice
    from pairing.model.caution import Caution


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what is asked, and what is in the cup already."""
    parser.add_argument("bases", nargs="?", type=ids, metavar="BASE,…", help="bases (all); or a kept recipe")
    parser.add_argument("flavourings", nargs="?", type=ids, metavar="FLAVOURING,…", help="flavourings (all)")
    parser.add_argument("--alongside", type=ids, metavar="A,B", help="flavourings that are in the cup as well")
    parser.add_argument("--taster", help="whose cup it is")
    about = "go on past 3 × the label on purpose (log the cup with it); never past the flavouring's own maximum dose"
    parser.add_argument("--override", action="store_true", help=about)
    add_caution_option(parser)
    about = "store the pre-dilution that is advised as a flavouring of its own"
    parser.add_argument("--keep-dilution", action="store_true", help=about)
    add_step_arguments(parser, required=False)


def run(args: argparse.Namespace, out: Output) -> int:
    """Answer from the learned log."""
    from pairing.plan.candidates import check_tasters
    from pairing.safety.many import cautions_of_many

    bench = open_bench(args)
    shelf = bench.shelf()
    beside = _of_a_recipe(args, bench)
    if beside is None:
        by_ids(args, shelf, ["bases"], ["flavourings", "alongside"])
        beside = [(args.flavourings, args.alongside)]
    model = learn(args, bench, out)
    check_tasters(model, [args.taster] if args.taster is not None else [])
    if args.base_g is not None:
        return _next(args, bench, model, out)
    if args.steps:
        raise CupError("the steps have no cup", "add --base-g with the base poured, g")
    if args.keep_dilution:
        raise CupError("a pre-dilution is advised for a cup", "add --base-g with the base poured, g")
    parts = [model.needed_dose(args.bases, own, others, args.taster) for own, others in beside]
    rows = [row for part in parts for row in part.to_dict("records")]
    recipes = [Recipe(row["base_id"], {row["flavouring_id"]: row["dose_g_per_kg"]}) for row in rows]
    who = [] if args.taster is None else [args.taster]
    told = cautions_of_many(recipes, shelf, who, rules=model.rules, already=swallowed_today(bench))
    scale_g = bench.settings["scale_g"]
    records = [_shown(row, found, model, scale_g) for row, found in zip(rows, told, strict=True)]
    columns: list[Any] = [
        ("base_id", "base", ITEM),
        ("flavouring_id", "flavouring", ITEM),
        ("shown_dose", "needed dose, g/kg (80 %)"),
        ("serving", "per serving"),
        ("label_ratio", "× label", lambda ratio: f"{ratio:.2f}"),
        ("readings", "readings", lambda n: f"{n:.0f}"),
    ]
    for said in _beside(model, args.bases or (), args.flavourings):
        out.say(said)
    out.table("needed_dose", records, columns, title="The dose that reads 'just right'")
    inside = dict.fromkeys(row["flavouring_id"] for row in rows)
    tell_labels(out, shelf, dict.fromkeys(row["base_id"] for row in rows), inside)
    tell_lots(out, model, inside)
    show_one(out, gravest_first(caution for found in told for caution in found), shelf.names, explain=args.cautions)
    return 0


def _of_a_recipe(args: argparse.Namespace, bench: Bench) -> list[tuple[Any, Any]] | None:
    """Return which flavourings are asked for beside which, where a kept recipe is named: beside one another."""
    (name,) = args.bases if len(args.bases or ()) == 1 else (None,)
    if name is not None and not args.flavourings and name not in bench.shelf().bases:
        kept = recipe_kept(bench.tables("recipes"), name)
        if kept is not None:
            args.bases, args.flavourings = (kept.base_id,), tuple(kept.doses)
            more = args.alongside or ()
            return [([own], [*(f for f in kept.doses if f != own), *more]) for own in kept.doses]
    return None


def _beside(model: Learned, base_ids: Sequence[str], flavouring_ids: Sequence[str] | None) -> list[str]:
    """Say of two bases or more how much of it each needs beside the first."""
    if len(set(base_ids)) < 2:
        return []
    few = flavouring_ids or ()
    which = f" of {model.shelf.names[few[0]]}" if len(few) == 1 else " of these" if few else ""
    return factors_in_words(model.dose_ratios(base_ids, flavouring_ids).to_dict("records"), model.shelf, which)


def _shown(row: Mapping[Any, Any], found: Sequence[Caution], model: Learned, scale_g: float) -> dict[str, Any]:
    base, flavouring = model.shelf.base(row["base_id"]), model.shelf.flavouring(row["flavouring_id"])
    if not row["reachable"]:
        return {
            **row,
            "cautions": found,
            "shown_dose": not_reached(row["readings"]),
            "serving": "–",
            "label_ratio": None,
        }
    base_g = base.serving()
    mass = grams(base_g, {flavouring.flavouring_id: row["dose_g_per_kg"]})[flavouring.flavouring_id]
    portion = model.shelf.portion(flavouring.flavouring_id, mass, scale_g)
    shown = f"{row['dose_g_per_kg']:.3g} ({between(row['low'], row['high'])})"
    stopped = any(caution.severity == "stop" for caution in found)
    serving = "STOP: see below" if stopped else f"{portion} in {base_g:g} g"
    return {**row, "cautions": found, "shown_dose": shown, "serving": serving}


def _next(args: argparse.Namespace, bench: Bench, model: Learned, out: Output) -> int:
    if len(args.bases or ()) != 1 or not args.flavourings:
        raise CupError(
            "a cup has one base, and what may be added next is to be named", "name both: pairing dose oat sour-plum …"
        )
    if children([args.taster or ""], model.shelf):
        told = f"{args.taster} is a child, and no cup is stepped up for a child"
        raise CupError(told, f"pour one fresh: pairing dose {args.bases[0]} {args.flavourings[0]} says the dose")
    with_ids(args, model.shelf)
    cup = make_cup(args, args.bases[0], bench.shelf())
    for note in guesses(args, args.bases[0], model.shelf):
        out.warn(note)
    how: dict[str, Any] = {"taster": args.taster, "override": args.override, "explain": args.cautions}
    advices = advise(bench, model, cup, args.flavourings, out, **how)
    tell_labels(out, model.shelf, args.bases, args.flavourings)
    _tell_log_line(args, advices[0], out)
    return _keep(advices[0], bench, out) if args.keep_dilution else 0


def _tell_log_line(args: argparse.Namespace, advice: Advice, out: Output) -> None:
    """Say how the cup is logged once the advice is followed, unless nobody is to drink it or it is diluted first."""
    if advice.stopped or advice.paused or advice.dilute_first is not None:
        return
    steps = [*args.steps, *(("lot", text) for text in args.lot)]
    if advice.portion is not None:
        steps.append(("add", to_add(advice.flavouring_id, advice.portion)))
    elif advice.add_base_g:
        steps.append(("pour", f"{advice.add_base_g:.0f}"))
    judged = () if advice.stop and not advice.add_base_g else (advice.flavouring_id,)
    said = {"taster": args.taster, "bench": args.bench}
    line = log_line(args.bases[0], args.base_g, steps, judged, **said)
    out.command("Once the cup is done, at the dots what was read of it:", line)


def _keep(advice: Advice, bench: Bench, out: Output) -> int:
    """Store the advised pre-dilution."""
    if advice.dilute_first is None:
        why = (
            "nothing is to be added"
            if advice.portion is None
            else f"{advice.flavouring_id} can be measured out as it is"
        )
        out.warn(f"nothing to keep: {why}")
        return 0
    report = bench.keep(advice.dilute_first)
    tell(report, out)
    return 1 if len(report.refused) else 0
