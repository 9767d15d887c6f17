"""Recipes side by side, bases side by side, or the round-up of a family of flavourings across bases.

Two recipes or more ('oat|quince=1.6' 'oat|vanilla=2'): which is better liked, how sure that is, what each costs. Two
bases or more (oat pea): how much more of a flavouring one needs than the other. Neither: what dose of each flavouring
worked, what it cost in calories and money, how it was liked, and how sure that is.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pairing.cli.care import show_care_of
from pairing.cli.common import by_ids, ids, learn, open_bench
from pairing.cli.output import ITEM, Output
from pairing.cli.recipes import kcal, money
from pairing.cli.which import filled
from pairing.errors import TableError, UnknownIdError, nearest
from pairing.model.kept_recipe import recipe_kept
from pairing.model.recipe import Recipe, parse_recipe_text, recipe_text
from pairing.quantities.readable import between, readable
from pairing.report.compared import better_liked, factors_in_words, not_reached

if TYPE_CHECKING:
    from pairing.bench import Bench
    from pairing.learned import Learned
    from pairing.model.shelf import Shelf


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare which flavourings and bases are compared."""
    about = "two recipes or more, or two bases or more, to hold against each other"
    parser.add_argument("sides", nargs="*", metavar="RECIPE|BASE", help=about)
    parser.add_argument("--taster", help="by whose liking (the mean of all)")
    parser.add_argument("--family", help="all flavourings of this family")
    parser.add_argument("--flavourings", type=ids, metavar="A,B", help="these flavourings (all)")
    parser.add_argument("--bases", type=ids, metavar="A,B", help="in these bases (all)")


def run(args: argparse.Namespace, out: Output) -> int:
    """Compare."""
    bench = open_bench(args)
    if args.sides:
        model = learn(args, bench, out)
        args.sides = [_written(side, bench) for side in args.sides]
        is_recipe = ["|" in side for side in args.sides]
        if any(is_recipe) and not all(is_recipe):
            raise TableError("a recipe cannot be held against a base", "write the base alone as a recipe: 'oat|'")
        if not any(is_recipe):
            by_ids(args, model.shelf, ["sides"], ["flavourings"])
        show = _recipes if all(is_recipe) else _bases
        return show(args, model, bench, out)
    shelf = bench.shelf()
    by_ids(args, shelf, ["bases"], ["flavourings"])
    chosen = list(args.flavourings or shelf.flavourings)
    if args.family:
        family = args.family.casefold()
        chosen = [f for f in chosen if (shelf.flavouring(f).family or "").casefold() == family]
        if not chosen and args.flavourings:
            said = ", ".join(args.flavourings)
            raise UnknownIdError(f"of {said} none is of family {args.family!r}", "leave out --family or --flavourings")
        if not chosen:
            families = {f.family for f in shelf.flavourings.values() if f.family}
            raise UnknownIdError(f"no flavouring of family {args.family!r}", nearest(args.family, families))
    model = learn(args, bench, out)
    table = model.compare(chosen, list(args.bases or shelf.bases))
    scale_g = bench.settings["scale_g"]
    records = [_shown(row, model.shelf, scale_g) for row in table.to_dict("records")]
    currency = str(bench.settings.get("currency", ""))
    columns: list[Any] = [
        ("base_id", "base", ITEM),
        ("flavouring_id", "flavouring", ITEM),
        ("shown_dose", "dose, g/kg (80 %)"),
        ("shown_amount", "per serving"),
        ("added_kcal", "+kcal", kcal),
        ("cost", f"cost, {currency}" if currency else "cost", money),
        ("shown_liking", "liking (80 %)"),
        ("p_best", "chance best", lambda p: f"{p:.0%}"),
        ("cups", "cups", lambda n: f"{n:.0f}"),
        ("tasters", "tasters", lambda n: f"{n:.0f}"),
        ("share_blind", "blind", lambda p: f"{p:.0%}"),
    ]
    out.table("comparison", records, columns, title="Round-up, per serving, best liked first")
    if not out.json:
        out.say(
            "Chance best: that it is the best liked of its base among those shown. A dose that was never right is –."
        )
    poured = [r for r in records if r.get("reached", True)]
    recipes = [Recipe(r["base_id"], {r["flavouring_id"]: r["dose_g_per_kg"]}) for r in poured]
    show_care_of(out, recipes, bench, _who(args), only_stops=True)
    return 0


