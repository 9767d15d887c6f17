"""Replace a bottle that is empty or no longer sold: which kept recipes it touches, and what can stand in.

Stand-ins taste alike first (wheel words, proposed from names where none are written) and keep the same company second;
each comes with a starting dose that should taste as strong. One blind check tells whether the cup is the same:
pairing blind plan OLD NEW.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from pairing.cli.care import show_care_of
from pairing.cli.common import by_ids, count, ids, learn, named, open_bench
from pairing.cli.output import ITEM, Output
from pairing.cli.which import read_recipe
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text
from pairing.safety.avoidance import check_allergens

if TYPE_CHECKING:
    from pairing.bench import Bench

_DISCLAIMER = "Recipes change: read the label of the bottle in your hand, and follow the medical advice that you have."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what is replaced, by what."""
    parser.add_argument("flavouring", type=named, metavar="FLAVOURING", help="the bottle that is to be replaced")
    parser.add_argument(
        "--avoid-allergens", type=ids, default=(), metavar="A,B", help="only what is declared free of it"
    )
    parser.add_argument("--tasters", type=ids, default=(), metavar="A,B", help="who drinks it: only what they may have")
    parser.add_argument("--on-hand", type=ids, metavar="A,B", help="only these")
    parser.add_argument("--in", dest="recipe", metavar="RECIPE", help="in this recipe, not in those that are kept")
    parser.add_argument("-n", type=count, default=3, metavar="N", help="how many stand-ins (3)")


def run(args: argparse.Namespace, out: Output) -> int:
    """Look for stand-ins, and write every recipe with the best of them."""
    from pairing.plan.replace import free_of, pair_points, stand_ins, with_stand_in

    bench = open_bench(args)
    shelf = bench.shelf()
    by_ids(args, shelf, flavourings=["flavouring", "on_hand"])
    name = shelf.names[args.flavouring]
    check_allergens(args.avoid_allergens, shelf)
    model = learn(args, bench, out)
    among = free_of(model, args.avoid_allergens, args.tasters) & set(args.on_hand or shelf.flavourings)
    found = stand_ins(model, args.flavouring, pair_points(model, model.synergy()), among, args.n)
    rows = [{"flavouring_id": one.flavouring_id, "taste": one.taste, "company": one.company} for one in found]
    columns: list[Any] = [("flavouring_id", "stand-in", ITEM)]
    columns += [("taste", "tastes alike, 0–1", "{:.2f}".format), ("company", "same partners, 0–1", "{:.2f}".format)]
    out.table("stand_ins", rows, columns, title=f"In place of {name}", empty="none that is allowed")
    touched = _touched(bench, args)
    shown, poured = [], []
    for title, recipe in touched:
        for one in found[:1]:
            made = with_stand_in(model, recipe, args.flavouring, one.flavouring_id)
            poured.append(made)
            shown.append({"recipe": title, "now": recipe_text(recipe), "then": recipe_text(made)})
    columns = [("recipe", "kept as"), ("now", "now, g/kg"), ("then", "with the first stand-in, as strong")]
    out.table("recipes", shown, columns, title=f"Recipes with {name}", empty="no kept recipe holds it")
    if shown:
        out.say(f"To be sure: pairing blind plan '{shown[0]['now']}' '{shown[0]['then']}'")
        show_care_of(out, poured, bench, args.tasters)
    if args.avoid_allergens or args.tasters:
        out.say(_DISCLAIMER)
    return 0


def _touched(bench: Bench, args: argparse.Namespace) -> list[tuple[str, Recipe]]:
    """Return the last version of every kept recipe that holds it, or the one that is named."""
    if args.recipe:
        return [("–", read_recipe(args.recipe, bench, bench.learn))]
    rows = bench.tables("recipes").sort_values(["recipe_id", "version"]).drop_duplicates("recipe_id", keep="last")
    kept = [(str(r["recipe_id"]), parse_recipe_text(f"{r['base_id']}|{r['doses']}")) for r in rows.to_dict("records")]
    return [(title, recipe) for title, recipe in kept if args.flavouring in recipe.doses]