def _who(args: argparse.Namespace) -> list[str]:
    return [] if args.taster is None else [args.taster]


def _written(side: str, bench: Bench) -> str:
    """Write a kept recipe out; leave a base, and a recipe that is written out."""
    kept = None if "|" in side else recipe_kept(bench.tables("recipes"), side)
    return side if kept is None else recipe_text(kept)


def _recipes(args: argparse.Namespace, model: Learned, bench: Bench, out: Output) -> int:
    """Say which recipe is better, then show all."""
    table = model.compare_recipes(args.sides, args.taster)
    records = [_with_names(row, model.shelf) for row in table.to_dict("records")]
    out.say(better_liked(records, [row["name"] for row in records]))
    columns: list[Any] = [
        ("name", "recipe"),
        ("serving_g", "base, g", "{:g}".format),
        ("added_kcal", "+kcal", kcal),
        ("added_cost", f"cost, {bench.settings['currency']}", money),
        ("shown_liking", "liking (80 %)"),
        ("p_best", "chance best", "{:.0%}".format),
        ("difference", "beside best", "{:+.1f}".format),
    ]
    out.table("recipes", records, columns, title="Side by side, per serving")
    recipes = [filled(parse_recipe_text(row["recipe"]), lambda: model) for row in records]
    show_care_of(out, recipes, bench, _who(args))
    return 0


def _with_names(row: Mapping[Any, Any], shelf: Shelf) -> dict[str, Any]:
    recipe = parse_recipe_text(row["recipe"])
    inside = [
        shelf.flavouring(f).name + ("" if dose is None else f" {dose:.3g} g/kg") for f, dose in recipe.doses.items()
    ]
    name = f"{shelf.base(recipe.base_id).name}{' with ' if inside else ', plain'}{' + '.join(inside)}"
    return {**row, "name": name, "shown_liking": _liking(row)}


def _bases(args: argparse.Namespace, model: Learned, _bench: Bench, out: Output) -> int:
    """Say how much more one base needs than the first, then flavouring by flavouring."""
    shelf = model.shelf
    table = model.dose_ratios(args.sides, args.flavourings)
    records = table.astype(object).where(table.notna(), None).to_dict("records")
    for row in records:
        row["shown"] = f"{readable(row['ratio'], 2)} ({between(row['low'], row['high'], '.2g')})"
        row["base"] = shelf.base(row["base_id"]).name
    for told in factors_in_words(records, shelf, "" if args.flavourings is None else " of these"):
        out.say(told)
    single = [{**row, "name": shelf.flavouring(row["flavouring_id"]).name} for row in records if row["flavouring_id"]]
    out.value("dose_ratios", table)
    columns: list[Any] = [("base", "base"), ("name", "flavouring"), ("shown", "× the dose of the first (80 %)")]
    out.table("flavourings", single, columns, title=f"Beside {shelf.base(args.sides[0]).name}")
    return 0


def _liking(row: Mapping[Any, Any]) -> str:
    return f"{row['liking']:.1f} ({between(row['liking_low'], row['liking_high'], '.1f')})"


def _shown(row: Mapping[Any, Any], shelf: Shelf, scale_g: float) -> dict[str, Any]:
    reached = bool(row.get("reached", True))
    dose = f"{row['dose_g_per_kg']:.3g} ({between(row['low'], row['high'])})" if reached else not_reached(row["cups"])
    amount = str(shelf.portion(row["flavouring_id"], row["grams"], scale_g)) if reached else "–"
    return {**row, "shown_dose": dose, "shown_amount": amount, "shown_liking": _liking(row)}
